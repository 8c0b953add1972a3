"""Laying out a pot's decoration: from zones to cover maps and the motif map of the developed surface."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from motifs.practice.arrays import ByteMap, FloatArray, Map, as_map
from motifs.practice.hands import Hand, slipped
from motifs.practice.marks import Fill, Marks, Stroke, mapped, points, resampled
from motifs.practice.symmetry import band_cell, plane_cell
from motifs.practice.techniques import Technique, draw_marks

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.practice.families import Family
    from motifs.practice.forms import VesselForm
    from motifs.practice.layouts import Layout, Zone

OVERSAMPLING = 2
_SHIFT = 4
VARIANTS_DRAWN = 5


@dataclass(slots=True)
class Sheet:
    """The developed surface while it is being decorated.

    first, second: (H, W) float32 cover of the first and second colour or tool, 0..1. motif_map: (H, W) int16, the
    family whose field covers the pixel, or -1. field: (H, W) bool, inside a decorated zone.
    """

    first: Map
    second: Map
    motif_map: NDArray[np.int16]
    field: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Work:
    """Everything the zones share while one pot is decorated."""

    rng: np.random.Generator
    form: VesselForm
    hand: Hand
    technique: Technique
    px_per_mm: float
    two_colours: bool


def decorate(
    rng: np.random.Generator, form: VesselForm, layout: Layout, hand: Hand, technique: Technique, px_per_mm: float
) -> Sheet:
    """Decorate a form's developed surface.

    Returns
    -------
    Sheet
        H = arc length down the profile * px_per_mm, W = greatest girth * px_per_mm, rounded.
    """
    work = _Work(rng, form, hand, technique, px_per_mm, technique.name == "painted in two colours")
    rows, columns = round(form.height_mm * px_per_mm), round(form.circumference_mm * px_per_mm)
    first = np.zeros((rows * OVERSAMPLING, columns * OVERSAMPLING), np.uint8)
    second = np.zeros_like(first) if work.two_colours else np.zeros((1, 1), np.uint8)
    motif_map = np.full((rows, columns), -1, np.int16)
    field = np.zeros((rows, columns), np.bool_)
    for zone in layout:
        top, bottom = round(zone.top * rows), round(zone.bottom * rows)
        field[top:bottom] = zone.kind != "plain"
        if zone.kind != "plain":
            _decorate_zone(work, zone, first, second, motif_map)
    size = (columns, rows)
    covers = [as_map(cv2.resize(one, size, interpolation=cv2.INTER_AREA)) / np.float32(255) for one in (first, second)]
    return Sheet(covers[0], covers[1], motif_map, field)


def _decorate_zone(work: _Work, zone: Zone, first: ByteMap, second: ByteMap, motif_map: NDArray[np.int16]) -> None:
    """Draw one zone into the cover maps and the motif map."""
    total = work.form.height_mm
    top, bottom = zone.top * total, zone.bottom * total
    girth = 2 * np.pi * work.form.radius_at((top + bottom) / 2)
    stretch = work.form.circumference_mm / girth
    wander = _wander(work.rng, girth, work.hand.wander_mm)
    width = work.hand.line_width_mm * float(np.clip(np.sqrt((bottom - top) / 16.0), 0.75, 1.0))
    lines, inset = _framing(work, zone, top, bottom, girth, width)
    _lay(work, lines, width, stretch, girth, wander, first)
    if zone.kind in ("lines", "solid"):
        return
    inner = (top + inset, bottom - inset)
    scale = motif_map.shape[1] / girth
    for number, (family, start, end, marks) in enumerate(_fields(work, zone, inner, girth)):
        colour = second if work.two_colours and number % 2 == 1 else first
        _lay(work, marks, width, stretch, girth, wander, colour)
        rows = slice(int(inner[0] * work.px_per_mm), int(inner[1] * work.px_per_mm))
        for a, b in ((start, end), (start - girth, end - girth)):
            motif_map[rows, max(int(a * scale), 0) : max(int(b * scale), 0)] = family.ident
    if work.two_colours and second.size > 1:
        np.minimum(second, 255 - first, out=second)


def _wander(rng: np.random.Generator, girth: float, amount_mm: float) -> FloatArray:
    """Return amplitudes and phases (3, 2) of a band's stray from level, closed round the pot."""
    return np.stack([rng.normal(0, amount_mm / np.arange(1, 4)), rng.uniform(0, 2 * np.pi, 3)], axis=1)


