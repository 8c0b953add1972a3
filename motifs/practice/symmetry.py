"""The seven band groups and common plane groups as layouts of one motif.

Symbols and generators follow Washburn & Crowe 1988, chapters 4 and 5; the orbifold symbol is the key that is the same
in every notation (Conway, Burgiel & Goodman-Strauss 2008).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from motifs.practice.marks import Marks, affine

if TYPE_CHECKING:
    from motifs.practice.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class BandGroup:
    """One band group. halved: the motif is drawn at half the band's height because the mid-line is a mirror."""

    symbol: str
    orbifold: str
    copies: int
    halved: bool
    cell_widths: float


BAND_GROUPS: dict[str, BandGroup] = {
    group.symbol: group
    for group in (
        BandGroup("p111", "∞∞", 1, False, 1.0),
        BandGroup("p1a1", "∞×", 2, False, 2.0),
        BandGroup("p1m1", "∞*", 2, True, 0.5),
        BandGroup("pm11", "*∞∞", 2, False, 2.0),
        BandGroup("p112", "22∞", 2, False, 2.0),
        BandGroup("pma2", "2*∞", 4, False, 4.0),
        BandGroup("pmm2", "*22∞", 4, True, 1.0),
    )
}


def _isometry(sx: float, sy: float, tx: float, ty: float) -> FloatArray:
    return np.array([[sx, 0.0, tx], [0.0, sy, ty]], np.float64)


def band_copies(symbol: str, aspect: float) -> tuple[FloatArray, ...]:
    """Return the (2, 3) matrices that place a motif of the given aspect in one cell of a band of height 1.

    Parameters
    ----------
    symbol : one of BAND_GROUPS
    aspect : width of the motif's cell over its height
    """
    a, h = aspect, 0.5
    table = {
        "p111": ((1, 1, 0, 0),),
        "p1a1": ((1, 1, 0, 0), (1, -1, a, 1)),
        "p1m1": ((h, h, 0, 0), (h, -h, 0, 1)),
        "pm11": ((1, 1, 0, 0), (-1, 1, 2 * a, 0)),
        "p112": ((1, 1, 0, 0), (-1, -1, 2 * a, 1)),
        "pma2": ((1, 1, 0, 0), (-1, 1, 2 * a, 0), (1, -1, 2 * a, 1), (-1, -1, 4 * a, 1)),
        "pmm2": ((h, h, 0, 0), (-h, h, a, 0), (h, -h, 0, 1), (-h, -h, a, 1)),
    }
    return tuple(_isometry(*one) for one in table[symbol])


def band_cell(marks: Marks, aspect: float, symbol: str) -> tuple[Marks, float]:
    """Return the marks of one whole cell of a band and the cell's width, in band heights."""
    copies = band_copies(symbol, aspect)
    placed = tuple(mark for one in copies for mark in affine(marks, one))
    return placed, BAND_GROUPS[symbol].cell_widths * aspect


@dataclass(frozen=True, slots=True)
class PlaneGroup:
    """One plane group on a rectangular cell.

    copies: coset representatives, as signs of x and y and shifts in cell widths and heights. box: width and height,
    as shares of the cell, of the corner in which the motif stands so that its copies do not overlap.
    """

    symbol: str
    orbifold: str
    box: tuple[float, float]
    copies: tuple[tuple[float, float, float, float], ...]


_SAME = (1.0, 1.0, 0.0, 0.0)
_UPRIGHT = (-1.0, 1.0, 1.0, 0.0)
_LEVEL = (1.0, -1.0, 0.0, 1.0)
_TURN = (-1.0, -1.0, 1.0, 1.0)

PLANE_GROUPS: dict[str, PlaneGroup] = {
    group.symbol: group
    for group in (
        PlaneGroup("p1", "o", (1.0, 1.0), (_SAME,)),
        PlaneGroup("p2", "2222", (0.5, 1.0), (_SAME, _TURN)),
        PlaneGroup("pm", "**", (0.5, 1.0), (_SAME, _UPRIGHT)),
        PlaneGroup("pg", "××", (0.5, 1.0), (_SAME, (1, -1, 0.5, 1))),
        PlaneGroup("cm", "*×", (0.5, 0.5), (_SAME, _UPRIGHT, (1, 1, 0.5, 0.5), (-1, 1, 0.5, 0.5))),
        PlaneGroup("pmm", "*2222", (0.5, 0.5), (_SAME, _UPRIGHT, _LEVEL, _TURN)),
        PlaneGroup("pmg", "22*", (0.25, 1.0), (_SAME, _TURN, (-1, 1, 0.5, 0), (1, -1, 0.5, 1))),
        PlaneGroup("pgg", "22×", (0.5, 0.5), (_SAME, _TURN, (-1, 1, 0.5, 0.5), (1, -1, 0.5, 0.5))),
        PlaneGroup(
            *("cmm", "2*22", (0.5, 0.25)),
            (
                *(_SAME, _UPRIGHT, _LEVEL, _TURN),
                *((1, 1, 0.5, 0.5), (-1, 1, 0.5, 0.5), (1, -1, 0.5, 0.5), (-1, -1, 0.5, 0.5)),
            ),
        ),
    )
}


def plane_cell(marks: Marks, aspect: float, symbol: str) -> tuple[Marks, float]:
    """Return the marks of one cell of a two-dimensional repeat and the cell's width; the cell's height is 1."""
    group = PLANE_GROUPS[symbol]
    share_x, share_y = group.box
    width = aspect * share_y / share_x
    size, gap = 0.92 * share_y, 0.04 * share_y
    corner = affine(marks, [[size, 0.0, gap * aspect], [0.0, size, gap]])
    placed = [affine(corner, _isometry(sx, sy, tx * width, ty)) for sx, sy, tx, ty in group.copies]
    return tuple(mark for one in placed for mark in one), width
