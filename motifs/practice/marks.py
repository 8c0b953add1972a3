"""The smallest units of decoration: strokes, filled shapes and dots, as vectors.

A motif is drawn in a cell of height 1 (y down) and width `aspect`; the same marks, mapped to millimetres on a
pot, render at any number of pixels a millimetre.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from motifs.practice.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line drawn in one go. points: (N, 2), N >= 2. weight: times the hand's line width."""

    points: FloatArray
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Fill:
    """A filled shape. rings: closed polygons (N, 2); inside is where an odd number of rings enclose."""

    rings: tuple[FloatArray, ...]


@dataclass(frozen=True, slots=True)
class Dot:
    """A round dot. centre: (2,); radius in the units of the centre."""

    centre: FloatArray
    radius: float


Mark = Stroke | Fill | Dot
Marks = tuple[Mark, ...]


def points(*xy: Sequence[float]) -> FloatArray:
    """Return points as an (N, 2) array."""
    return np.asarray(xy, np.float64).reshape(-1, 2)


def line(x0: float, y0: float, x1: float, y1: float, weight: float = 1.0) -> Stroke:
    """Return a straight stroke."""
    return Stroke(points((x0, y0), (x1, y1)), weight)


def stroke(*xy: Sequence[float], weight: float = 1.0) -> Stroke:
    """Return a stroke through points."""
    return Stroke(points(*xy), weight)


def shape(*xy: Sequence[float]) -> Fill:
    """Return a filled polygon."""
    return Fill((points(*xy),))


def dot(x: float, y: float, radius: float) -> Dot:
    """Return a dot."""
    return Dot(np.array([x, y], np.float64), radius)


def dot_at(centre: FloatArray, radius: float) -> Dot:
    """Return a dot about a point (2,)."""
    return Dot(np.asarray(centre, np.float64), radius)


def arc(x: float, y: float, radius: float, start_deg: float, end_deg: float, squash: float = 1.0) -> FloatArray:
    """Return points on an arc (clockwise as seen, since y runs down); squash scales y."""
    count = max(int(abs(end_deg - start_deg) / 12.0), 3) + 1
    angle = np.radians(np.linspace(start_deg, end_deg, count))
    return np.stack([x + radius * np.cos(angle), y + radius * squash * np.sin(angle)], axis=1)


def ring(x: float, y: float, radius: float, weight: float = 1.0) -> Stroke:
    """Return a circle as a stroke."""
    return Stroke(arc(x, y, radius, 0.0, 360.0), weight)


def spiral(x: float, y: float, inner: float, outer: float, start_deg: float, turns: float) -> FloatArray:
    """Return points on an Archimedean spiral from the inner to the outer radius; negative turns run the other way."""
    count = max(int(abs(turns) * 26), 6)
    t = np.linspace(0.0, 1.0, count)
    angle = np.radians(start_deg) + 2 * np.pi * turns * t
    radius = inner + (outer - inner) * t
    return np.stack([x + radius * np.cos(angle), y + radius * np.sin(angle)], axis=1)


def mapped(marks: Marks, move: Callable[[FloatArray], FloatArray], scale: float = 1.0) -> Marks:
    """Apply a map of points to marks; dots' radii are multiplied by scale."""
    out: list[Mark] = []
    for mark in marks:
        if isinstance(mark, Stroke):
            out.append(Stroke(move(mark.points), mark.weight))
        elif isinstance(mark, Fill):
            out.append(Fill(tuple(move(one) for one in mark.rings)))
        else:
            out.append(Dot(move(mark.centre[None])[0], mark.radius * scale))
    return tuple(out)


def affine(marks: Marks, matrix: Any) -> Marks:
    """Apply a (2, 3) affine matrix; dots scale with the square root of the determinant."""
    m = np.asarray(matrix, np.float64)
    scale = float(np.sqrt(abs(np.linalg.det(m[:, :2]))))
    return mapped(marks, lambda p: p @ m[:, :2].T + m[:, 2], scale)


def resampled(path: FloatArray, step: float) -> FloatArray:
    """Return a path with points about every step along it, ends kept."""
    legs = np.hypot(*np.diff(path, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(legs)])
    count = max(int(np.ceil(along[-1] / step)), 1) + 1
    at = np.linspace(0.0, along[-1], count)
    return np.stack([np.interp(at, along, path[:, 0]), np.interp(at, along, path[:, 1])], axis=1)


def hatch(rings: Sequence[FloatArray], spacing: float, angle_deg: float, offset: float = 0.5) -> list[FloatArray]:
    """Return straight lines that fill a polygon (odd-even rule).

    Parameters
    ----------
    rings : polygons (N, 2)
    spacing : distance of the lines, same unit
    angle_deg : direction of the lines
    offset : phase of the first line, in spacings

    Returns
    -------
    list of (2, 2) arrays
    """
    angle = np.radians(angle_deg)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    turned = [one @ turn.T for one in rings]
    low = min(float(one[:, 1].min()) for one in turned)
    high = max(float(one[:, 1].max()) for one in turned)
    out: list[FloatArray] = []
    for level in np.arange(low + offset * spacing, high, spacing):
        crossings = np.sort(np.concatenate([_crossings(one, float(level)) for one in turned]))
        for left, right in zip(crossings[::2], crossings[1::2], strict=False):
            if right - left > 0.15 * spacing:
                out.append(np.array([[left, level], [right, level]]) @ turn)
    return out


def _crossings(polygon: FloatArray, level: float) -> FloatArray:
    """Return the x where a polygon's edges cross a horizontal level."""
    after = np.roll(polygon, -1, axis=0)
    crosses = (polygon[:, 1] <= level) != (after[:, 1] <= level)
    a, b = polygon[crosses], after[crosses]
    return np.asarray(a[:, 0] + (level - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0]))
