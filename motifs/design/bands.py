"""Reading a band: its axis, its repeat, and the mean repeat laid out straight.

The axis is the direction along which the picture, cleared of lines that run on without end (framing lines), repeats best.
Repeats that a hand squeezed or let slip are set upright on the mean repeat before anything is judged.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np
from scipy import ndimage

from motifs.design.correlation import ShiftMap, peaks_of, shift_correlation
from motifs.design.folding import Fold, best_shift, fold_of
from motifs.design.judging import probability
from motifs.design.pictures import resized, softened

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Plane = NDArray[np.float64]
    Mask = NDArray[np.bool_]

COARSE_PX = 150
FINE_PX = 420
CELL_COLUMNS = 48
LEAST_REPEATS = 1.5
LEAST_CORRELATION = 0.35
SAME_PEAK = 0.14
"""A shorter repeat is taken when its correlation is not lower than the best one's by more than this."""
RIVAL_PEAK = 0.3
"""Repeats whose correlation is lower than the best one's by up to this are laid out as well, and compared."""
NO_WORSE = 3.0
NO_WORSE_THAN_FLAT = 0.03
"""A shorter repeat is taken whose repeats differ no more than so many times the best one's, and a share of the pattern."""
LESS_THAN = 0.6
LESS_OF_FEW = 0.4
"""A longer repeat is needed when its repeats differ by less than this share of what the shorter one's do."""
SURELY_UNLIKE = 0.2
GLIMPSE = 1.2
"""Of a longer repeat so many must be seen to say that the shorter one is none."""
SOFTEN = 0.028
"""Blur before repeats are compared, in repeats: what a steady hand is off by."""
MOST_SLIP = 0.12
"""How far a repeat may have slipped, in repeats."""


@dataclass(frozen=True, slots=True)
class BandReading:
    """A band that repeats.

    axis_deg: direction of the band in the picture, from x towards y. repeat_px: in px of the picture. repeats: how
    many are seen. fold: the mean repeat, columns along the band. origin_px: (2,) point of the picture at column 0, row 0 of
    the first repeat; row_px: height of a row in px. correlation: of the picture with itself one repeat on.
    """

    axis_deg: float
    repeat_px: float
    repeats: float
    fold: Fold
    origin_px: tuple[float, float]
    row_px: float
    correlation: float


@dataclass(frozen=True, slots=True)
class _Straight:
    """The picture turned so that the band runs along x. back: (2, 3) from its px to px of the picture."""

    picture: Plane
    mask: Mask
    back: Plane


@dataclass(frozen=True, slots=True)
class _Period:
    """The likeliest repeat and its rivals, shortest first, itself among them; how far the band leans from the direction tried."""

    length_px: float
    correlation: float
    extent_px: float
    rivals_px: tuple[float, ...]
    lean_deg: float


def read_band(picture: Plane, mask: Mask) -> BandReading | None:
    """Find axis and repeat of a band.

    Parameters
    ----------
    picture : (h, w) float64, ink coverage or any signed value of the decoration.
    mask : (h, w) bool, where the decoration is seen.

    Returns
    -------
    BandReading or None
        None where nothing repeats, or fewer than LEAST_REPEATS repeats are seen.
    """
    if mask.sum() < 100 or float(picture[mask].std()) < 1e-6:
        return None
    coarse, coarse_mask, factor = resized(picture, mask, COARSE_PX)
    tried = {}
    for angle in _axis_candidates(coarse, coarse_mask):
        tried[angle] = _period_along(_straightened(coarse, coarse_mask, angle))
    found = {angle: period for angle, period in tried.items() if period is not None}
    if not found:
        return None
    best = max(found, key=lambda angle: found[angle].correlation)
    best = _finer_axis(coarse, coarse_mask, best)
    period = _period_along(_straightened(coarse, coarse_mask, best))
    if period is None:
        return None
    return _most_coherent(picture, mask, best, period, factor)


def _most_coherent(picture: Plane, mask: Mask, angle: float, period: _Period, factor: float) -> BandReading | None:
    """Read the band by each repeat in question; of those whose repeats are about as alike as any, take the shortest."""
    readings = []
    for length in period.rivals_px:
        one = _laid_out(picture, mask, angle, replace(period, length_px=length), factor)
        if one is not None:
            readings.append(one)
    if not readings:
        return None
    least = min(one.fold.noise for one in readings)
    alike = [one for one in readings if one.fold.noise <= NO_WORSE * least + NO_WORSE_THAN_FLAT * one.fold.signal]
    return _longest_needed(picture, mask, angle, period, factor, min(alike, key=lambda one: one.repeat_px))