def _strayed(path: FloatArray, wander: FloatArray, girth: float) -> FloatArray:
    turn = path[..., 0:1] * (2 * np.pi / girth)
    lift = sum(wander[k, 0] * np.sin((k + 1) * turn + wander[k, 1]) for k in range(3))
    return np.concatenate([path[..., 0:1], path[..., 1:2] + lift], axis=-1)


def _framing(work: _Work, zone: Zone, top: float, bottom: float, girth: float, width: float) -> tuple[Marks, float]:
    """Return the level lines of a zone and how far the motifs stand in from its edges (mm)."""
    gap = 2.4 * width * work.technique.width_scale * max(1.0, 1.6 * (work.technique.teeth - 1))
    if zone.kind == "solid":
        return (Fill((points((0, top), (girth, top), (girth, bottom - gap), (0, bottom - gap)),)),), gap
    if zone.kind == "lines":
        levels = list(np.linspace(top, bottom, zone.framing + 2)[1:-1])
        inset = 0.0
    else:
        levels = [top + gap * (k + 0.5) for k in range(zone.framing)]
        levels += [bottom - gap * (k + 0.5) for k in range(zone.framing)]
        inset = gap * zone.framing + 0.6
    start = float(work.rng.uniform(0, girth))
    return tuple(_level_line(work.rng, level, start, girth) for level in levels), inset


def _level_line(rng: np.random.Generator, level: float, start: float, girth: float) -> Stroke:
    """Return a line once round the pot; its ends miss each other a little."""
    path = resampled(points((start, level), (start + girth, level + float(rng.normal(0, 0.25)))), 4.0)
    return Stroke(path)


def _fields(
    work: _Work, zone: Zone, inner: tuple[float, float], girth: float
) -> list[tuple[Family, float, float, Marks]]:
    """Return what each family covers: (family, from, to in mm round the pot, marks in mm)."""
    height = inner[1] - inner[0]
    if height < 4.0:
        return []
    if zone.kind == "panels":
        return _panels(work, zone, inner, girth)
    family = zone.families[0]
    rows = zone.rows if zone.kind == "plane" else 1
    row_height = height / rows
    marks: list[Marks] = []
    cells = [_cell(work, zone, family) for _ in range(VARIANTS_DRAWN)]
    edges = _repeat_edges(work, girth, cells[0][1] * row_height)
    for row in range(rows):
        for left, right in itertools.pairwise(edges):
            cell, width = cells[int(work.rng.integers(VARIANTS_DRAWN))]
            cell = slipped(work.rng, cell, width, work.hand)
            marks.append(_placed(cell, left, (right - left) / width, inner[0] + row * row_height, row_height))
    start = float(edges[0])
    flat = tuple(mark for one in marks for mark in one)
    if work.two_colours:
        strokes = tuple(mark for mark in flat if isinstance(mark, Stroke))
        others = tuple(mark for mark in flat if not isinstance(mark, Stroke))
        return [(family, start, start + girth, strokes), (family, start, start + girth, others)]
    return [(family, start, start + girth, flat)]


def _cell(work: _Work, zone: Zone, family: Family) -> tuple[Marks, float]:
    """Draw one cell of a band or plane pattern in the hand's style of the moment."""
    style = np.clip(np.asarray(work.hand.style) + work.rng.normal(0, work.hand.looseness, 4), -1.3, 1.3)
    marks = family.draw(style)
    if zone.kind == "plane":
        return plane_cell(marks, family.aspect, zone.group)
    return band_cell(marks, family.aspect, zone.group)


