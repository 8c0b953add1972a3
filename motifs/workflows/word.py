"""The analyst's word on pairs, from links, attributions and locks together, as positions in a lot's order."""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import TYPE_CHECKING

from motifs.errors import LinksContradict
from motifs.records import Links

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from motifs.catalogue import AttributionRow, Catalogue, LinkRow, LockRow, OpenPairRow


def lot_links(cat: Catalogue, lot: str, numbers: Sequence[str]) -> Links:
    """Everything that people said of these sherds of a lot; LinksContradict where it cannot all hold, UnknownName for the lot."""
    return analysts_links(numbers, cat.links(lot), cat.attributions(lot), cat.locks(lot), cat.open_pairs(lot))


def analysts_links(
    numbers: Sequence[str],
    links: Iterable[LinkRow],
    attributions: Mapping[str, AttributionRow],
    locks: Iterable[LockRow] = (),
    open_pairs: Iterable[OpenPairRow] = (),
) -> Links:
    """Gather what a person said of the sherds; links to sherds not listed are passed over.

    Sherds attributed to one vessel belong together, sherds attributed to two vessels do not. The sherds of a locked vessel
    belong together, and no other sherd belongs to them.

    Raises
    ------
    LinksContradict
        A link and the attributions cannot both hold.
    """
    place = {number: position for position, number in enumerate(numbers)}
    same: list[tuple[int, int]] = []
    different: list[tuple[int, int]] = []
    for link in links:
        if link.a in place and link.b in place:
            (same if link.relation == "same" else different).append((place[link.a], place[link.b]))
    families = _families(numbers, attributions)
    for members in families.values():
        same.extend((place[a], place[b]) for a, b in pairwise(members))
    for one, other in combinations(families.values(), 2):
        different.append((place[one[0]], place[other[0]]))
    for lock in locks:
        locked = [place[number] for number in lock.sherds if number in place]
        same.extend(pairwise(locked))
        different.extend((locked[0], other) for other in range(len(numbers)) if locked and other not in set(locked))
    _refuse_contradiction(numbers, same, different)
    undecided = ((place[pair.a], place[pair.b]) for pair in open_pairs if pair.a in place and pair.b in place)
    return Links(tuple(same), tuple(different), tuple(undecided))


def _families(numbers: Sequence[str], attributions: Mapping[str, AttributionRow]) -> dict[str, list[str]]:
    """Sherds by the vessel a person gave them to, in the lot's order."""
    families: dict[str, list[str]] = {}
    for number in numbers:
        judged = attributions.get(number)
        if judged is not None and judged.vessel is not None:
            families.setdefault(judged.vessel, []).append(number)
    return families


def _refuse_contradiction(
    numbers: Sequence[str], same: Sequence[tuple[int, int]], different: Sequence[tuple[int, int]]
) -> None:
    group = list(range(len(numbers)))

    def head(position: int) -> int:
        while group[position] != position:
            group[position] = group[group[position]]
            position = group[position]
        return position

    for a, b in same:
        group[head(a)] = head(b)
    for a, b in different:
        if head(a) == head(b):
            raise LinksContradict(
                f"'{numbers[a]}' and '{numbers[b]}' are said to be of different vessels, yet other links, attributions "
                "or a lock tie them together; withdraw one of them"
            )
