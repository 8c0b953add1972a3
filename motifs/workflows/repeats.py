"""Length of the repeat of a decoration, where a sherd shows enough of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from scipy import ndimage

from motifs.design.correlation import ShiftMap, shift_correlation

if TYPE_CHECKING:
    from numpy.typing import NDArray

WORK_PX_PER_MM: Final = 2.0
LEAST_MM: Final = 4.0
LEAST_OVERLAP: Final = 1 / 3
"""A repeat is seen where a third of the face still overlaps itself: 1.5 repeats along a strip."""
LEAST_CORRELATION: Final = 0.45
FALL: Final = 0.2
"""How far the correlation must fall on every side of its peak: along parallel lines it does not, and they do not repeat."""


@dataclass(frozen=True, slots=True)
class Repeat:
    """Shift that lays the decoration on itself.

    direction_deg: 0 to below 180, anticlockwise from the picture's horizontal. correlation: -1..1, at that shift.
    """

    length_mm: float
    length_sd_mm: float
    direction_deg: float
    correlation: float


def repeat_of(coverage: NDArray[np.floating[Any]], inner: NDArray[np.bool_], px_per_mm: float) -> Repeat | None:
    """Find the shortest shift under which the decoration agrees with itself, or None where none is seen.

    Parameters
    ----------
    coverage : (h, w) float, share of ink, 0..1
    inner : (h, w) bool, the face
    px_per_mm : resolution of both
    """
    factor = WORK_PX_PER_MM / px_per_mm
    weight = ndimage.zoom(inner.astype(np.float64), factor, order=1, grid_mode=True, mode="grid-constant")
    picture = ndimage.zoom(
        np.asarray(coverage, np.float64) * inner, factor, order=1, grid_mode=True, mode="grid-constant"
    )
    mask = weight > 0.5
    if mask.sum() < 12 * WORK_PX_PER_MM**2 or float(picture[mask].std()) < 0.05:
        return None
    shifts = shift_correlation(np.where(mask, picture / np.maximum(weight, 0.5), 0.0), mask)
    peaks = [peak for peak in _peaks(shifts) if _falls_all_round(shifts, peak)]
    if not peaks:
        return None
    best = max(value for _, _, value in peaks)
    # Two repeats agree about as well as one: the shortest of the nearly best is the repeat.
    nearest = min((peak for peak in peaks if peak[2] >= best - 0.12), key=lambda peak: np.hypot(peak[0], peak[1]))
    dx, dy, value = _between_px(shifts, nearest)
    length = float(np.hypot(dx, dy)) / WORK_PX_PER_MM
    sd = float(np.hypot(0.25 / WORK_PX_PER_MM, 0.01 * length))
    return Repeat(length, sd, float(np.degrees(np.arctan2(-dy, dx)) % 180.0), value)


def _peaks(shifts: ShiftMap) -> list[tuple[float, float, float]]:
    """Local maxima (dx, dy, correlation) in one half plane that are far, high and overlapping enough."""
    values, (row, column) = shifts.values, shifts.centre
    smooth = ndimage.gaussian_filter(values, 0.8)
    places = np.indices(values.shape)
    dy, dx = np.asarray(places[0] - row), np.asarray(places[1] - column)
    is_peak = (smooth == ndimage.maximum_filter(smooth, size=5)) & (smooth >= LEAST_CORRELATION)
    is_peak &= (shifts.overlap >= LEAST_OVERLAP) & (np.hypot(dx, dy) >= LEAST_MM * WORK_PX_PER_MM)
    is_peak &= (dy > 0) | ((dy == 0) & (dx > 0))
    found = zip(dx[is_peak].tolist(), dy[is_peak].tolist(), smooth[is_peak].tolist(), strict=True)
    return [(float(x), float(y), float(value)) for x, y, value in found]


def _between_px(shifts: ShiftMap, peak: tuple[float, float, float]) -> tuple[float, float, float]:
    """Place a peak between whole shifts by a paraboloid through its neighbours."""
    dx, dy, value = peak
    y, x = shifts.centre[0] + int(dy), shifts.centre[1] + int(dx)
    near = ndimage.gaussian_filter(shifts.values[y - 3 : y + 4, x - 3 : x + 4], 0.8)[2:5, 2:5]
    if near.shape != (3, 3):
        return peak
    moved = []
    for low, high in ((near[1, 0], near[1, 2]), (near[0, 1], near[2, 1])):
        bend = low - 2 * near[1, 1] + high
        moved.append(float(np.clip(0.5 * (low - high) / bend, -0.5, 0.5)) if bend < 0 else 0.0)
    return dx + moved[0], dy + moved[1], value


def _falls_all_round(shifts: ShiftMap, peak: tuple[float, float, float]) -> bool:
    """Whether the correlation falls clearly on a ring about half way to no shift."""
    dx, dy, value = peak
    row, column = shifts.centre
    radius = 0.5 * float(np.hypot(dx, dy))
    turns = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    low = np.ones(turns.size)
    for part in (0.4, 0.7, 1.0):
        at = [row + dy + part * radius * np.sin(turns), column + dx + part * radius * np.cos(turns)]
        seen = ndimage.map_coordinates(shifts.overlap, at, order=1) >= 0.1
        ring = ndimage.map_coordinates(shifts.values, at, order=1)
        low = np.minimum(low, np.where(seen, ring, low))
    return bool((low <= value - FALL).all())
