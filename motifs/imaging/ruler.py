"""The ruler: a strip of evenly spaced ticks, printed or engraved, on any material and at any angle.

Directions in which many edges are parallel are proposals. Along each, short pieces of every band of rows go through a
Fourier transform: ticks show as a comb. The period is then followed along the whole strip by the phase of that comb
(quadrature demodulation), and what one tick is worth is told by how far each tick reaches: every fifth and tenth is longer.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import cv2
import numpy as np

from motifs.imaging.ruler_ticks import TickUnit, tick_unit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

WINDOW_PX: Final = 256
_HOP_PX: Final = 64
_BAND_PX: Final = 6
_STEP_ROWS: Final = 3
_PERIODS_PX: Final = (3.2, 40.0)
_HARMONICS: Final = 3
_LEAST_SHARE: Final = 0.5  # of the power along a band that lies in the comb
_LEAST_CONTRAST: Final = 1.2  # grey levels, root mean square
_LEAST_WINDOWS: Final = 3
_LEAST_TICKS: Final = 25
_DIRECTIONS: Final = 5
_FLOOR_RELATIVE_SD: Final = 0.003  # print or engraving, lens and a slight tilt: what a perfect fit still does not know


@dataclass(frozen=True, slots=True)
class Ruler:
    """A ruler that was read.

    period_px, period_sd_px: of its ticks, px of the image it was read on. unit: what one tick is worth, None where the ticks do
    not tell. ticks: how many were followed. drift: by how much the period changes from end to end, relative. corners_px: (4, 2)
    around the strip of ticks.
    """

    period_px: float
    period_sd_px: float
    unit: TickUnit | None
    ticks: int
    drift: float
    corners_px: NDArray[np.float64]

    @property
    def relative_sd(self) -> float:
        """Standard uncertainty of the period over the period, slant and print included."""
        # A drift is a slant of the camera: half of it lies between the middle and either end.
        return float(np.hypot(np.hypot(self.period_sd_px / self.period_px, _FLOOR_RELATIVE_SD), abs(self.drift) / 4.0))


@dataclass(frozen=True, slots=True)
class _Strip:
    """A band of rows of a turned image in which ticks were seen: rows and columns from to, period, share of power."""

    top: int
    bottom: int
    left: int
    right: int
    period_px: float
    weight: float


def find_ruler(fine: NDArray[np.uint8]) -> Ruler | None:
    """Find a ruler and read the period of its ticks.

    Parameters
    ----------
    fine
        (h, w, 3) uint8, the photograph or a smaller copy on which ticks are at least three px apart.

    Returns
    -------
    Ruler or None
        The one with the most ticks; None where nothing is so even.
    """
    if min(fine.shape[:2]) < WINDOW_PX // 2 or max(fine.shape[:2]) < WINDOW_PX:
        return None
    grey = cv2.cvtColor(fine, cv2.COLOR_RGB2GRAY).astype(np.float32)
    found = []
    for angle_deg in _directions(grey):
        turned, back = _turned(grey, angle_deg)
        strip = _best_strip(turned)
        ruler = None if strip is None else _followed(turned, strip, back)
        if ruler is not None and strip is not None:
            found.append((ruler, angle_deg + _lean_deg(turned, strip)))
    if not found:
        return None
    rough, angle_deg = max(found, key=lambda pair: (pair[0].unit is not None, pair[0].ticks))
    # Long ticks are told apart only where the rows of the picture run along the ruler to a few tenths of a degree.
    turned, back = _turned(grey, angle_deg)
    strip = _best_strip(turned)
    ruler = None if strip is None else _followed(turned, strip, back)
    if ruler is None or (ruler.unit is None and rough.unit is not None):
        return rough
    return ruler


def _lean_deg(turned: NDArray[np.float32], strip: _Strip) -> float:
    """By how much ticks lean: the phase of the comb, row by row, against the row."""
    reach = round(0.8 * strip.period_px)
    x = np.arange(strip.left, strip.right)
    wave = np.exp(-2j * np.pi * x / strip.period_px)
    rows = np.arange(max(0, strip.top - reach), min(len(turned), strip.bottom + reach))
    lines = turned[rows][:, strip.left : strip.right]
    teeth = (lines - lines.mean(axis=1, keepdims=True)) @ wave
    clear = np.abs(teeth) > 0.5 * np.abs(teeth).max()
    if clear.sum() < 3:
        return 0.0
    slope = np.polyfit(rows[clear], np.unwrap(np.angle(teeth[clear])), 1)[0]
    return float(np.degrees(np.arctan(slope * strip.period_px / (2 * np.pi))))


def _directions(grey: NDArray[np.float32]) -> Iterator[float]:
    """Directions, degrees 0..180, across which most edges run."""
    smooth = cv2.GaussianBlur(grey, (0, 0), 0.8)
    dx, dy = cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1)
    # Ticks are many and faint, outlines few and strong: every edge above the grain counts alike.
    strength = np.hypot(dx, dy)
    edge = strength > max(16.0, float(np.percentile(strength, 80)))
    angles = np.degrees(np.arctan2(dy[edge], dx[edge])) % 180.0
    counts = np.bincount(np.minimum(angles.astype(int), 179), minlength=180).astype(np.float64)
    smoothed = np.convolve(np.tile(counts, 3), [0.25, 0.5, 0.25], "same")[180:360]
    for _ in range(_DIRECTIONS):
        peak = int(np.argmax(smoothed))
        if smoothed[peak] <= 0:
            return
        around = np.arange(peak - 2, peak + 3) % 180
        weights = counts[around]
        yield float(peak + 0.5 + (weights @ np.arange(-2, 3)) / max(float(weights.sum()), 1.0))
        smoothed[np.arange(peak - 4, peak + 5) % 180] = 0.0


def _turned(grey: NDArray[np.float32], angle_deg: float) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """The image turned so that a direction lies along its rows, and the (2, 3) way back."""
    height, width = grey.shape
    turn = cv2.getRotationMatrix2D((0.5 * (width - 1), 0.5 * (height - 1)), angle_deg, 1.0)
    size = (
        int(np.ceil(abs(turn[0, 0]) * width + abs(turn[0, 1]) * height)),
        int(np.ceil(abs(turn[0, 1]) * width + abs(turn[0, 0]) * height)),
    )
    turn[:, 2] += np.asarray(0.5 * (np.array(size) - (width, height)), dtype=np.float64)
    turned = cv2.warpAffine(grey, turn, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(turned, dtype=np.float32), np.asarray(cv2.invertAffineTransform(turn), dtype=np.float64)


def _best_strip(turned: NDArray[np.float32]) -> _Strip | None:
    """The band of rows with the longest run of windows that hold one comb."""
    height, width = turned.shape
    if height < 2 * _BAND_PX or width < WINDOW_PX:
        return None
    bands = cv2.blur(turned, (1, _BAND_PX))[_BAND_PX // 2 :: _STEP_ROWS]
    bands = bands - cv2.blur(bands, (61, 1))
    windows = np.lib.stride_tricks.sliding_window_view(bands, WINDOW_PX, axis=1)[:, ::_HOP_PX]
    # Most of a photograph is plain: only pieces with some contrast go through the transform.
    rough = windows[:, :, ::3].std(axis=2) > _LEAST_CONTRAST
    share, peak = np.zeros(rough.shape), np.ones(rough.shape)
    if rough.any():
        pieces = windows[rough] * np.hanning(WINDOW_PX).astype(np.float32)
        share[rough], peak[rough] = _comb(np.abs(np.fft.rfft(pieces, axis=1)) ** 2)
    good = share > _LEAST_SHARE
    best: _Strip | None = None
    for row in np.flatnonzero(good.sum(axis=1) >= _LEAST_WINDOWS).tolist():
        for first, last in _runs(good[row], peak[row]):
            weight = float(share[row, first : last + 1].sum())
            if last - first + 1 >= _LEAST_WINDOWS and (best is None or weight > best.weight):
                period = WINDOW_PX / float(np.median(peak[row, first : last + 1]))
                top = row * _STEP_ROWS
                best = _Strip(top, top + _BAND_PX, first * _HOP_PX, last * _HOP_PX + WINDOW_PX, period, weight)
    return best


def _comb(power: NDArray[np.floating[Any]]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Share of the power, (n, frequencies), in the best comb of each piece, and its fundamental in cycles a window."""
    total = power[:, 3:].sum(axis=1) + 1e-9
    low, high = int(np.ceil(WINDOW_PX / _PERIODS_PX[1])), int(WINDOW_PX / _PERIODS_PX[0])
    padded = np.pad(power, ((0, 0), (1, 1)))
    broad = (padded[:, :-2] + padded[:, 1:-1] + padded[:, 2:]) / total[:, None]
    fundamentals = np.arange(low, high + 1)
    own = broad[:, fundamentals]
    shares: NDArray[Any] = np.zeros(own.shape)
    for order in range(1, _HARMONICS + 1):
        inside = int(np.count_nonzero(order * fundamentals < power.shape[1] - 1))
        shares[:, :inside] = shares[:, :inside] + broad[:, order * fundamentals[:inside]]
    # Half the fundamental holds the same comb and noise between its teeth: the fundamental itself must be strong.
    shares = np.where(own > 0.35 * shares, shares, 0.0)
    best = shares.argmax(axis=1)
    peak = fundamentals[best]
    each = np.arange(len(power))
    left, middle, right = (np.log(power[each, peak + step] + 1e-9) for step in (-1, 0, 1))
    # The peak between bins, by the parabola through its logarithm.
    bend = np.minimum(left - 2 * middle + right, -1e-9)
    shift = np.clip(0.5 * (left - right) / bend, -0.5, 0.5)
    return np.asarray(shares.max(axis=1), dtype=np.float64), np.asarray(peak + shift, dtype=np.float64)


