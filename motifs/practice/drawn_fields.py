"""Motifs that fill an area: nets, checkers, dot grids, combed arcs, impressions, basketry.

Each function draws one cell: x in 0..aspect, y in 0..1 downwards, for a style of four numbers in -1..1.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from motifs.practice.marks import Fill, Mark, Marks, Stroke, arc, dot, hatch, line, points, shape

if TYPE_CHECKING:
    from collections.abc import Callable

    from motifs.practice.arrays import FloatArray


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
    out: list[Mark] = [
        Stroke(arc(0.5, 1.0, 0.16 + 0.32 * k / lines, 180, 360, 1.9 + 0.1 * s[0]), 0.6) for k in range(lines)
    ]
    if opposed:
        out += [Stroke(arc(1.5, 0.0, 0.16 + 0.32 * k / lines, 0, 180, 1.9), 0.6) for k in range(lines)]
    return tuple(out)


def basketry(s: FloatArray, lines: int = 4) -> Marks:
    """Blocks of level and upright lines in turn."""
    t = (np.arange(lines) + 0.5) / lines
    out: list[Mark] = [line(0.04, float(y) * 0.5, 0.48, float(y) * 0.5, 0.8) for y in t]
    out += [line(0.5 + 0.5 * float(x), 0.03, 0.5 + 0.5 * float(x) + 0.02 * s[1], 0.47, 0.8) for x in t]
    out += [line(0.5 * float(x), 0.53, 0.5 * float(x), 0.97, 0.8) for x in t]
    out += [line(0.53, 0.5 + 0.5 * float(y), 0.97, 0.5 + 0.5 * float(y), 0.8) for y in t]
    return tuple(out)


def impressions(s: FloatArray, kind: str = "nail", rows: int = 3, columns: int = 4) -> Marks:
    """Rows of one impression: fingernail, wedge, ring, comma, pinch or oval."""
    out: list[Mark] = []
    for row in range(rows):
        for column in range(columns):
            x, y = (column + 0.5 + 0.25 * (-1) ** row * (kind != "ring")) / columns, (row + 0.5) / rows
            out += _impression(kind, x, y, 0.5 / max(rows, columns), s)
    return tuple(out)


def _impression(kind: str, x: float, y: float, size: float, s: FloatArray) -> list[Mark]:
    if kind == "nail":
        return [Stroke(arc(x, y + 0.3 * size, 0.75 * size, 200 + 8 * s[1], 340 + 8 * s[1], 0.8), 1.1)]
    if kind == "wedge":
        return [shape((x - 0.7 * size, y - 0.4 * size), (x + 0.8 * size, y), (x - 0.7 * size, y + 0.4 * size))]
    if kind == "ring":
        return [Stroke(arc(x, y, 0.6 * size, 0, 360))]
    if kind == "comma":
        return [dot(x, y - 0.2 * size, 0.35 * size), Stroke(arc(x - 0.3 * size, y, 0.6 * size, -20, 70))]
    if kind == "pinch":
        return [
            Stroke(arc(x - 0.5 * size, y, 0.5 * size, -60, 60)),
            Stroke(arc(x + 0.5 * size, y, 0.5 * size, 120, 240)),
        ]
    return [shape(*(arc(x, y, 0.7 * size, 0, 330, 0.5 + 0.1 * s[0])))]


def scales(s: FloatArray, rows: int = 3, filled: bool = False, dotted: bool = False) -> Marks:
    """Overlapping scales."""
    out: list[Mark] = []
    half = 0.5 / rows
    for row in range(rows):
        for column in range(rows):
            x, y = (column + 0.5 * (row % 2)) / rows, row / rows + 0.05
            path = arc(x, y, half, 0, 180, 1.7 + 0.1 * s[0])
            out.append(Fill((path,)) if filled and (row + column) % 2 == 0 else Stroke(path))
            if dotted:
                out.append(dot(x, y + 0.25 / rows, 0.035))
    return tuple(out)


def herringbone(s: FloatArray, rows: int = 4, columns: int = 5) -> Marks:
    """Rows of short strokes that lean one way and the other in turn."""
    out: list[Mark] = []
    for row in range(rows):
        lean = (0.5 / columns + 0.02 * s[1]) * (1 if row % 2 else -1)
        for column in range(columns):
            x = (column + 0.5) / columns
            out.append(line(x - lean, row / rows + 0.03, x + lean, (row + 1) / rows - 0.03))
    return tuple(out)


def grid_of_lines(s: FloatArray, level: int = 4, upright: int = 4, dotted: bool = False) -> Marks:
    """Level and upright lines, with or without dots in the squares."""
    out: list[Mark] = [line(0.0, (k + 0.5) / level, 1.0, (k + 0.5) / level, 0.8) for k in range(level)]
    out += [line((k + 0.5) / upright, 0.02, (k + 0.5) / upright + 0.03 * s[1], 0.98, 0.8) for k in range(upright)]
    if dotted:
        out += [dot((a + 1) / upright, (b + 1) / level, 0.05) for a in range(upright - 1) for b in range(level - 1)]
    return tuple(out)


def lozenge_net(s: FloatArray, kind: str = "solid", across: int = 2) -> Marks:
    """Lozenges that touch at their tips: solid, eyed or hatched in turn."""
    out: list[Mark] = []
    size = 0.5 / across
    for row in range(across):
        for column in range(across):
            x, y = (2 * column + 1) * size, (2 * row + 1) * size
            corners = points((x - size, y), (x, y - size * (0.95 + 0.04 * s[0])), (x + size, y), (x, y + size * 0.95))
            if kind == "solid":
                out.append(Fill((corners,)))
            else:
                out.append(Stroke(np.concatenate([corners, corners[:1]])))
                out += (
                    [dot(x, y, 0.28 * size)]
                    if kind == "eyed"
                    else [Stroke(one, 0.8) for one in hatch([corners], 0.3 * size, 45.0)]
                )
    return tuple(out)


def wedge_row(s: FloatArray, rows: int = 2, kind: str = "point") -> Marks:
    """Rows of wedges with their points down, or bars."""
    out: list[Mark] = []
    for row in range(rows):
        for column in range(4):
            x, y, h = (column + 0.5) / 4, row / rows + 0.06, 0.8 / rows
            half = 0.085 + 0.01 * s[0]
            if kind == "point":
                out.append(shape((x - half, y), (x + half, y), (x, y + h)))
            else:
                out.append(
                    shape((x - half * 0.6, y), (x + half * 0.6, y), (x + half * 0.6, y + h), (x - half * 0.6, y + h))
                )
    return tuple(out)


def wave_field(s: FloatArray, rows: int = 4, broken: bool = False) -> Marks:
    """Stacked waved lines, whole or broken."""
    out: list[Mark] = []
    x = np.linspace(0.0, 1.0, 21)
    for row in range(rows):
        y = (row + 0.5) / rows + 0.3 / rows * np.sin(2 * np.pi * (x + 0.25 * (row % 2)) + 0.3 * s[1])
        path = np.stack([x, y], axis=1)
        out += [Stroke(path[:9]), Stroke(path[11:])] if broken else [Stroke(path)]
    return tuple(out)


VARIANTS: list[tuple[str, float, Callable[..., Marks], dict[str, Any]]] = [
    ("checker-two", 1.0, checker, {}),
    ("checker-four", 1.0, checker, {"squares": 4}),
    ("checker-leaning", 1.0, checker, {"squares": 2, "slant": 0.25}),
    ("net-plain", 1.0, net, {}),
    ("net-fine", 1.0, net, {"lines": 7}),
    ("net-flat", 1.0, net, {"angle_deg": 28.0}),
    ("net-dotted", 1.0, net, {"lines": 2, "dotted": True}),
    ("dots-grid", 1.0, dots, {}),
    ("dots-staggered", 1.0, dots, {"staggered": True, "rows": 4, "columns": 3}),
    ("dots-large", 1.0, dots, {"rows": 2, "columns": 2, "size": 0.13}),
    ("dots-fine", 1.0, dots, {"rows": 6, "columns": 6, "size": 0.035}),
    ("arcs-combed", 1.0, combed_arcs, {}),
    ("arcs-combed-opposed", 2.0, combed_arcs, {"opposed": True}),
    ("arcs-combed-dense", 1.0, combed_arcs, {"lines": 8}),
    ("basketry-four", 1.0, basketry, {}),
    ("basketry-six", 1.0, basketry, {"lines": 6}),
    *(
        (f"impressed-{kind}", 1.0, impressions, {"kind": kind})
        for kind in ("nail", "wedge", "ring", "comma", "pinch", "oval")
    ),
    ("impressed-wedge-two", 1.0, impressions, {"kind": "wedge", "rows": 2, "columns": 3}),
    ("impressed-ring-two", 1.0, impressions, {"kind": "ring", "rows": 2, "columns": 2}),
    ("scales-three", 1.0, scales, {}),
    ("scales-filled", 1.0, scales, {"filled": True}),
    ("scales-dotted", 1.0, scales, {"rows": 2, "dotted": True}),
    ("herringbone-four", 1.0, herringbone, {}),
    ("herringbone-two", 1.0, herringbone, {"rows": 2, "columns": 4}),
    ("grid-plain", 1.0, grid_of_lines, {}),
    ("grid-dotted", 1.0, grid_of_lines, {"level": 3, "upright": 3, "dotted": True}),
    ("grid-dense", 1.0, grid_of_lines, {"level": 7, "upright": 3}),
    *((f"lozenges-{kind}", 1.0, lozenge_net, {"kind": kind}) for kind in ("solid", "eyed", "hatched")),
    ("wedges-two", 1.0, wedge_row, {}),
    ("bars-two", 1.0, wedge_row, {"kind": "bar"}),
    ("wedges-three", 1.0, wedge_row, {"rows": 3}),
    ("waves-four", 1.0, wave_field, {}),
    ("waves-broken", 1.0, wave_field, {"rows": 3, "broken": True}),
]
