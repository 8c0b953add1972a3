"""Breaking a pot: cracks that run across pieces one after the other, on the developed surface.

Splitting pieces again and again in random shares gives sizes that tend to a log-normal distribution (Kolmogorov 1941,
Doklady Akademii Nauk SSSR 31, 99-101). Contact lengths are counted on the grid by Crofton's formula in four directions.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from motifs.practice.arrays import FloatArray
    from motifs.practice.pots import PaintedPot

GRID_PX_PER_MM = 3.0
SMALLEST_MM2 = 60.0
LARGE_MM2 = 6000.0
TOUCH_MM = 2.0

Labels = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Fragment:
    """One piece of a broken pot.

    index: its number within the pot. polygon_mm: (N, 2) closed outline on the developed surface, x from the pot's
    seam on (may pass the girth: take it modulo the girth). area_mm2: on the developed surface. neighbours: contact
    length in mm by the other piece's index. is_rim, is_base: it holds a part of the rim or of the foot.
    """

    index: int
    polygon_mm: FloatArray
    area_mm2: float
    neighbours: dict[int, float] = field(default_factory=dict)
    is_rim: bool = False
    is_base: bool = False


def break_pot(pot: PaintedPot, seed: int, *, pieces: int | None = None) -> list[Fragment]:
    """Break a pot into pieces.

    Parameters
    ----------
    pot : PaintedPot
    seed : int >= 0
    pieces : how many to aim at (crumbs below 60 mm2 are not kept); 20 to 60 when None

    Returns
    -------
    list of Fragment
        Ordered by index, which is their place in the list.
    """
    rng = np.random.default_rng([12, seed])
    wanted = int(rng.integers(24, 61)) if pieces is None else pieces
    labels, seam = _cracked(rng, pot.circumference_mm, pot.height_mm, wanted)
    return _fragments(labels, seam, pot.circumference_mm)


def _cracked(rng: np.random.Generator, girth_mm: float, height_mm: float, wanted: int) -> tuple[Labels, int]:
    """Return the pieces (0 = nothing) on a grid wider than the girth, and the girth in grid px."""
    girth, rows = round(girth_mm * GRID_PX_PER_MM), round(height_mm * GRID_PX_PER_MM)
    slack = int(20 * GRID_PX_PER_MM)
    seam_x = slack / 2 + _crooked(rng, np.arange(rows) / GRID_PX_PER_MM) * GRID_PX_PER_MM
    x = np.arange(girth + slack)[None]
    labels = ((x >= seam_x[:, None]) & (x < seam_x[:, None] + girth)).astype(np.int32)
    areas = {1: float(labels.sum())}
    least = SMALLEST_MM2 * GRID_PX_PER_MM**2
    for _ in range(40 * wanted):
        if len(areas) >= wanted:
            break
        names = np.array(list(areas))
        weights = np.array([max(areas[int(n)] - 5 * least, 0.0) ** 1.4 for n in names])
        if weights.sum() == 0:
            break
        _crack(rng, labels, int(rng.choice(names, p=weights / weights.sum())), areas, least)
    return labels, girth


def _crooked(rng: np.random.Generator, along_mm: FloatArray) -> FloatArray:
    """Return how far (mm) a crack strays from straight: slow bends and small jags."""
    stray = np.zeros_like(along_mm)
    for wavelength, amplitude in ((90.0, 2.6), (38.0, 1.0), (15.0, 0.4), (6.0, 0.2), (2.6, 0.11)):
        phase = rng.uniform(0, 2 * np.pi)
        stray += (
            amplitude
            * rng.normal(0, 0.8)
            * np.sin(2 * np.pi * along_mm / (wavelength * rng.uniform(0.8, 1.25)) + phase)
        )
    return stray


def _crack(rng: np.random.Generator, labels: Labels, name: int, areas: dict[int, float], least: float) -> None:
    """Run one crack across a piece, through a point near its middle, mostly across its longer side."""
    rows, columns = np.nonzero(labels == name) if len(areas) == 1 else _where(labels, name)
    xy = np.stack([columns, rows], axis=1) / GRID_PX_PER_MM
    middle = xy.mean(axis=0)
    spread = np.cov((xy - middle).T)
    longest = np.linalg.eigh(spread)[1][:, 1]
    angle = np.arctan2(longest[1], longest[0]) + rng.normal(0, 0.5)
    normal = np.array([np.cos(angle), np.sin(angle)])
    along = np.array([-normal[1], normal[0]])
    reach = np.sqrt(float(np.var((xy - middle) @ normal)))
    place = middle + normal * reach * rng.normal(0, 0.65)
    t = (xy - place) @ along
    table = np.linspace(t.min(), t.max(), max(int(t.max() - t.min()) * 3, 2))
    side = (xy - place) @ normal > np.interp(t, table, _crooked(rng, table))
    _divide(labels, name, rows, columns, side, areas, least)


def _where(labels: Labels, name: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    found = np.nonzero(labels == name)
    return found[0], found[1]


def _divide(
    labels: Labels,
    name: int,
    rows: NDArray[np.intp],
    columns: NDArray[np.intp],
    side: NDArray[np.bool_],
    areas: dict[int, float],
    least: float,
) -> None:
    """Give the far side of a crack a new name, unless a part would be too small; every part must hang together."""
    top, left = int(rows.min()), int(columns.min())
    box = np.zeros((int(rows.max()) - top + 1, int(columns.max()) - left + 1), np.uint8)
    parts: list[tuple[NDArray[np.bool_], int]] = []
    for one in (side, ~side):
        box[:] = 0
        box[rows[one] - top, columns[one] - left] = 1
        count, found, stats, _ = cv2.connectedComponentsWithStats(box, connectivity=4)
        parts += [(found == k, int(stats[k, cv2.CC_STAT_AREA])) for k in range(1, count)]
    if len(parts) < 2 or min(size for _, size in parts) < least or any(_is_splinter(part) for part, _ in parts):
        return
    view = labels[top : top + box.shape[0], left : left + box.shape[1]]
    for k, (part, size) in enumerate(parts):
        own = name if k == 0 else max(areas) + 1
        view[part] = own
        areas[own] = float(size)


def _is_splinter(part: NDArray[np.bool_]) -> bool:
    """Say whether a piece is a needle or has a long thin tail, which a wall does not break into; large ones break on."""
    solid = np.pad(part.astype(np.uint8), 1)[::2, ::2].copy()
    area = int(solid.sum())
    depth = cv2.distanceTransform(solid, cv2.DIST_L2, 3)
    deepest = float(depth.max())
    if area * 4 > LARGE_MM2 * GRID_PX_PER_MM**2:
        return False
    if deepest < 0.27 * np.sqrt(area):
        return True
    core = (depth > 0.3 * deepest).astype(np.uint8)
    beyond = cv2.distanceTransform(1 - core, cv2.DIST_L2, 3)[solid > 0]
    return bool(float(beyond.max()) > 0.95 * deepest)


def _fragments(labels: Labels, girth: int, girth_mm: float) -> list[Fragment]:
    """Return the pieces with outlines and contacts."""
    names = [int(n) for n in np.unique(labels) if n > 0]
    number = {name: k for k, name in enumerate(names)}
    contacts = contact_lengths(_wrapped(labels, girth))
    out = []
    for name in names:
        polygon, area, rows = _outline(labels, name)
        touching = {
            number[b if a == name else a]: length
            for (a, b), length in contacts.items()
            if name in (a, b) and length >= TOUCH_MM
        }
        fragment = Fragment(number[name], polygon, area, touching, rows[0] == 0, rows[1] == labels.shape[0] - 1)
        out.append(fragment)
    return out


def _wrapped(labels: Labels, girth: int) -> Labels:
    """Fold the part beyond the girth back to the start, so that the seam closes."""
    folded = labels[:, :girth].copy()
    extra = labels[:, girth:]
    start = folded[:, : extra.shape[1]]
    start[extra > 0] = extra[extra > 0]
    return folded


def contact_lengths(labels: Labels) -> dict[tuple[int, int], float]:
    """Measure how long each two pieces touch.

    Parameters
    ----------
    labels : (rows, columns) int32, closed on itself in x; 0 is nothing

    Returns
    -------
    dict
        Length in mm by (smaller name, larger name), from Crofton's formula with four directions.
    """
    total: dict[tuple[int, int], float] = {}
    for dy, dx, weight in ((0, 1, 1.0), (1, 0, 1.0), (1, 1, np.sqrt(0.5)), (1, -1, np.sqrt(0.5))):
        other = np.roll(labels, (-dy, -dx), axis=(0, 1))
        a, b = (labels[:-1], other[:-1]) if dy else (labels, other)
        differs = (a != b) & (a > 0) & (b > 0)
        low, high = np.minimum(a[differs], b[differs]), np.maximum(a[differs], b[differs])
        pairs, counts = np.unique(np.stack([low, high], axis=1), axis=0, return_counts=True)
        for (p, q), count in zip(pairs.tolist(), counts.tolist(), strict=True):
            total[(p, q)] = total.get((p, q), 0.0) + count * weight * np.pi / 8 / GRID_PX_PER_MM
    return total


def _outline(labels: Labels, name: int) -> tuple[FloatArray, float, tuple[int, int]]:
    """Return a piece's outline (mm), its area (mm2) and its first and last row."""
    rows, columns = _where(labels, name)
    top, left = int(rows.min()), int(columns.min())
    box = np.zeros((int(rows.max()) - top + 3, int(columns.max()) - left + 3), np.uint8)
    box[rows - top + 1, columns - left + 1] = 1
    big = cv2.resize(box, None, fx=2, fy=2, interpolation=cv2.INTER_NEAREST)
    found, _ = cv2.findContours(big, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    path = max(found, key=len)[:, 0].astype(np.float64)
    smooth = _smoothed_closed(path, 1.6)
    mm = ((smooth + 0.5) / 2 + [left - 1, top - 1]) / GRID_PX_PER_MM
    return mm[::2], float(len(rows)) / GRID_PX_PER_MM**2, (top, int(rows.max()))


def _smoothed_closed(path: FloatArray, sigma: float) -> FloatArray:
    """Smooth a closed path of even steps by a Gaussian."""
    reach = int(4 * sigma) + 1
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    kernel /= kernel.sum()
    padded = np.concatenate([path[-reach:], path, path[:reach]])
    return np.stack([np.convolve(padded[:, k], kernel, mode="valid") for k in (0, 1)], axis=1)
