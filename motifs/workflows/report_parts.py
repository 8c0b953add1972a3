"""What a report is made of: sections of words, tables and figures, written out as PDF and as HTML alike."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from motifs.workflows.drawings import Figure


@dataclass(frozen=True, slots=True)
class Words:
    """A paragraph. is_caution: to be noticed."""

    text: str
    is_caution: bool = False


@dataclass(frozen=True, slots=True)
class Listing:
    """A list of sentences."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """A table. widths: shares of the page's width, or empty for even ones."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    caption: str
    widths: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Shown:
    """A figure."""

    figure: Figure


Block: TypeAlias = Words | Listing | Grid | Shown


@dataclass(frozen=True, slots=True)
class Section:
    """A section; level 1 or 2."""

    title: str
    blocks: tuple[Block, ...]
    level: int = 1


@dataclass(frozen=True, slots=True)
class Report:
    """A whole report. facts: what stands at its head; as_of: time of the last change it knows, so that it can be made again."""

    title: str
    subtitle: str
    facts: tuple[tuple[str, str], ...]
    as_of: str
    sections: tuple[Section, ...]


def cell(value: object) -> str:
    """A value as a table shows it: two digits for fractions, a dash for nothing."""
    if value is None or value == "":
        return "–"
    return f"{value:.2f}" if isinstance(value, float) else str(value)


def grid(head: tuple[str, ...], rows: list[tuple[object, ...]], caption: str, widths: tuple[float, ...] = ()) -> Grid:
    """A table of any values."""
    return Grid(head, tuple(tuple(map(cell, row)) for row in rows), caption, widths)
