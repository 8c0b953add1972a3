"""Laying the repeats of a design over one another: the mean repeat, how much the repeats differ, and what a move changes.

The variance between repeats estimates noise, wear and the unsteadiness of the hand; what a supposed symmetry adds on top,
as a share of the pattern's own variance, is its excess. Excess is 0 for a true symmetry on average, whatever the noise.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft, ndimage

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Plane = NDArray[np.float64]

LEAST_SHARE_SEEN = 0.6
"""A move is judged only where so much of the pattern's energy is seen both before and after it."""

PART = 0.07
"""Standard deviation of the window that makes a small part of the cell, relative to the cell."""

UNSEEN = 9.0
"""Excess of a shift at which too little can be compared."""


@dataclass(frozen=True, slots=True)
class Fold:
    """The mean repeat.

    cell: (ny, nx) float64, zero where nothing is seen. count: (ny, nx) float64, how many repeats show each place. noise:
    variance of one repeat about the mean of all. signal: variance of the pattern itself. coherence: signal over both, 0..1.
    unlike: the largest variance between repeats of one small part of the cell, in units of the pattern's variance.
    """

    cell: Plane
    count: Plane
    noise: float
    signal: float
    unlike: float

    @property
    def coherence(self) -> float:
        """Share of the variance that repeats."""
        return self.signal / max(self.signal + self.noise, 1e-12)


def fold_of(repeats: Plane, seen: NDArray[np.bool_]) -> Fold | None:
    """Average repeats and split their variance.

    Parameters
    ----------
    repeats : (k, ny, nx) float64, the picture repeat by repeat.
    seen : (k, ny, nx) bool.

    Returns
    -------
    Fold or None
        None where no place is seen twice, so that nothing can be said of the noise.
    """
    count = seen.sum(axis=0).astype(np.float64)
    if (count >= 2).sum() < 0.1 * count.size:
        return None
    cell = np.where(seen, repeats, 0.0).sum(axis=0) / np.maximum(count, 1)
    twice = seen & (count >= 2)
    spread = np.where(count >= 2, (((repeats - cell) ** 2) * twice).sum(axis=0) / np.maximum(count - 1, 1), 0.0)
    freedom = np.where(count >= 2, count - 1, 0)
    within = float((spread * freedom).sum() / freedom.sum())
    signal = max(float(repeats[seen].var()) - within, 0.0)
    near = ndimage.gaussian_filter(spread, PART * np.sqrt(spread.size), mode=["constant", "wrap"])
    share = ndimage.gaussian_filter((count >= 2).astype(float), PART * np.sqrt(spread.size), mode=["constant", "wrap"])
    unlike = float((near / np.maximum(share, 0.3)).max()) / max(signal, 1e-9)
    return Fold(np.where(count > 0, cell, 0.0), count, within, signal, unlike)


@dataclass(frozen=True, slots=True)
class MoveFit:
    """How well a move carries the mean repeat onto itself.

    shift: (x, y) in bins of the cell. excess: as above. worst: the largest excess of one small part of the cell, in units of
    the pattern's variance. seen: share of the energy compared.
    """

    shift: tuple[int, int]
    excess: float
    worst: float
    seen: float


def best_shift(fold: Fold, moved: Fold, allowed: NDArray[np.bool_], *, cyclic_rows: bool) -> MoveFit | None:
    """Find the shift at which a moved cell agrees best with the cell.

    Parameters
    ----------
    fold, moved : the cell, and the same cell turned or mirrored; columns are cyclic.
    allowed : (rows, nx) bool of the shifts to try: rows is ny when they are cyclic, else 2 ny - 1 with no shift at ny - 1.
    cyclic_rows : whether rows wrap round.

    Returns
    -------
    MoveFit or None
        None where too little is seen of the pattern at every allowed shift.
    """
    excess, share = _excess_by_shift(fold, moved, cyclic_rows)
    tried = np.where(allowed & (share >= LEAST_SHARE_SEEN), excess, UNSEEN)
    row, column = np.unravel_index(int(np.argmin(tried)), tried.shape)
    if tried[row, column] >= UNSEEN:
        return None
    dy = int(row) if cyclic_rows else int(row) - (fold.cell.shape[0] - 1)
    worst = _worst_part(fold, moved, int(column), dy, cyclic_rows)
    return MoveFit((int(column), dy), float(tried[row, column]), worst, float(share[row, column]))


def _excess_by_shift(fold: Fold, moved: Fold, cyclic_rows: bool) -> tuple[Plane, Plane]:
    """Excess and share of energy seen, for every shift (rows, columns)."""
    ny, nx = fold.cell.shape
    rows = ny if cyclic_rows else fft.next_fast_len(2 * ny - 1, real=True)

    def spectrum(values: Plane) -> NDArray[np.complex128]:
        return np.asarray(fft.rfft2(values, (rows, nx)))

    def lagged(a: Plane, b: Plane) -> Plane:
        return np.asarray(fft.irfft2(spectrum(a) * np.conj(spectrum(b)), (rows, nx)))

    here, there = (fold.count > 0).astype(float), (moved.count > 0).astype(float)
    energy = (fold.cell - _level(fold)) ** 2
    compared = lagged(here, there)
    squared = lagged(here * fold.cell**2, there) + lagged(here, there * moved.cell**2)
    squared -= 2 * lagged(here * fold.cell, there * moved.cell)
    chance = lagged(here / np.maximum(fold.count, 1), there) + lagged(here, there / np.maximum(moved.count, 1))
    gap = (squared - fold.noise * chance) / np.maximum(compared, 1e-9)
    seen = lagged(here * energy, there) / max(float((here * energy).sum()), 1e-12)
    excess = np.where(compared > 0.5, gap / (2 * max(fold.signal, 1e-9)), UNSEEN)
    if not cyclic_rows:
        order = np.r_[np.arange(-(ny - 1), 0), np.arange(ny)]
        return excess[order], seen[order]
    return excess, seen


def _level(fold: Fold) -> float:
    """Value of the bare ground: the median of what is seen."""
    return float(np.median(fold.cell[fold.count > 0]))


def _worst_part(fold: Fold, moved: Fold, dx: int, dy: int, cyclic_rows: bool) -> float:
    """Largest excess of a part about a tenth of the cell across."""
    cell, count = _rolled(moved.cell, dx, dy, cyclic_rows), _rolled(moved.count, dx, dy, cyclic_rows)
    both = ((fold.count > 0) & (count > 0)).astype(float)
    chance = fold.noise * (1 / np.maximum(fold.count, 1) + 1 / np.maximum(count, 1))
    gap = both * ((fold.cell - cell) ** 2 - chance) / (2 * max(fold.signal, 1e-9))
    sigma = PART * np.sqrt(gap.size)
    mode = ["wrap" if cyclic_rows else "constant", "wrap"]
    near, weight = (ndimage.gaussian_filter(one, sigma, mode=mode) for one in (gap, both))
    return float((near / np.maximum(weight, 0.3)).max())


def _rolled(values: Plane, dx: int, dy: int, cyclic_rows: bool) -> Plane:
    shifted = np.roll(values, dx, axis=1)
    if cyclic_rows:
        return np.roll(shifted, dy, axis=0)
    out = np.zeros_like(shifted)
    ny = values.shape[0]
    out[max(dy, 0) : ny + min(dy, 0)] = shifted[max(-dy, 0) : ny - max(dy, 0)]
    return out
