"""Bands and all-over designs built from a group's generators: the known answers that the benchmark asks about.

Bands: the moves of Washburn & Crowe 1988, chapter 4, with the repeat as unit and the mid-line as y = 0. Planes: the general
positions of International Tables for Crystallography A, plane groups 1 to 17.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Plane = NDArray[np.float64]

_FINE_BITS = 4  # cv2 takes points in sixteenths of a pixel

BAND_MOVES_XY: dict[str, tuple[tuple[int, int, float], ...]] = {
    "p111": ((1, 1, 0),),
    "p1a1": ((1, 1, 0), (1, -1, 0.5)),
    "p1m1": ((1, 1, 0), (1, -1, 0)),
    "pm11": ((1, 1, 0), (-1, 1, 0)),
    "p112": ((1, 1, 0), (-1, -1, 0)),
    "pma2": ((1, 1, 0), (-1, 1, 0), (1, -1, 0.5), (-1, -1, 0.5)),
    "pmm2": ((1, 1, 0), (-1, 1, 0), (1, -1, 0), (-1, -1, 0)),
}
"""Signs of x and y and shift along the band, in repeats, of every copy in one repeat."""

_PART = {
    "p111": (1.0, False),
    "p1a1": (0.5, False),
    "p1m1": (1.0, True),
    "pm11": (0.5, False),
    "p112": (0.5, False),
    "pma2": (0.25, False),
    "pmm2": (0.5, True),
}


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line or, when filled, an area. points: (N, 2) float64 in the unit square. width: of the line, in squares."""

    points: Plane
    width: float
    is_filled: bool = False


@dataclass(frozen=True, slots=True)
class HandError:
    """How unlike the copies of one motif are. Standard deviations: shift and wobble in repeats, size relative, turn in degrees."""

    shift: float = 0.0
    size: float = 0.0
    turn_deg: float = 0.0
    wobble: float = 0.0


STEADY = HandError()


MOST_ALIKE = 0.85


def draw_motif(rng: np.random.Generator) -> tuple[Stroke, ...]:
    """Draw a motif without symmetry of its own: whatever is drawn with it then has the symmetry it was given, and no other."""
    for _ in range(40):
        motif = _any_motif(rng)
        if _own_symmetry(motif) < MOST_ALIKE:
            break
    return motif


def _own_symmetry(motif: Sequence[Stroke], side: int = 48) -> float:
    """Correlation of a motif with its mirror images and its half turn, wherever they fit best."""
    canvas = np.zeros((side, side), np.uint8)
    for one in motif:
        _ink(canvas, one.points * side * 0.8 + side * 0.1, one, side * 0.8)
    picture = cv2.GaussianBlur(canvas.astype(np.float64), (0, 0), side / 24)
    picture -= picture.mean()
    spectrum = np.fft.fft2(picture)
    flips = (picture[::-1], picture[:, ::-1], picture[::-1, ::-1])
    best = max(float(np.fft.ifft2(spectrum * np.conj(np.fft.fft2(flip))).real.max()) for flip in flips)
    return best / max(float((picture**2).sum()), 1e-9)


def _any_motif(rng: np.random.Generator) -> tuple[Stroke, ...]:
    """Draw a bent line with a foot, a hook, a solid or a zigzag, perhaps with a dot."""
    kind = int(rng.integers(0, 4))
    width = float(rng.uniform(0.07, 0.12))
    if kind == 0:
        points = np.array([[0.2, 0.05], [0.2, 0.95], [0.85, 0.95]]) + rng.uniform(-0.08, 0.08, (3, 2))
        flag = points[0] + np.array([[0.0, 0.02], [rng.uniform(0.3, 0.6), rng.uniform(0.0, 0.2)]])
        strokes = [Stroke(points, width), Stroke(flag, width)] if rng.random() < 0.5 else [Stroke(points, width)]
    elif kind == 1:
        angle = np.linspace(0, rng.uniform(1.3, 2.2) * np.pi, 24) + rng.uniform(0, 2 * np.pi)
        radius = np.linspace(0.12, 0.4, 24)
        coil = np.column_stack([0.5 + radius * np.cos(angle), 0.5 + radius * np.sin(angle)])
        strokes = [Stroke(coil, width), Stroke(np.stack([coil[-1], rng.uniform(0.05, 0.95, 2)]), width)]
    elif kind == 2:
        corners = np.array([[0.05, 0.95], [0.95, 0.95], [rng.uniform(0.0, 0.25), 0.08]])
        strokes = [Stroke(corners, 0.0, is_filled=True), Stroke(rng.uniform(0.1, 0.9, (2, 2)), width)]
    else:
        strokes = [Stroke(rng.uniform(0.05, 0.95, (int(rng.integers(4, 7)), 2)), width)]
    dot = rng.uniform(0.12, 0.88, 2) + 0.07 * _ring(8)
    return (*strokes, Stroke(dot, 0.0, is_filled=True)) if rng.random() < 0.6 else tuple(strokes)


def _ring(corners: int) -> Plane:
    angle = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    return np.column_stack([np.cos(angle), np.sin(angle)])