def _longest_needed(
    picture: Plane, mask: Mask, angle: float, period: _Period, factor: float, reading: BandReading
) -> BandReading | None:
    """Keep to the repeat found; or take two or three of it for one where these are not alike, if enough is seen then."""
    for times in (2, 3):
        length = times * reading.repeat_px * factor
        if period.extent_px < GLIMPSE * length:
            break
        longer = _laid_out(picture, mask, angle, replace(period, length_px=length), factor)
        if longer is None:
            continue
        chance = _comes_back_early(longer.fold, times)
        # With less than two of the longer repeat to compare, it fits itself too easily.
        less = LESS_THAN if period.extent_px >= 2 * length else LESS_OF_FEW
        is_cleaner = longer.fold.noise < less * reading.fold.noise - 0.01 * reading.fold.signal
        is_clean = longer.fold.noise < 0.02 * reading.fold.noise
        if (chance < SURELY_UNLIKE and is_cleaner) or (chance < 2 * SURELY_UNLIKE and is_clean):
            return longer if period.extent_px >= LEAST_REPEATS * length else None
    return reading


def _comes_back_early(fold: Fold, times: int) -> float:
    """Probability that the mean of a longer repeat comes back after one part of `times`."""
    ny, nx = fold.cell.shape
    rows, columns = np.arange(-(ny - 1), ny)[:, None], np.arange(nx)[None, :]
    slack = max(1, round(0.05 * nx))
    allowed = (np.abs(columns - nx / times) <= slack) & (np.abs(rows) <= slack)
    fit = best_shift(fold, fold, allowed, cyclic_rows=False)
    return 1.0 if fit is None else probability(fit, fold.coherence)


def _axis_candidates(picture: Plane, mask: Mask) -> list[float]:
    """Directions in degrees, -90..90: of the strongest shifts, and of the lines that run on."""
    shifts = shift_correlation(picture, mask)
    peaks = peaks_of(shifts, least=0.25, least_overlap=0.12, most=6)
    angles = [float(np.degrees(np.arctan2(dy, dx))) for dx, dy, _ in peaks]
    row, column = shifts.centre
    reach = np.linspace(0.1, 0.5, 25) * max(picture.shape)
    around = np.arange(-90.0, 90.0, 2.0)
    along = [
        ndimage.map_coordinates(
            shifts.values, [row + reach * np.sin(np.radians(a)), column + reach * np.cos(np.radians(a))], order=1
        ).mean()
        for a in around
    ]
    angles.append(float(around[int(np.argmax(along))]))
    kept: list[float] = []
    for angle in ((a + 90) % 180 - 90 for a in angles):
        if all(abs((angle - other + 90) % 180 - 90) > 3 for other in kept):
            kept.append(angle)
    return kept


def _straightened(picture: Plane, mask: Mask, angle_deg: float) -> _Straight:
    """Turn the picture by -angle, so that the band runs along x; no px is lost."""
    h, w = picture.shape
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    size = (int(np.ceil(w * abs(c) + h * abs(s))) + 1, int(np.ceil(w * abs(s) + h * abs(c))) + 1)
    to_new = np.array([[c, s, 0.0], [-s, c, 0.0]])
    to_new[:, 2] = np.array(size) / 2 - to_new[:, :2] @ [w / 2, h / 2]
    weight = cv2.warpAffine(mask.astype(np.float64), to_new, size, flags=cv2.INTER_LINEAR)
    value = cv2.warpAffine(np.where(mask, picture, 0.0), to_new, size, flags=cv2.INTER_LINEAR)
    straight = np.asarray(value / np.maximum(weight, 1e-6), np.float64)
    return _Straight(straight, np.asarray(weight > 0.6), np.asarray(cv2.invertAffineTransform(to_new), np.float64))


def _without_lines(straight: _Straight) -> Plane:
    """Take each row's mean out: what runs on along the band cannot tell where it repeats."""
    count = straight.mask.sum(axis=1)
    total = np.where(straight.mask, straight.picture, 0.0).sum(axis=1)
    level = float(straight.picture[straight.mask].mean())
    mean = np.where(count >= 8, total / np.maximum(count, 1), level)
    return np.where(straight.mask, straight.picture - mean[:, None], 0.0)


