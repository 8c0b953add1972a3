"""The catalogue as a contact sheet and as a table: what of it is shown, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.ui.presenters.text import counted
from motifs.ui.presenters.wall import Row, Tile, Wall

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import SherdLine, SherdPage, TagRow

Tags = "Mapping[str, tuple[TagRow, ...]]"
PAGE_SIZES = (30, 60, 120)
QUICK_TERMS = 9
"""Terms that have a key of their own: 1 to 9."""


def page_words(page: SherdPage) -> str:
    """Which of how many are shown."""
    if not page.total:
        return "No sherd is like that."
    last = page.offset + len(page.lines)
    return f"Sherds {page.offset + 1} to {last} of {page.total}"


def last_page(total: int, size: int) -> int:
    """Number of the last page, from 1; an empty sheet has one."""
    return max(1, -(-total // size))


def chosen_words(chosen: Sequence[str]) -> str:
    """What the next tag goes on."""
    if not chosen:
        return "No sherd is chosen: click on pictures, or take the whole page."
    return f"{counted(len(chosen), 'sherd')} chosen"


def tag_words(tag: TagRow) -> str:
    """A tag in a few words, as a caption."""
    part = "" if tag.box_px is None else ", part"
    sure = "" if tag.confidence is None else f", {tag.confidence:g}"
    return f"{tag.kind}: {tag.term}{part}{sure}"


def contact_wall(
    page: SherdPage, tags: Mapping[str, Sequence[TagRow]], chosen: Sequence[str], px_per_mm: float
) -> Wall:
    """The page as one row of pictures; chosen ones are framed and say so."""
    tiles = tuple(_tile(line, tags.get(line.number, ()), line.number in chosen) for line in page.lines)
    row = Row("sheet", page_words(page), "", tiles, empty="No sherd is like that.")
    return Wall((row,), "Contact sheet", dashed=tuple(chosen), px_per_mm=px_per_mm)


def _tile(line: SherdLine, tags: Sequence[TagRow], is_chosen: bool) -> Tile:
    captions = [tag_words(tag) for tag in tags[:3]]
    if len(tags) > 3:
        captions.append(f"and {counted(len(tags) - 3, 'tag')} more")
    return Tile(line.number, tuple(captions), marks=("chosen",) if is_chosen else ())


def sheet_rows(page: SherdPage, tags: Mapping[str, Sequence[TagRow]]) -> list[dict[str, object]]:
    """The page as a table: one row a sherd, tags by kind."""
    rows: list[dict[str, object]] = []
    for line in page.lines:
        by_kind: dict[str, list[str]] = {}
        for tag in tags.get(line.number, ()):
            by_kind.setdefault(tag.kind, []).append(tag.term)
        row: dict[str, object] = {
            "Sherd": line.number,
            "Lot": line.lot,
            "Site": line.site or "not recorded",
            "Longest, mm": None if line.max_dimension_mm is None else round(line.max_dimension_mm, 1),
        }
        for kind in ("motif", "technique", "position"):
            row[kind.capitalize()] = ", ".join(by_kind.pop(kind, []))
        row["Other tags"] = ", ".join(f"{kind}: {term}" for kind, terms in by_kind.items() for term in terms)
        row["Look at"] = line.look or ""
        rows.append(row)
    return rows


def quick_terms(counts: Mapping[tuple[str, str], int], kind: str, labels: Sequence[str]) -> list[str]:
    """Terms of a kind to put under the keys: the most used ones first, filled up from the vocabulary."""
    used = [term for (of_kind, term), _ in sorted(counts.items(), key=lambda one: (-one[1], one[0])) if of_kind == kind]
    return list(dict.fromkeys([*used, *labels]))[:QUICK_TERMS]