def draw_band(
    symbol: str,
    motif: Sequence[Stroke],
    *,
    repeat_px: float,
    height_px: float,
    repeats: float,
    hand: HandError = STEADY,
    framing: bool = False,
    rng: np.random.Generator,
) -> Plane:
    """Draw a band as ink coverage, with a margin of a quarter of its height above and below.

    Parameters
    ----------
    symbol : four-place symbol of one of the seven groups.
    motif : strokes in the unit square; it fills the smallest part of the group.
    repeat_px, height_px : of one repeat and of the band between its framing lines, >= 8.
    repeats : how many are to be seen, > 0; the drawing begins anywhere in a repeat.
    hand : how unlike the copies are.
    framing : draw a line above and below.

    Returns
    -------
    (h, w) float64, 0 ground to 1 ink.
    """
    h, w = round(1.5 * height_px), max(4, round(repeats * repeat_px))
    canvas = np.zeros((h, w), np.uint8)
    start = float(rng.uniform(0, 1))
    share, is_half = _PART[symbol]
    tall = height_px * (0.5 if is_half else 1.0)
    size = np.array([share * repeat_px * 0.92, tall * 0.92])
    corner = np.array([0.04 * share * repeat_px, (0.0 if is_half else -0.5 * height_px) + 0.04 * tall])
    for k in range(-2, int(np.ceil(repeats)) + 3):
        for sx, sy, shift in BAND_MOVES_XY[symbol]:
            placed = [_by_hand(s, size, corner, hand, repeat_px, rng) for s in motif]
            origin = np.array([(k + shift - start) * repeat_px, h / 2])
            for one, points in zip(motif, placed, strict=True):
                _ink(canvas, origin + points * [sx, sy], one, float(size.min()))
    if framing:
        for y in (h / 2 - 0.56 * height_px, h / 2 + 0.56 * height_px):
            cv2.line(canvas, (0, round(y)), (w, round(y)), 255, max(2, round(0.05 * height_px)), cv2.LINE_AA)
    return np.asarray(canvas / 255.0, np.float64)


def _by_hand(
    stroke: Stroke, size: Plane, corner: Plane, hand: HandError, repeat_px: float, rng: np.random.Generator
) -> Plane:
    """Points of one copy in px, before its move, as an unsteady hand sets them."""
    angle = np.radians(hand.turn_deg) * rng.normal()
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    points = (stroke.points - 0.5) * size * (1 + hand.size * rng.normal()) @ turn.T
    points = (
        points + hand.shift * repeat_px * rng.normal(size=2) + hand.wobble * repeat_px * rng.normal(size=points.shape)
    )
    return np.asarray(points + 0.5 * size + corner, np.float64)


def _ink(canvas: NDArray[np.uint8], points: Plane, stroke: Stroke, unit_px: float) -> None:
    fixed = np.round(points * 2**_FINE_BITS).astype(np.int32)
    if stroke.is_filled:
        cv2.fillPoly(canvas, [fixed], 255, cv2.LINE_AA, _FINE_BITS)
    else:
        cv2.polylines(canvas, [fixed], False, 255, max(1, round(stroke.width * unit_px)), cv2.LINE_AA, _FINE_BITS)


Op = tuple[int, int, int, int, float, float]
"""x' = a x + b y + u, y' = c x + d y + v, in cells: (a, b, c, d, u, v)."""

_I, _TURN = (1, 0, 0, 1, 0.0, 0.0), (-1, 0, 0, -1, 0.0, 0.0)
_X, _Y = (-1, 0, 0, 1, 0.0, 0.0), (1, 0, 0, -1, 0.0, 0.0)
_QUARTER = (_I, _TURN, (0, -1, 1, 0, 0.0, 0.0), (0, 1, -1, 0, 0.0, 0.0))
_THIRD = (_I, (0, -1, 1, -1, 0.0, 0.0), (-1, 1, -1, 0, 0.0, 0.0))
_SIXTH = (*_THIRD, _TURN, (0, 1, -1, 1, 0.0, 0.0), (1, -1, 1, 0, 0.0, 0.0))
_ACROSS = ((0, -1, -1, 0, 0.0, 0.0), (-1, 1, 0, 1, 0.0, 0.0), (1, 0, 1, -1, 0.0, 0.0))
_ALONG = ((0, 1, 1, 0, 0.0, 0.0), (1, -1, 0, -1, 0.0, 0.0), (-1, 0, -1, 1, 0.0, 0.0))
_DIAGONAL = ((0, 1, 1, 0, 0.0, 0.0), (0, -1, -1, 0, 0.0, 0.0))


def _shifted(ops: Sequence[Op], u: float, v: float) -> tuple[Op, ...]:
    return tuple((a, b, c, d, x + u, y + v) for a, b, c, d, x, y in ops)


