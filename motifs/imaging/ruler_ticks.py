"""What one tick of a ruler is worth, from how far each tick reaches across the strip."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

_REACH_TICKS: Final = 9.0  # rows looked at on either side of the strip, in periods
_LEAST_EXPLAINED: Final = 0.62


@dataclass(frozen=True, slots=True)
class TickUnit:
    """One tick: its length in mm, and what to call it. every: after how many ticks the long one comes."""

    mm: float
    words: str
    every: int


UNITS: Final = (
    TickUnit(1.0, "millimetres", 10),
    TickUnit(0.5, "half millimetres", 20),
    TickUnit(25.4 / 16.0, "sixteenths of an inch", 16),
)
"""Rulers that are told by their long ticks (common practice; an inch is 25.4 mm, ISO 31-1)."""


def tick_unit(
    turned: NDArray[np.float32], ticks_at: NDArray[np.float64], rows: tuple[int, int], period_px: float
) -> tuple[TickUnit | None, int, int]:
    """Tell the unit from the long ticks.

    Parameters
    ----------
    turned
        (h, w) grey, the ticks upright.
    ticks_at
        (n,) px along the rows, n at least 2.
    rows
        From and to: the rows in which the ticks were found.
    period_px
        Of the ticks.

    Returns
    -------
    tuple
        The unit, or None where no pattern of long ticks is plain; first and last row that ticks reach.
    """
    reach = round(_REACH_TICKS * period_px)
    top, bottom = max(0, rows[0] - reach), min(len(turned), rows[1] + reach)
    found: TickUnit | None = None
    first, last = rows
    # The comb's phase tells the even spacing, not whether its crests are ticks or the gaps between dark ones.
    for shift in (0.0, 0.5):
        depth = _depths(turned[top:bottom], ticks_at[:-1] + shift * period_px, period_px)
        smooth = _relative(depth, slice(rows[0] - top, rows[1] - top), period_px)
        if smooth is None:
            continue
        extent = np.flatnonzero(np.median(smooth, axis=1) > 0.5)
        first, last = (int(extent[0]) + top, int(extent[-1]) + top) if extent.size else (first, last)
        # A slower rhythm is told by rows in which only its own ticks stand; it explains half of a rhythm twice as fast.
        for unit in UNITS:
            if _explained(smooth, unit.every) > _LEAST_EXPLAINED and (found is None or unit.every > found.every):
                found = unit
    return found, min(first, rows[0]), max(last, rows[1])


def _relative(depth: NDArray[np.float64], own: slice, period_px: float) -> NDArray[np.float32] | None:
    """Depth over that of the usual tick, dark or light, smoothed along the ticks; None where there are no ticks."""
    typical = float(np.median(depth[own]))
    if abs(typical) < 1e-6:
        return None
    relative = np.clip(depth / typical, -0.5, 1.5)
    return np.asarray(cv2.blur(relative, (1, max(1, round(period_px) | 1))), dtype=np.float32)


def _depths(rows: NDArray[np.float32], ticks_at: NDArray[np.float64], period_px: float) -> NDArray[np.float64]:
    """How much darker (or lighter) each tick is than both gaps beside it, (rows, n)."""

    def at(shift: float) -> NDArray[np.float64]:
        x = np.clip(ticks_at + shift * period_px, 0, rows.shape[1] - 1.001)
        low = x.astype(int)
        share = (x - low).astype(np.float64)
        return np.asarray(rows[:, low] * (1 - share) + rows[:, low + 1] * share, dtype=np.float64)

    return np.asarray(at(0.0) - 0.5 * (at(-0.5) + at(0.5)), dtype=np.float64)


def _explained(depth: NDArray[np.float32], every: int) -> float:
    """Share of the spread between ticks that one long tick in `every` explains (eta squared), in its three best rows."""
    count = depth.shape[1]
    if count < 2 * every + 2 or depth.shape[0] == 0:
        return 0.0
    centred = depth - depth.mean(axis=1, keepdims=True)
    spread = (centred**2).sum(axis=1)
    is_open = spread > 0.02 * count  # rows in which some ticks stand and others do not
    if not is_open.any():
        return 0.0
    best = np.zeros(int(is_open.sum()))
    for start in range(every):
        long = np.zeros(count, dtype=bool)
        long[start::every] = True
        share = long.mean()
        gap = centred[is_open][:, long].mean(axis=1) - centred[is_open][:, ~long].mean(axis=1)
        explained = np.where(gap > 0, count * share * (1 - share) * gap**2, 0.0) / spread[is_open]
        best = np.maximum(best, explained)
    return float(np.sort(best)[-3:].mean())
