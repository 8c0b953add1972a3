"""Neighbours of a sherd as a wall."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.ui.presenters.text import counted
from motifs.ui.presenters.wall import Row, Tile, Wall

if TYPE_CHECKING:
    from motifs.catalogue import BoxPx
    from motifs.workflows.comparanda import Comparanda, Neighbour


def neighbours_wall(found: Comparanda) -> Wall:
    """The sherd asked for and its neighbours, nearest first, all at one scale."""
    tiles = tuple(_tile(near) for near in found.neighbours)
    asked = Row(
        "asked", "Asked for", "the part in the box" if found.box_px else "the whole sherd", (Tile(found.query),)
    )
    near = Row("near", "Nearest decorations", f"{len(tiles)} of {counted(found.compared, 'sherd')} compared", tiles)
    return Wall((asked, near), f"Nearest decorations to {found.query}", px_per_mm=2.6)


def _tile(near: Neighbour) -> Tile:
    return Tile(
        near.sherd,
        (f"{near.rank}. {near.site or 'site not recorded'}", f"lot {near.lot}", f"similarity {near.similarity:.2f}"),
    )


def nothing_words(found: Comparanda) -> str:
    """An empty answer, said so that it is one."""
    if found.compared == 0:
        return f"Nothing comparable to {found.query}: there is no other sherd to compare it with here."
    return f"Nothing comparable to {found.query}: of {counted(found.compared, 'sherd')} compared, none fits what was asked for."


def neighbour_rows(found: Comparanda) -> list[tuple[object, ...]]:
    """Rows of the list twin."""
    return [
        (near.rank, near.sherd, near.site or "not recorded", near.lot, f"{near.similarity:.3f}")
        for near in found.neighbours
    ]


def box_words(box_px: BoxPx | None) -> str:
    """What is compared."""
    if box_px is None:
        return "The whole sherd is compared."
    x, y, width, height = box_px
    return f"Compared: the part from ({x}, {y}), {width} × {height} px of the crop ({width / 10:.0f} × {height / 10:.0f} mm)."