_MM = (_I, _TURN, _X, _Y)
PLANE_OPS: dict[str, tuple[Op, ...]] = {
    "p1": (_I,),
    "p2": (_I, _TURN),
    "pm": (_I, _X),
    "pg": (_I, (-1, 0, 0, 1, 0.0, 0.5)),
    "cm": (_I, _X, *_shifted((_I, _X), 0.5, 0.5)),
    "pmm": _MM,
    "pmg": (_I, _TURN, *_shifted((_X, _Y), 0.5, 0.0)),
    "pgg": (_I, _TURN, *_shifted((_X, _Y), 0.5, 0.5)),
    "cmm": (*_MM, *_shifted(_MM, 0.5, 0.5)),
    "p4": _QUARTER,
    "p4m": (*_QUARTER, _X, _Y, *_DIAGONAL),
    "p4g": (*_QUARTER, *_shifted((_X, _Y, *_DIAGONAL), 0.5, 0.5)),
    "p3": _THIRD,
    "p3m1": (*_THIRD, *_ACROSS),
    "p31m": (*_THIRD, *_ALONG),
    "p6": _SIXTH,
    "p6m": (*_SIXTH, *_ACROSS, *_ALONG),
}
"""General positions of the seventeen plane groups, on their usual cells (centred for cm and cmm)."""


def usual_cell(symbol: str, side_px: float, rng: np.random.Generator) -> Plane:
    """Return a (2, 2) float64 cell, rows a and b in px, of the shape the group asks for, with free sides drawn at random."""
    ratio, angle = float(rng.uniform(1.25, 1.6)), 90.0
    if symbol in {"p1", "p2"}:
        angle = float(rng.uniform(66, 80))
    elif symbol[:2] == "p4":
        ratio = 1.0
    elif symbol[:2] in {"p3", "p6"}:
        ratio, angle = 1.0, 120.0
    b = side_px * ratio * np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))])
    return np.array([[side_px, 0.0], b])


def draw_plane(
    symbol: str,
    motif: Sequence[Stroke],
    *,
    cell_px: Plane,
    shape: tuple[int, int],
    hand: HandError = STEADY,
    rng: np.random.Generator,
) -> Plane:
    """Draw an all-over design as ink coverage.

    Parameters
    ----------
    symbol : short symbol of one of the seventeen groups.
    motif : strokes in the unit square.
    cell_px : (2, 2), rows a and b.
    shape : (h, w) of the drawing in px.

    Returns
    -------
    (h, w) float64, 0 ground to 1 ink.
    """
    canvas = np.zeros(shape, np.uint8)
    ops = PLANE_OPS[symbol]
    area = abs(float(np.linalg.det(cell_px)))
    side = float(np.sqrt(area / len(ops))) * 0.95
    centre = _far_from_fixed_points(ops, cell_px, rng)
    to_cell = np.linalg.inv(cell_px)
    reach = int(np.ceil(max(shape) * 1.5 / np.sqrt(area))) + 2
    start = rng.uniform(0, 1, 2)
    for i in range(-reach, reach):
        for j in range(-reach, reach):
            for a, b, c, d, u, v in ops:
                for one in motif:
                    points = _by_hand(one, np.array([side, side]), np.zeros(2), hand, float(np.sqrt(area)), rng)
                    at = (points - 0.5 * side) @ to_cell + centre
                    moved = at @ np.array([[a, c], [b, d]]) + [u + i, v + j] - start
                    _ink(canvas, moved @ cell_px + np.array([shape[1], shape[0]]) / 2, one, side)
    return np.asarray(canvas / 255.0, np.float64)


def _far_from_fixed_points(ops: Sequence[Op], cell_px: Plane, rng: np.random.Generator) -> Plane:
    """Of some places in the cell, the one whose copies lie farthest apart, so that they do not hide one another."""
    best, farthest = np.full(2, 0.25), -1.0
    for _ in range(200):
        place = rng.uniform(0, 1, 2)
        images = np.array(
            [[a * place[0] + b * place[1] + u, c * place[0] + d * place[1] + v] for a, b, c, d, u, v in ops]
        )
        gaps = images[1:] - images[0]
        near = [
            np.linalg.norm((gaps - np.round(gaps) + [m, n]) @ cell_px, axis=1) for m in (-1, 0, 1) for n in (-1, 0, 1)
        ]
        distance = float(np.min(near)) if len(ops) > 1 else 1.0
        if distance > farthest:
            best, farthest = place, distance
    return best


def sherd_mask(shape: tuple[int, int], rng: np.random.Generator, *, fill: float = 0.98) -> NDArray[np.bool_]:
    """Return a (h, w) bool outline like a sherd's: a rough polygon that fills most of the frame."""
    h, w = shape
    count = int(rng.integers(6, 10))
    angle = np.sort(np.linspace(0, 2 * np.pi, count, endpoint=False) + rng.uniform(-0.25, 0.25, count))
    # A square-ish superellipse, so that the corners of the frame are used and the sides are ragged.
    reach = fill / np.maximum(np.abs(np.cos(angle)), np.abs(np.sin(angle))) ** 0.6 * rng.uniform(0.82, 1.0, count)
    corners = np.column_stack([w / 2 * (1 + reach * np.cos(angle)), h / 2 * (1 + reach * np.sin(angle))])
    canvas = np.zeros(shape, np.uint8)
    cv2.fillPoly(canvas, [np.round(corners).astype(np.int32)], 1)
    return canvas > 0
