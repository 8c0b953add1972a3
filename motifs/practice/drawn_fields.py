"""Motifs that fill an area: nets, checkers, dot grids, combed arcs, impressions, basketry.

Each function draws one cell: x in 0..aspect, y in 0..1 downwards, for a style of four numbers in -1..1.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from motifs.practice.arrays import FloatArray
from motifs.practice.marks import Mark, Marks, Stroke, arc, dot, hatch, line, points, shape

if TYPE_CHECKING:
    from collections.abc import Callable


def checker(s: FloatArray, squares: int = 2, slant: float = 0.0) -> Marks:
    """Checkerboard of squares or leaning squares."""
    size, lean = 1.0 / squares, slant + 0.06 * s[1]
    out: list[Mark] = []
    for row in range(squares):
        for column in range(squares):
            if (row + column) % 2 == 0:
                x, y, d = column * size, row * size, lean * size
                out.append(shape((x + d, y), (x + size + d, y), (x + size - d, y + size), (x - d, y + size)))
    return tuple(out)


def net(s: FloatArray, lines: int = 4, angle_deg: float = 45.0, dotted: bool = False) -> Marks:
    """Net of crossing lines, with or without dots in the meshes."""
    square = points((0, 0), (1, 0), (1, 1), (0, 1))
    angle = angle_deg + 5 * s[1]
    both = hatch([square], 1.0 / lines, angle) + hatch([square], 1.0 / lines, -angle)
    out: list[Mark] = [Stroke(one, 0.8) for one in both]
    if dotted:
        out += [dot(x, y, 0.035) for x in (0.25, 0.75) for y in (0.25, 0.75)]
    return tuple(out)


def dots(s: FloatArray, rows: int = 3, columns: int = 3, staggered: bool = False, size: float = 0.06) -> Marks:
    """Grid of dots."""
    out = []
    for row in range(rows):
        shift = 0.25 / columns * (1 if row % 2 else -1) if staggered else 0.0
        out += [dot((c + 0.5) / columns + shift, (row + 0.5) / rows, size * (1 + 0.15 * s[0])) for c in range(columns)]
    return tuple(out)


def combed_arcs(s: FloatArray, lines: int = 5, opposed: bool = False) -> Marks:
    """Overlapping sheaves of parallel arcs."""
    out: list[Mark] = [Stroke(arc(0.5, 1.0, 0.16 + 0.32 * k / lines, 180, 360, 1.9 + 0.1 * s[0]), 0.6) for k in range(lines)]
    if opposed:
        out += [Stroke(arc(1.0, 0.0, 0.16 + 0.32 * k / lines, 0, 180, 1.9), 0.6) for k in range(lines)]
    return tuple(out)


def basketry(s: FloatArray, lines: int = 4) -> Marks:
    """Blocks of level and upright lines in turn."""
    t = (np.arange(lines) + 0.5) / lines
    out: list[Mark] = [line(0.04, float(y) * 0.5, 0.48, float(y) * 0.5, 0.8) for y in t]
    out += [line(0.5 + 0.5 * float(x), 0.03, 0.5 + 0.5 * float(x) + 0.02 * s[1], 0.47, 0.8) for x in t]
    out += [line(0.5 * float(x), 0.53, 0.5 * float(x), 0.97, 0.8) for x in t]
    out += [line(0.53, 0.5 + 0.5 * float(y), 0.97, 0.5 + 0.5 * float(y), 0.8) for y in t]
    return tuple(out)


VARIANTS: list[tuple[str, float, Callable[..., Marks], dict[str, Any]]] = [
    ("checker-two", 1.0, checker, {}),
    ("net-plain", 1.0, net, {}),
    ("dots-grid", 1.0, dots, {}),
    ("arcs-combed", 1.0, combed_arcs, {}),
    ("basketry-four", 1.0, basketry, {}),
]
