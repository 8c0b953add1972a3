"""How a picture with a ragged outline compares with itself, shifted: the start of every search for a repeat.

Masked correlation by Fourier transform follows Padfield 2012 (IEEE Transactions on Image Processing 21, 2706-2718), with a
floor under the local variance: where a shift leaves little but bare ground in common, that is no agreement.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft, ndimage

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Plane = NDArray[np.float64]
    Mask = NDArray[np.bool_]

VARIANCE_FLOOR = 0.35


@dataclass(frozen=True, slots=True)
class ShiftMap:
    """Correlation and overlap for every whole shift.

    values: (2h-1, 2w-1) float64, -1..1; shift (dy, dx) stands at [h-1+dy, w-1+dx]. overlap: share of the mask that is
    compared, 0..1, same shape.
    """

    values: Plane
    overlap: Plane

    @property
    def centre(self) -> tuple[int, int]:
        """Row and column of no shift."""
        rows, columns = self.values.shape
        return rows // 2, columns // 2


def shift_correlation(picture: Plane, mask: Mask) -> ShiftMap:
    """Correlate a picture with itself at every shift, counting only what lies in the mask on both sides.

    Parameters
    ----------
    picture : (h, w) float64
    mask : (h, w) bool, at least one pixel
    """
    shape = [fft.next_fast_len(2 * side - 1, real=True) for side in picture.shape]
    weight = mask.astype(np.float64)
    level = float(picture[mask].mean())
    values = np.where(mask, picture - level, 0.0)
    f, m, f2 = (fft.rfft2(one, shape) for one in (values, weight, values * values))

    def lagged(a: NDArray[np.complex128], b: NDArray[np.complex128]) -> Plane:
        return _centred(fft.irfft2(np.conj(a) * b, shape), picture.shape)

    count = np.maximum(lagged(m, m), 1e-9)
    there, here = lagged(m, f) / count, lagged(f, m) / count
    var_there, var_here = lagged(m, f2) / count - there**2, lagged(f2, m) / count - here**2
    floor = VARIANCE_FLOOR * float(values[mask].var()) + 1e-12
    spread = np.sqrt(np.maximum(var_there, floor) * np.maximum(var_here, floor))
    share = count / weight.sum()
    correlation = (lagged(f, f) / count - there * here) / spread
    return ShiftMap(np.where(share > 1e-3, correlation, 0.0), np.where(share > 1e-6, share, 0.0))


def _centred(cyclic: Plane, shape: tuple[int, ...]) -> Plane:
    h, w = shape
    rows = np.r_[np.arange(-(h - 1), 0), np.arange(h)]
    columns = np.r_[np.arange(-(w - 1), 0), np.arange(w)]
    return np.asarray(cyclic[np.ix_(rows, columns)], np.float64)


def peaks_of(shifts: ShiftMap, *, least: float, least_overlap: float, most: int) -> list[tuple[float, float, float]]:
    """Local maxima in one half plane, as (dx, dy, correlation), strongest first; the middle lobe is left out."""
    values, (row, column) = shifts.values, shifts.centre
    smooth = ndimage.gaussian_filter(values, 1.0)
    highest = ndimage.maximum_filter(smooth, size=5)
    found = (smooth >= highest) & (values >= least) & (shifts.overlap >= least_overlap) & ~_middle_lobe(values)
    ys, xs = np.nonzero(found)
    dy, dx = ys - row, xs - column
    half = (dx > 0) | ((dx == 0) & (dy > 0))
    order = np.argsort(-values[ys[half], xs[half]], kind="stable")[:most]
    return [_refined(values, int(ys[half][k]), int(xs[half][k]), row, column) for k in order]


def _middle_lobe(values: Plane) -> Mask:
    """Return where a shift still compares strokes with themselves: the connected top of the middle peak."""
    labels, _ = ndimage.label(values > 0.6)
    row, column = values.shape[0] // 2, values.shape[1] // 2
    lobe = labels == labels[row, column]
    near = np.hypot(*np.meshgrid(np.arange(values.shape[0]) - row, np.arange(values.shape[1]) - column, indexing="ij"))
    return np.asarray((lobe & (near < 6)) | (near < 4))


def _refined(values: Plane, y: int, x: int, row: int, column: int) -> tuple[float, float, float]:
    """Peak to a part of a pixel, by a parabola each way."""
    offsets = []
    for step_y, step_x in ((0, 1), (1, 0)):
        if not (0 < y < values.shape[0] - 1 and 0 < x < values.shape[1] - 1):
            offsets.append(0.0)
            continue
        low, high = values[y - step_y, x - step_x], values[y + step_y, x + step_x]
        bend = low - 2 * values[y, x] + high
        offsets.append(0.0 if bend >= -1e-9 else float(np.clip(0.5 * (low - high) / bend, -0.5, 0.5)))
    return x - column + offsets[0], y - row + offsets[1], float(values[y, x])