def _period_along(straight: _Straight) -> _Period | None:
    """Shortest shift along x that repeats as well as any, to a part of a pixel; None if nothing repeats."""
    cleared = _without_lines(straight)
    variance = float(cleared[straight.mask].var())
    if variance < 0.04 * float(straight.picture[straight.mask].var()):
        return None
    extent = _extent_px(cleared, straight.mask)
    shifts = shift_correlation(cleared, straight.mask)
    row, column = shifts.centre
    slack = max(1, round(0.02 * straight.picture.shape[0]))
    block = shifts.values[row - slack : row + slack + 1, column:]
    block = np.where(shifts.overlap[row - slack : row + slack + 1, column:] > 0.08, block, -1.0)
    profile = block.max(axis=0)
    peaks = _repeat_peaks(profile, extent)
    if not peaks:
        return None
    best = max(profile[peak] for peak in peaks)
    first = next(peak for peak in peaks if profile[peak] >= best - SAME_PEAK)
    length = _over_many(profile, first, extent)
    rivals = tuple(_over_many(profile, peak, extent) for peak in peaks if profile[peak] >= best - RIVAL_PEAK)[:4]
    lean = _lean_deg(shifts, length, extent)
    return _Period(length, float(profile[first]), extent, rivals, lean)


def _repeat_peaks(profile: Plane, extent: float) -> list[int]:
    """Shifts that are local maxima, strong enough, past the first dip, and seen LEAST_REPEATS times."""
    below = np.flatnonzero(profile < 0.5 * LEAST_CORRELATION)
    if not below.size:
        return []
    last = min(int(extent / LEAST_REPEATS), len(profile) - 2)
    return [
        x
        for x in range(max(int(below[0]), 4), last + 1)
        if profile[x] >= LEAST_CORRELATION and profile[x] >= profile[max(x - 3, 0) : x + 4].max()
    ]


def _extent_px(cleared: Plane, mask: Mask) -> float:
    """Length of band seen: columns where at least half of the band's energy-weighted rows are in the mask."""
    energy = np.where(mask, cleared**2, 0.0).sum(axis=1) / np.maximum(mask.sum(axis=1), 1)
    weight = energy / max(float(energy.sum()), 1e-12)
    return float((weight @ mask >= 0.5).sum())


def _over_many(profile: Plane, first: int, extent: float) -> float:
    """Refine a repeat by its multiples that are still seen."""
    length = _parabola(profile, first)
    for times in range(2, int(extent * 0.85 / max(length, 1.0)) + 1):
        guess = round(length * times)
        low = max(guess - max(2, round(0.1 * length)), 1)
        high = min(guess + max(2, round(0.1 * length)) + 1, len(profile) - 1)
        if high - low < 3:
            break
        peak = low + int(np.argmax(profile[low:high]))
        if profile[peak] < LEAST_CORRELATION or peak in (low, high - 1):
            break
        length = _parabola(profile, peak) / times
    return length


def _parabola(profile: Plane, x: int) -> float:
    bend = profile[x - 1] - 2 * profile[x] + profile[x + 1]
    return float(x) if bend >= -1e-9 else float(x + np.clip(0.5 * (profile[x - 1] - profile[x + 1]) / bend, -0.5, 0.5))


def _lean_deg(shifts: ShiftMap, length: float, extent: float) -> float:
    """Direction of the farthest repeat that is still seen, from x towards y: the longer the lever, the finer the angle."""
    row, column = shifts.centre
    lean = 0.0
    for times in range(1, int(extent * 0.85 / max(length, 1.0)) + 1):
        x = round(column + times * length)
        slack_x, slack_y = (
            max(2, round(0.08 * length)),
            max(2, round(0.12 * length)) if times == 1 else max(2, round(0.08 * length)),
        )
        y = row + round(times * length * np.tan(np.radians(lean)))
        window = shifts.values[y - slack_y : y + slack_y + 1, x - slack_x : x + slack_x + 1]
        shared = shifts.overlap[y - slack_y : y + slack_y + 1, x - slack_x : x + slack_x + 1]
        window = np.where(shared > 0.08, window, -1.0)
        if window.size == 0 or window.max() < LEAST_CORRELATION:
            break
        dy, dx = np.unravel_index(int(np.argmax(window)), window.shape)
        lean = float(np.degrees(np.arctan2(y - slack_y + dy - row, x - slack_x + dx - column)))
    return lean


def _finer_axis(picture: Plane, mask: Mask, angle_deg: float) -> float:
    """Turn to where the farthest repeat lies level with the first, as long as that repeats no worse."""
    period = _period_along(_straightened(picture, mask, angle_deg))
    for _ in range(3):
        if period is None or abs(period.lean_deg) < 0.2:
            break
        turned = _period_along(_straightened(picture, mask, angle_deg + period.lean_deg))
        if turned is None or turned.correlation < period.correlation - 0.03:
            break
        angle_deg, period = angle_deg + period.lean_deg, turned
    return angle_deg


