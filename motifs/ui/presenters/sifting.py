"""Tables that are searched, sorted and turned page by page, in words."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from motifs.ui.presenters.text import counted, table

if TYPE_CHECKING:
    from collections.abc import Sequence

_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
AS_IT_IS = "as it is"
NO_NUMBER = ("", "–", "not known", "not recorded", "not looked for")


@dataclass(frozen=True, slots=True)
class Grid:
    """A table on its way to the page. caption: what it lists."""

    head: tuple[str, ...]
    rows: tuple[tuple[object, ...], ...]
    caption: str


def grid(head: Sequence[str], rows: Sequence[Sequence[object]], caption: str) -> Grid:
    """Make one of any sequences."""
    return Grid(tuple(head), tuple(tuple(row) for row in rows), caption)


def grid_html(one: Grid) -> str:
    """The table as HTML, escaped."""
    return table(one.head, one.rows, caption=one.caption)


def sifted(one: Grid, text: str) -> Grid:
    """Only rows that hold a text in any cell, capitals aside; all for an empty one."""
    wanted = text.strip().casefold()
    return replace(one, rows=tuple(row for row in one.rows if any(wanted in str(cell).casefold() for cell in row)))


def ordered(one: Grid, column: str, *, is_falling: bool = False) -> Grid:
    """Rows by a column: by the number a cell begins with where all of them begin with one, else by the text; ties as they were."""
    if column not in one.head:
        return one
    place = one.head.index(column)
    cells = [str(row[place]) for row in one.rows]
    numbers = [_NUMBER.match(cell) for cell in cells]
    if any(numbers) and all(found or cell in NO_NUMBER for found, cell in zip(numbers, cells, strict=True)):
        # What has no number comes last, whichever way the numbers run.
        last = float("-inf") if is_falling else float("inf")
        keys: list[object] = [float(found[0]) if found else last for found in numbers]
    else:
        keys = [_natural(cell) for cell in cells]
    order = sorted(range(len(one.rows)), key=lambda at: keys[at], reverse=is_falling)  # type: ignore[arg-type,return-value]
    return replace(one, rows=tuple(one.rows[at] for at in order))


def _natural(text: str) -> tuple[tuple[int, float, str], ...]:
    """A key by which A-2 comes before A-10."""
    parts = re.split(r"(\d+)", text.casefold())
    return tuple((0, float(part), "") if part.isdecimal() else (1, 0.0, part) for part in parts if part)


def paged(one: Grid, page: int, size: int) -> Grid:
    """One page of it, from 1."""
    return replace(one, rows=one.rows[(page - 1) * size : page * size])


def shown_words(shown: int, kept: int, total: int) -> str:
    """How much of a table is shown."""
    if kept == total:
        return counted(total, "row") if shown == total else f"{shown} of {counted(total, 'row')}"
    return f"{shown} of {counted(kept, 'row')} found, among {total}"
