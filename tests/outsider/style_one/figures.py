"""The painter's figures of style one: strokes, filled shapes and dots in a unit cell.

x runs along the band, y from its top (0) to its bottom (1). All invented here; common geometric stock.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Callable

Points = NDArray[np.float64]


@dataclass(frozen=True)
class Figure:
    """One unit of a band. aspect: natural width over band height."""

    aspect: float
    strokes: tuple[Points, ...] = ()
    fills: tuple[Points, ...] = ()


def _line(*points: tuple[float, float]) -> Points:
    return np.array(points, float)


def _arc(cx: float, cy: float, rx: float, ry: float, start: float = 0.0, end: float = 360.0) -> Points:
    turn = np.radians(np.linspace(start, end, 33))
    return np.stack([cx + rx * np.cos(turn), cy + ry * np.sin(turn)], 1)


def _spiral(cx: float, cy: float, rx: float, ry: float, turns: float, start: float = 0.0) -> Points:
    t = np.linspace(0.08, 1, 60)
    angle = np.radians(start) + 2 * np.pi * turns * t
    return np.stack([cx + rx * t * np.cos(angle), cy + ry * t * np.sin(angle)], 1)


def _hatched_triangle() -> Figure:
    hatch = [_line((0.5 + 0.5 * k / 5 - 0.5, 1), (0.5 + 0.5 * k / 10, k / 5)) for k in range(1, 5)]
    return Figure(1.0, (_line((0, 1), (0.5, 0), (1, 1), (0, 1)), *hatch))


def _checker() -> Figure:
    cells = []
    for row in range(4):
        for column in range(2):
            x, y = (column + 0.5 * (row % 2)) / 2, row / 4
            cells.append(_line((x, y), (x + 0.25, y), (x + 0.25, y + 0.25), (x, y + 0.25)))
    return Figure(1.0, (), tuple(cells))


def _fan() -> Figure:
    rays = [_line((0.5, 1), (0.5 + 0.5 * np.sin(a), 1 - np.cos(a))) for a in np.radians([-70, -42, -14, 14, 42, 70])]
    return Figure(1.3, tuple(rays))


def _sun() -> Figure:
    rays = [
        _line((0.5 + 0.24 * np.cos(a), 0.5 + 0.24 * np.sin(a)), (0.5 + 0.46 * np.cos(a), 0.5 + 0.46 * np.sin(a)))
        for a in np.radians(np.arange(0, 360, 36))
    ]
    return Figure(1.1, (_arc(0.5, 0.5, 0.2, 0.2), *rays))


def _leaf_branch() -> Figure:
    leaves = []
    for k in range(4):
        x = 0.12 + 0.25 * k
        leaves += [_line((x, 0.5), (x + 0.1, 0.2), (x + 0.16, 0.06)), _line((x, 0.5), (x + 0.1, 0.8), (x + 0.16, 0.94))]
    return Figure(1.6, (_line((0, 0.5), (1, 0.5)), *leaves))


def _dots(*centres: tuple[float, float], radius: float, aspect: float = 1.0) -> tuple[Points, ...]:
    return tuple(_arc(x, y, radius / aspect, radius) for x, y in centres)


def _lozenge(scale: float = 1.0) -> Points:
    h = 0.5 * scale
    return _line((0.5 - h, 0.5), (0.5, 0.5 - h), (0.5 + h, 0.5), (0.5, 0.5 + h), (0.5 - h, 0.5))


def _square(half: float) -> Points:
    return _line(*[(0.5 + half * sx, 0.5 + half * sy) for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1))])


def _meander() -> Figure:
    return Figure(
        1.1,
        (_line((0, 1), (0, 0), (0.8, 0), (0.8, 0.75), (0.3, 0.75), (0.3, 0.35), (0.52, 0.35)), _line((0, 1), (1, 1))),
    )


def _wave(y: float, depth: float, x0: float = 0.0) -> Points:
    x = np.linspace(0, 1, 41)
    return np.stack([x, y + depth * np.sin(2 * np.pi * (x - x0))], 1)


def _herring() -> Figure:
    strokes = [_line((x, 0), (x + 0.2, 0.5), (x, 1)) for x in (0.0, 0.25, 0.5, 0.75)]
    return Figure(1.2, tuple(strokes))


def _water_bird() -> Figure:
    body = _arc(0.5, 0.55, 0.28, 0.16)
    neck = _line((0.72, 0.48), (0.84, 0.3), (0.8, 0.12), (0.92, 0.1))
    legs = (_line((0.45, 0.7), (0.42, 1)), _line((0.56, 0.7), (0.58, 1)))
    return Figure(1.3, (neck, *legs, _line((0.24, 0.5), (0.08, 0.36))), (body,))


def _steps() -> Figure:
    return Figure(
        1.4,
        (
            _line(
                (0, 1),
                (0, 0.75),
                (0.17, 0.75),
                (0.17, 0.5),
                (0.34, 0.5),
                (0.34, 0.2),
                (0.66, 0.2),
                (0.66, 0.5),
                (0.83, 0.5),
                (0.83, 0.75),
                (1, 0.75),
                (1, 1),
            ),
        ),
    )


def _three_leaves() -> Figure:
    leaves = []
    for turn in (-90, 30, 150):
        a = np.radians(turn)
        centre = np.array([0.5 + 0.25 * np.cos(a), 0.5 + 0.25 * np.sin(a)])
        leaf = _arc(0, 0, 0.22, 0.1) @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
        leaves.append(leaf + centre)
    return Figure(1.0, (), tuple(leaves))


def _net() -> Figure:
    slants = [_line((x, 0), (x + 1, 1)) for x in (-0.66, -0.33, 0, 0.33, 0.66)]
    return Figure(1.0, (*slants, *[np.stack([1 - s[:, 0], s[:, 1]], 1) for s in slants]))


FIGURES: dict[str, Callable[[], Figure]] = {
    "zigzag": lambda: Figure(1.0, (_line((0, 1), (0.5, 0), (1, 1)),)),
    "triple-zigzag": lambda: Figure(1.1, tuple(_line((0, 1 - d), (0.5, 0.4 - d), (1, 1 - d)) for d in (0.0, 0.2, 0.4))),
    "hatched-triangle": _hatched_triangle,
    "filled-triangle": lambda: Figure(0.8, (), (_line((0, 1), (0.5, 0), (1, 1)),)),
    "lozenge-dot": lambda: Figure(0.9, (_lozenge(),), _dots((0.5, 0.5), radius=0.12)),
    "nested-lozenge": lambda: Figure(1.0, (_lozenge(), _lozenge(0.6), _lozenge(0.25))),
    "spiral": lambda: Figure(1.05, (_spiral(0.5, 0.5, 0.46, 0.46, 2.6),)),
    "running-hook": lambda: Figure(
        1.3,
        (np.concatenate([_spiral(0.45, 0.5, 0.3, 0.42, 1.7, 40), _line((0.8, 0.95), (1, 1))]), _line((0, 1), (1, 1))),
    ),
    "meander": _meander,
    "rings": lambda: Figure(1.05, (_arc(0.5, 0.5, 0.46, 0.46), _arc(0.5, 0.5, 0.3, 0.3), _arc(0.5, 0.5, 0.12, 0.12))),
    "dot-rows": lambda: Figure(0.5, (), _dots((0.25, 0.15), (0.75, 0.5), (0.25, 0.85), radius=0.09, aspect=0.5)),
    "wave": lambda: Figure(1.4, (_wave(0.35, 0.3), _wave(0.65, 0.3))),
    "ladder": lambda: Figure(
        0.8,
        (
            _line((0.2, 0), (0.2, 1)),
            _line((0.8, 0), (0.8, 1)),
            *[_line((0.2, y), (0.8, y)) for y in (0.15, 0.38, 0.62, 0.85)],
        ),
    ),
    "cross-hatch": lambda: Figure(
        1.3,
        (
            *[_line((0.1 + 0.2 * k, 0), (0.1 + 0.2 * k, 1)) for k in range(4)],
            *[_line((0.05, y), (0.75, y)) for y in (0.15, 0.4, 0.65, 0.9)],
        ),
    ),
    "checker": _checker,
    "net": _net,
    "sun": _sun,
    "comb": lambda: Figure(
        1.0,
        (_line((0.05, 0.05), (0.85, 0.05)), *[_line((0.05 + 0.2 * k, 0.05), (0.05 + 0.2 * k, 0.95)) for k in range(5)]),
    ),
    "steps": _steps,
    "s-hooks": lambda: Figure(
        0.8,
        (
            np.concatenate(
                [
                    _arc(0.5, 0.25, 0.35, 0.24, 20, -180)[::1],
                    _arc(0.5, 0.75, 0.35, 0.24, -180, -180)[:1],
                    _line((0.2, 0.35), (0.8, 0.65)),
                    _arc(0.5, 0.75, 0.35, 0.24, 0, 200),
                ]
            ),
        ),
    ),
    "arcades": lambda: Figure(0.9, (_arc(0.5, 1, 0.5, 1, 180, 360), _arc(0.5, 1, 0.3, 0.62, 180, 360))),
    "drops": lambda: Figure(
        0.45, (), (_line((0.5, 0), (0.8, 0.6), (0.72, 0.85), (0.5, 0.98), (0.28, 0.85), (0.2, 0.6)),)
    ),
    "herring": _herring,
    "star": lambda: Figure(
        1.0,
        tuple(
            _line((0.5 - 0.45 * np.cos(a), 0.5 - 0.45 * np.sin(a)), (0.5 + 0.45 * np.cos(a), 0.5 + 0.45 * np.sin(a)))
            for a in np.radians([0, 45, 90, 135])
        ),
    ),
    "cross": lambda: Figure(
        1.0,
        (),
        (
            _line((0.38, 0.08), (0.62, 0.08), (0.62, 0.92), (0.38, 0.92)),
            _line((0.1, 0.38), (0.9, 0.38), (0.9, 0.62), (0.1, 0.62)),
        ),
    ),
    "dotted-lozenge": lambda: Figure(
        1.0,
        (),
        _dots(
            *[
                (0.5 + 0.42 * np.sign(np.cos(a)) * np.cos(a) ** 2, 0.5 + 0.42 * np.sign(np.sin(a)) * np.sin(a) ** 2)
                for a in np.radians(np.arange(0, 360, 30))
            ],
            radius=0.055,
        ),
    ),
    "fan": _fan,
    "double-axe": lambda: Figure(
        1.2, (), (_line((0.08, 0.05), (0.5, 0.5), (0.08, 0.95)), _line((0.92, 0.05), (0.5, 0.5), (0.92, 0.95)))
    ),
    "leaf-branch": _leaf_branch,
    "scales": lambda: Figure(
        0.9,
        (
            _arc(0.5, 0, 0.5, 0.33, 0, 180),
            _arc(0, 0.33, 0.5, 0.33, 0, 90),
            _arc(1, 0.33, 0.5, 0.33, 90, 180),
            _arc(0.5, 0.66, 0.5, 0.33, 0, 180),
        ),
    ),
    "arrows": lambda: Figure(
        0.9,
        tuple(_line((x, 0.1), (x + 0.35, 0.5), (x, 0.9)) for x in (0.05, 0.3)),
        (_line((0.62, 0.3), (0.92, 0.5), (0.62, 0.7)),),
    ),
    "teeth": lambda: Figure(0.5, (), (_line((0, 0), (1, 0), (0.5, 0.42)), _line((-0.5, 1), (0.5, 1), (0, 0.58)))),
    "water-bird": _water_bird,
    "loops": lambda: Figure(
        1.3, (np.stack([0.5 + 0.48 * np.sin(t := np.linspace(0, 2 * np.pi, 60)), 0.5 + 0.45 * np.sin(2 * t)], 1),)
    ),
    "nested-squares": lambda: Figure(1.1, (_square(0.46), _square(0.3), _square(0.12))),
    "ring-cross": lambda: Figure(
        1.0, (_arc(0.5, 0.5, 0.44, 0.44), _line((0.5, 0.06), (0.5, 0.94)), _line((0.06, 0.5), (0.94, 0.5)))
    ),
    "three-leaves": _three_leaves,
    "rain": lambda: Figure(
        1.2,
        tuple(
            np.stack([0.12 + 0.25 * k + 0.06 * np.sin(y := np.linspace(0, 6.28, 30)), y / 6.28], 1) for k in range(4)
        ),
    ),
}
