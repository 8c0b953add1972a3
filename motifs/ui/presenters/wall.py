"""A wall of sherds: rows of pictures at one scale, as the JSON that the component draws."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

DEFAULT_PX_PER_MM = 2.2
SIZES_PX_PER_MM = (1.0, 5.0)
"""Smallest and largest size that the wall's own slider gives."""


@dataclass(frozen=True, slots=True)
class Picture:
    """Where a picture is served from, and how large the thing is."""

    url: str
    width_mm: float
    height_mm: float
    is_scaled: bool


@dataclass(frozen=True, slots=True)
class Tile:
    """One sherd. captions: under its number. support: 0..1 or None, not shown. marks: short words that set it apart.

    is_judged: a person put it there.
    """

    sherd: str
    captions: tuple[str, ...] = ()
    support: float | None = None
    marks: tuple[str, ...] = ()
    is_judged: bool = False


@dataclass(frozen=True, slots=True)
class Press:
    """A button in the head of a row. help: what it does, shown on pointing."""

    key: str
    label: str
    help: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A row of the wall. takes: sherds can be dropped on it. press: the key that moves sherds to it."""

    key: str
    title: str
    note: str
    tiles: tuple[Tile, ...]
    takes: bool = False
    buttons: tuple[Press, ...] = ()
    empty: str = ""
    press: str = ""


@dataclass(frozen=True, slots=True)
class Wall:
    """The whole wall. chosen: the sherd that is open; dashed: sherds set apart by a dashed frame.

    is_movable: sherds can be dragged, and several picked and moved; new_row: key and title of a place that makes a new row.
    is_sifted: sherds can be found, narrowed and ordered in the browser.
    """

    rows: tuple[Row, ...]
    label: str
    chosen: str | None = None
    dashed: tuple[str, ...] = ()
    px_per_mm: float = DEFAULT_PX_PER_MM
    is_movable: bool = False
    new_row: tuple[str, str] | None = None
    is_sifted: bool = False


def wall_json(wall: Wall, pictures: Mapping[str, Picture]) -> dict[str, Any]:
    """What the component takes; texts go as they are, since it shows them as text only."""
    return {
        "label": wall.label,
        "chosen": wall.chosen,
        "dashed": list(wall.dashed),
        "px_per_mm": wall.px_per_mm,
        "sizes": list(SIZES_PX_PER_MM),
        "movable": wall.is_movable,
        "sifted": wall.is_sifted,
        "places": [{"key": key, "title": title} for key, title in _places(wall)],
        "rows": [_row_json(row, pictures) for row in wall.rows],
    }


def _places(wall: Wall) -> list[tuple[str, str]]:
    if not wall.is_movable:
        return []
    return [*((row.key, row.title) for row in wall.rows if row.takes), *([wall.new_row] if wall.new_row else [])]


def _row_json(row: Row, pictures: Mapping[str, Picture]) -> dict[str, Any]:
    return {
        "key": row.key,
        "title": row.title,
        "note": row.note,
        "takes": row.takes,
        "buttons": [{"key": press.key, "label": press.label, "help": press.help} for press in row.buttons],
        "empty": row.empty,
        "press": row.press,
        "tiles": [_tile_json(tile, pictures.get(tile.sherd)) for tile in row.tiles],
    }


def _tile_json(tile: Tile, picture: Picture | None) -> dict[str, Any]:
    marks = tile.marks if picture is None or picture.is_scaled else (*tile.marks, "no scale: size not comparable")
    return {
        "sherd": tile.sherd,
        "captions": list(tile.captions),
        "support": None if tile.support is None else round(tile.support, 2),
        "marks": list(marks),
        "is_judged": tile.is_judged,
        "url": None if picture is None else picture.url,
        "width_mm": 40.0 if picture is None else round(picture.width_mm, 2),
        "height_mm": 40.0 if picture is None else round(picture.height_mm, 2),
        "alt": described(tile),
    }


def described(tile: Tile) -> str:
    """The tile in words, for readers of the screen."""
    support = () if tile.support is None else (f"support {tile.support:.2f}",)
    return ", ".join((f"sherd {tile.sherd}", *support, *tile.captions, *tile.marks))