def _runs(good: NDArray[np.bool_], peak: NDArray[np.float64]) -> Iterator[tuple[int, int]]:
    """First and last of neighbouring windows that are good and hold nearly one period."""
    start: int | None = None
    for place in range(len(good)):
        goes_on = start is not None and good[place] and abs(np.log(peak[place] / peak[place - 1])) < 0.04
        if start is not None and not goes_on:
            yield start, place - 1
            start = None
        if start is None and good[place]:
            start = place
    if start is not None:
        yield start, len(good) - 1


def _followed(turned: NDArray[np.float32], strip: _Strip, back: NDArray[np.float64]) -> Ruler | None:
    """Follow the comb's phase along the strip, as far as it holds."""
    line = turned[strip.top : strip.bottom].mean(axis=0)
    line = line - cv2.blur(line[None], (max(3, 2 * round(2 * strip.period_px) + 1), 1))[0]
    x = np.arange(len(line), dtype=np.float64)
    wave = line * np.exp(-2j * np.pi * x / strip.period_px)
    sigma = 2.5 * strip.period_px
    parts = [cv2.GaussianBlur(part[None].astype(np.float64), (0, 0), sigma)[0] for part in (wave.real, wave.imag)]
    level = np.hypot(*parts)
    middle = slice(strip.left + WINDOW_PX // 4, strip.right - WINDOW_PX // 4)
    holds = level > 0.4 * float(np.median(level[middle]))
    first = last = (strip.left + strip.right) // 2
    while first > 0 and holds[first - 1]:
        first -= 1
    while last < len(line) - 1 and holds[last + 1]:
        last += 1
    # The outermost ticks are half smoothed into what lies beyond.
    inset = round(sigma)
    at = x[first + inset : last - inset]
    if (last - first) / strip.period_px < _LEAST_TICKS or len(at) < 3 * inset:
        return None
    phase = np.unwrap(np.arctan2(parts[1], parts[0])[first + inset : last - inset])
    return _measured(turned, strip, back, at, phase, (first, last))


def _measured(
    turned: NDArray[np.float32],
    strip: _Strip,
    back: NDArray[np.float64],
    at: NDArray[np.float64],
    phase: NDArray[np.float64],
    ends: tuple[int, int],
) -> Ruler | None:
    """Period from the slope of the phase; a bend of it is the slant of the camera."""
    middle, half = at.mean(), 0.5 * np.ptp(at)
    bend, slope, _ = np.polyfit((at - middle) / half, phase, 2)
    residual = phase - np.polyval(np.polyfit((at - middle) / half, phase, 2), (at - middle) / half)
    cycles = 1.0 / strip.period_px + slope / half / (2 * np.pi)
    if cycles <= 0 or float(residual.std()) > 0.8:
        return None
    period = 1.0 / cycles
    # Neighbouring phases are one smoothing long: so many of them are independent.
    independent = max(2.0, np.ptp(at) / (5.0 * strip.period_px))
    slope_sd = float(residual.std()) * np.sqrt(3.0 / independent) / half
    drift = -4.0 * bend / half / (2 * np.pi) * period
    start_phase = float(
        np.polyval([bend, slope, np.median(phase - np.polyval([bend, slope, 0.0], (at - middle) / half))], 0.0)
    )
    ticks_at = _tick_places(middle, half, (bend, slope, start_phase), strip.period_px, ends)
    unit, top, bottom = tick_unit(turned, ticks_at, (strip.top, strip.bottom), period)
    corners = np.array([(ends[0], top), (ends[1], top), (ends[1], bottom), (ends[0], bottom)], dtype=np.float64)
    return Ruler(
        period_px=float(period),
        period_sd_px=float(slope_sd / (2 * np.pi) * period**2),
        unit=unit,
        ticks=len(ticks_at),
        drift=float(drift),
        corners_px=corners @ back[:, :2].T + back[:, 2],
    )


def _tick_places(
    middle: float, half: float, fit: tuple[float, float, float], period_px: float, ends: tuple[int, int]
) -> NDArray[np.float64]:
    """Where the comb's phase comes round, px along the strip."""
    x = np.arange(ends[0], ends[1] + 1, dtype=np.float64)
    turns = x / period_px + np.polyval(fit, (x - middle) / half) / (2 * np.pi)
    whole = np.arange(np.ceil(turns[0]), np.floor(turns[-1]) + 1)
    return np.asarray(np.interp(whole, turns, x), dtype=np.float64)