def _repeat_edges(work: _Work, girth: float, cell_mm: float) -> FloatArray:
    """Return the edges of the repeats round the pot; the last one takes what is left."""
    count = max(round(girth / max(cell_mm, 1.0)), 1)
    widths = np.clip(1 + work.rng.normal(0, work.hand.spacing_spread, count), 0.6, 1.5)
    if count > 2:
        widths[-1] *= work.hand.squeeze
    start = float(work.rng.uniform(0, girth))
    return np.asarray(start + np.concatenate([[0.0], np.cumsum(widths)]) * girth / widths.sum())


def _placed(marks: Marks, left: float, scale_x: float, top: float, height: float) -> Marks:
    size = float(np.sqrt(scale_x * height))
    return mapped(marks, lambda p: p * [scale_x, height] + [left, top], size)


def _panels(
    work: _Work, zone: Zone, inner: tuple[float, float], girth: float
) -> list[tuple[Family, float, float, Marks]]:
    """Return panels round the pot, two families in turn, parted by upright lines."""
    height = inner[1] - inner[0]
    edges = _repeat_edges(work, girth, max(height * zone.panel_ratio, 12.0))
    out = []
    for k, (left, right) in enumerate(itertools.pairwise(edges)):
        family = zone.families[k % len(zone.families)]
        fit = min((right - left) * 0.82 / family.aspect, height * 0.9)
        style = np.clip(np.asarray(work.hand.style) + work.rng.normal(0, work.hand.looseness, 4), -1.3, 1.3)
        marks = slipped(work.rng, family.draw(style), family.aspect, work.hand)
        x = (left + right - fit * family.aspect) / 2
        placed = _placed(marks, float(x), fit, (inner[0] + inner[1] - fit) / 2, fit)
        post = Stroke(points((left, inner[0]), (left, inner[1])))
        out.append((family, float(left), float(right), (post, *placed)))
    return out


def _lay(
    work: _Work, marks: Marks, width: float, stretch: float, girth: float, wander: FloatArray, cover: ByteMap
) -> None:
    """Carry out marks and draw what they leave into a cover map."""
    patches = draw_marks(work.rng, marks, work.hand, work.technique, width)
    scale = np.array([stretch, 1.0]) * work.px_per_mm * OVERSAMPLING
    full = girth * scale[0]
    for convex in patches.convex:
        _fill_convex(cover, _strayed(convex, wander, girth) * scale - 0.5, full)
    for rings in patches.filled:
        strayed = [_strayed(one, wander, girth) * scale - 0.5 for one in rings]
        _fill_rings(cover, strayed, full)


def _fill_convex(cover: ByteMap, polygons: FloatArray, full: float) -> None:
    """Fill convex polygons (K, T, 2) in px, also where they pass the seam at x = full."""
    copies = [polygons]
    over, under = polygons[..., 0].max(axis=1) > full, polygons[..., 0].min(axis=1) < 0
    if over.any():
        copies.append(polygons[over] - [full, 0])
    if under.any():
        copies.append(polygons[under] + [full, 0])
    fixed = np.round(np.concatenate(copies) * (1 << _SHIFT)).astype(np.int32)
    for one in fixed:
        cv2.fillConvexPoly(cover, one, (255.0,), cv2.LINE_8, _SHIFT)


def _fill_rings(cover: ByteMap, rings: list[FloatArray], full: float) -> None:
    """Fill one shape with holes, also where it passes the seam at x = full."""
    high, low = max(one[:, 0].max() for one in rings), min(one[:, 0].min() for one in rings)
    for shift, wanted in ((0.0, True), (-full, high > full), (full, low < 0)):
        if wanted:
            fixed = [np.round((one + np.array([shift, 0.0])) * (1 << _SHIFT)).astype(np.int32) for one in rings]
            cv2.fillPoly(cover, fixed, (255.0,), cv2.LINE_8, _SHIFT)
