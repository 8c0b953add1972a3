"""Which sherds a search may find: by site, lot, what was tagged on them, and words in their record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.errors import UnknownName

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from motifs.catalogue import Catalogue, SherdHead, TagRow


@dataclass(frozen=True, slots=True)
class Narrowing:
    """Conditions that all have to hold; within one of them any entry will do. Empty: no condition.

    techniques, positions: terms tagged as such. tags: terms of any kind. periods: as the written record of the find has it. text: words that have to be in the sherd's
    number, lot, site or terms. Capitals do not matter.
    """

    sites: tuple[str, ...] = ()
    lots: tuple[str, ...] = ()
    techniques: tuple[str, ...] = ()
    positions: tuple[str, ...] = ()
    tags: tuple[str, ...] = ()
    periods: tuple[str, ...] = ()
    text: str = ""

    @property
    def is_empty(self) -> bool:
        """Whether everything may be found."""
        conditions = (
            self.sites,
            self.lots,
            self.techniques,
            self.positions,
            self.tags,
            self.periods,
            self.text.strip(),
        )
        return not any(conditions)


def narrowed(cat: Catalogue, sherds: Iterable[SherdHead], narrowing: Narrowing) -> list[SherdHead]:
    """Sherds that fulfil every condition, in their order.

    Raises
    ------
    UnknownName
        A site or lot that is not in the collection.
    """
    _check_names(cat, narrowing)
    kept = [sherd for sherd in sherds if _is_there(sherd, narrowing)]
    if narrowing.periods:
        of_find = {record.number: record.fields.get("period", "") for record in cat.records()}
        wanted = _all_folded(narrowing.periods)
        kept = [sherd for sherd in kept if _folded(of_find.get(sherd.number, "")) in wanted]
    if not (narrowing.techniques or narrowing.positions or narrowing.tags or narrowing.text.strip()):
        return kept
    tags = cat.tags_of([sherd.number for sherd in kept])
    return [sherd for sherd in kept if _is_tagged(tags[sherd.number], narrowing) and _has_words(sherd, tags, narrowing)]


def _check_names(cat: Catalogue, narrowing: Narrowing) -> None:
    sites = {site.name for site in cat.sites()}
    for site in narrowing.sites:
        if site not in sites:
            known = ", ".join(sorted(sites)[:5]) or "none is recorded yet"
            raise UnknownName(f"no site '{site}' in this collection; choose one of them: {known}")
    for lot in narrowing.lots:
        cat.lot(lot)


def _is_there(sherd: SherdHead, narrowing: Narrowing) -> bool:
    return (not narrowing.sites or sherd.site in narrowing.sites) and (
        not narrowing.lots or sherd.lot in narrowing.lots
    )


def _is_tagged(tags: tuple[TagRow, ...], narrowing: Narrowing) -> bool:
    wanted = (("technique", narrowing.techniques), ("position", narrowing.positions), (None, narrowing.tags))
    return all(
        not terms or any(_folded(tag.term) in _all_folded(terms) and kind in {None, tag.kind} for tag in tags)
        for kind, terms in wanted
    )


def _has_words(sherd: SherdHead, tags: Mapping[str, tuple[TagRow, ...]], narrowing: Narrowing) -> bool:
    words = narrowing.text.casefold().split()
    record = " ".join((sherd.number, sherd.lot, sherd.site or "", *(tag.term for tag in tags[sherd.number]))).casefold()
    return all(word in record for word in words)


def _folded(term: str) -> str:
    return " ".join(term.casefold().split())


def _all_folded(terms: tuple[str, ...]) -> set[str]:
    return {_folded(term) for term in terms}