def _laid_out(picture: Plane, mask: Mask, angle: float, period: _Period, factor: float) -> BandReading | None:
    """Cut the straightened picture, at a finer scale, into repeats and lay them over one another."""
    fine, fine_mask, fine_factor = resized(picture, mask, FINE_PX)
    straight = _straightened(fine, fine_mask, angle)
    length = period.length_px / factor * fine_factor
    soft = softened(straight.picture, straight.mask, SOFTEN * length)
    ys = np.flatnonzero(straight.mask.any(axis=1))
    xs = np.flatnonzero(straight.mask.any(axis=0))
    row_px = max(length / CELL_COLUMNS, 1.0)
    rows = np.arange(ys[0], ys[-1] + 1, row_px)
    sampler = _Sampler(soft, straight.mask, float(xs[0]), length, rows, int(np.ceil((xs[-1] - xs[0] + 1) / length)))
    slips = np.zeros((sampler.count, 2))
    for _ in range(2):
        slips = _slips(*sampler.sample(slips), slips, length, row_px)
    fold = fold_of(*sampler.sample(slips))
    if fold is None:
        return None
    origin = straight.back[:, :2] @ [float(xs[0]), float(rows[0])] + straight.back[:, 2]
    return BandReading(
        angle,
        length / fine_factor,
        period.extent_px / period.length_px,
        fold,
        (float(origin[0] / fine_factor), float(origin[1] / fine_factor)),
        row_px / fine_factor,
        period.correlation,
    )


@dataclass(frozen=True, slots=True)
class _Sampler:
    """Samples repeat after repeat of a straightened picture into cells of CELL_COLUMNS columns."""

    picture: Plane
    mask: Mask
    start_px: float
    length_px: float
    rows_px: Plane
    count: int

    def sample(self, slips: Plane) -> tuple[Plane, Mask]:
        """(k, ny, nx) values and what is seen; slips: (k, 2) x, y in px of each repeat's middle, linear between them."""
        places = (np.arange(self.count * CELL_COLUMNS) + 0.5) / CELL_COLUMNS
        middles = np.arange(self.count) + 0.5
        x = self.start_px + places * self.length_px + np.interp(places, middles, slips[:, 0])
        y = np.interp(places, middles, slips[:, 1])
        coords = np.broadcast_arrays(self.rows_px[:, None] + y[None, :], x[None, :])
        values = ndimage.map_coordinates(self.picture, coords, order=1, mode="nearest")
        seen = ndimage.map_coordinates(self.mask.astype(np.float64), coords, order=1, mode="constant") > 0.5
        shape = (len(self.rows_px), self.count, CELL_COLUMNS)
        return values.reshape(shape).transpose(1, 0, 2), seen.reshape(shape).transpose(1, 0, 2)


def _slips(repeats: Plane, seen: Mask, slips: Plane, length_px: float, row_px: float) -> Plane:
    """How far each repeat is to be moved to lie on the mean of the others, added to what it was moved already."""
    count, ny, nx = repeats.shape
    most_x = max(1, round(MOST_SLIP * nx))
    most_y = min(max(1, round(0.06 * nx)), max(1, ny // 8))
    out = slips.copy()
    for k in range(count):
        others = [j for j in range(count) if j != k]
        number = seen[others].sum(axis=0)
        if (number[seen[k]] > 0).sum() < 0.25 * seen[k].size:
            continue
        mean = np.where(number > 0, np.where(seen[others], repeats[others], 0).sum(axis=0) / np.maximum(number, 1), 0)
        dx, dy = _best_offset(repeats[k], seen[k], mean, number > 0, (most_x, most_y))
        # Half of the way: the others move as well.
        step = 0.5 if count == 2 else 0.8
        out[k] += step * np.array([dx * length_px / nx, dy * row_px])
    out = np.clip(out, -MOST_SLIP * length_px, MOST_SLIP * length_px)
    return np.asarray(out - out.mean(axis=0), np.float64)


def _best_offset(
    one: Plane, one_seen: Mask, mean: Plane, mean_seen: Mask, most: tuple[int, int]
) -> tuple[float, float]:
    """Shift (x, y) in bins at which a repeat, sampled that much further on, agrees best with the mean."""
    best, least = (0.0, 0.0), np.inf
    for dy in range(-most[1], most[1] + 1):
        for dx in range(-most[0], most[0] + 1):
            a = (slice(max(dy, 0), one.shape[0] + min(dy, 0)), slice(max(dx, 0), one.shape[1] + min(dx, 0)))
            b = (slice(max(-dy, 0), one.shape[0] - max(dy, 0)), slice(max(-dx, 0), one.shape[1] - max(dx, 0)))
            both = one_seen[a] & mean_seen[b]
            if both.sum() < 0.2 * one.size:
                continue
            gap = float(((one[a] - mean[b]) ** 2 * both).sum() / both.sum()) * (1 + 0.02 * (abs(dx) + abs(dy)))
            if gap < least:
                best, least = (float(dx), float(dy)), gap
    return best
