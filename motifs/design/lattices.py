"""Reading an all-over design: the two shortest shifts that repeat it, and the mean cell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import ndimage

from motifs.design.bands import SOFTEN
from motifs.design.correlation import ShiftMap, peaks_of, shift_correlation
from motifs.design.folding import Fold, best_shift, fold_of
from motifs.design.judging import probability
from motifs.design.pictures import resized, softened

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Plane = NDArray[np.float64]
    Mask = NDArray[np.bool_]

COARSE_PX = 190
FINE_PX = 420
CELL_SIDE = 36
LEAST_CORRELATION = 0.35
LEAST_OVERLAP = 0.1
SAME_PEAK = 0.15
LEAST_CELLS = 2.5
LEAST_ROWS = 1.5
SMALLEST_ANGLE_DEG = 25.0


@dataclass(frozen=True, slots=True)
class PlaneReading:
    """An all-over design that repeats both ways.

    basis_px: (2, 2) float64, rows are the two shortest shifts in px of the picture. cells: how many are seen. fold: mean
    cell, [v, u] in fractions of the two shifts. origin_px: (2,) of the picture at u = v = 0. rows: how often the design is
    seen to repeat in the direction in which it is seen least.
    """

    basis_px: Plane
    cells: float
    rows: float
    fold: Fold
    origin_px: tuple[float, float]
    correlation: float


def read_plane(picture: Plane, mask: Mask) -> PlaneReading | None:
    """Find the repeat of an all-over design.

    Parameters
    ----------
    picture, mask : as for `read_band`.

    Returns
    -------
    PlaneReading or None
        None where the design does not repeat both ways, LEAST_ROWS times at least.
    """
    if mask.sum() < 100 or float(picture[mask].std()) < 1e-6:
        return None
    coarse, coarse_mask, factor = resized(picture, mask, COARSE_PX)
    shifts = shift_correlation(coarse, coarse_mask)
    peaks = peaks_of(shifts, least=LEAST_CORRELATION, least_overlap=LEAST_OVERLAP, most=24)
    found = _best_basis(shifts, peaks)
    if found is None:
        return None
    basis, correlation = found
    cells = float(coarse_mask.sum()) / abs(float(np.linalg.det(basis)))
    rows = _rows_seen(coarse_mask, basis)
    if cells < LEAST_CELLS or rows < LEAST_ROWS:
        return None
    return _largest_needed(picture, mask, basis / factor, cells, correlation)


def _largest_needed(picture: Plane, mask: Mask, basis: Plane, cells: float, correlation: float) -> PlaneReading | None:
    """Read the design by the cell found, or by two of it where neighbours are not alike."""
    reading = _laid_out(picture, mask, basis, cells, _rows_seen(mask, basis), correlation)
    worst, best = 0.5, reading
    for double in (((2, 0), (0, 1)), ((1, 0), (0, 2)), ((1, 1), (1, -1))):
        larger = np.array(double) @ basis
        if reading is None or cells / 2 < LEAST_CELLS or _rows_seen(mask, reduced(larger)) < LEAST_ROWS:
            continue
        twice = _laid_out(picture, mask, larger, cells / 2, _rows_seen(mask, reduced(larger)), correlation)
        chance = 1.0 if twice is None else _comes_back_early(twice.fold, double)
        if twice is not None and chance < worst:
            tidy = reduced(larger)
            worst, best = chance, _laid_out(picture, mask, tidy, twice.cells, twice.rows, correlation)
    return best


def _comes_back_early(fold: Fold, double: tuple[tuple[int, int], tuple[int, int]]) -> float:
    """Probability that a cell twice as large comes back after half of it."""
    n = fold.cell.shape[0]
    u, v = {((2, 0), (0, 1)): (0.5, 0.0), ((1, 0), (0, 2)): (0.0, 0.5)}.get(double, (0.5, 0.5))
    columns, rows = np.arange(n)[None, :], np.arange(n)[:, None]

    def near(places: NDArray[np.int_], middle: float) -> Mask:
        gap = np.abs(places - middle * n)
        return np.asarray(np.minimum(gap, n - gap) <= 0.05 * n)

    fit = best_shift(fold, fold, near(columns, u) & near(rows, v), cyclic_rows=True)
    return 1.0 if fit is None else probability(fit, fold.coherence)


def reduced(basis: Plane) -> Plane:
    """Return the shortest basis of the same lattice (Lagrange-Gauss), its rows at 60 to 90 degrees, the shorter first."""
    a, b = np.array(basis[0], np.float64), np.array(basis[1], np.float64)
    for _ in range(100):
        if a @ a > b @ b:
            a, b = b, a
        step = round(float(a @ b) / max(float(a @ a), 1e-12))
        if step == 0:
            break
        b = b - step * a
    return np.stack([a, b if a @ b >= 0 else -b])


def _best_basis(shifts: ShiftMap, peaks: list[tuple[float, float, float]]) -> tuple[Plane, float] | None:
    """Return the smallest cell whose shifts all correlate nearly as well as those of any cell."""
    options: list[tuple[float, float, Plane]] = []
    for i, one in enumerate(peaks):
        for other in peaks[i + 1 :]:
            basis = reduced(np.array([one[:2], other[:2]]))
            lengths = np.linalg.norm(basis, axis=1)
            area = abs(float(np.linalg.det(basis)))
            if area < np.sin(np.radians(SMALLEST_ANGLE_DEG)) * lengths[0] * lengths[1] or lengths[0] < 5:
                continue
            value = _lattice_correlation(shifts, basis)
            if value is not None and value >= LEAST_CORRELATION:
                options.append((area, value, basis))
    if not options:
        return None
    best = max(value for _, value, _ in options)
    _, value, basis = min(
        (option for option in options if option[1] >= best - SAME_PEAK),
        key=lambda option: (round(option[0] / 8), -option[1]),
    )
    return reduced(_refined(shifts, basis)), value


def _near_shifts(shifts: ShiftMap, basis: Plane, reach: int = 2) -> list[tuple[int, int, Plane]]:
    """Lattice points (i, j, (dx, dy)) of one half plane that are seen with enough overlap."""
    (row, column), out = shifts.centre, []
    for i in range(reach + 1):
        for j in range(-reach, reach + 1):
            if (i, j) <= (0, 0):
                continue
            at = np.array([i, j]) @ basis
            y, x = round(at[1]) + row, round(at[0]) + column
            inside = 0 <= y < shifts.values.shape[0] and 0 <= x < shifts.values.shape[1]
            if inside and shifts.overlap[y, x] >= LEAST_OVERLAP:
                out.append((i, j, at))
    return out


def _peak_near(shifts: ShiftMap, at: Plane, slack: int) -> tuple[Plane, float]:
    row, column = shifts.centre
    y, x = round(float(at[1])) + row, round(float(at[0])) + column
    y0, x0 = max(y - slack, 0), max(x - slack, 0)
    window = shifts.values[y0 : y + slack + 1, x0 : x + slack + 1]
    dy, dx = np.unravel_index(int(np.argmax(window)), window.shape)
    return np.array([x0 + dx - column, y0 + dy - row], np.float64), float(window[dy, dx])


def _lattice_correlation(shifts: ShiftMap, basis: Plane) -> float | None:
    """Mean correlation over the nearest lattice points, both directions among them; None if one is not seen."""
    points = _near_shifts(shifts, basis)
    if not {(1, 0), (0, 1)} <= {(i, j) for i, j, _ in points}:
        return None
    slack = max(1, round(0.06 * float(np.linalg.norm(basis[0]))))
    weights = np.array([1.0 / (i * i + j * j) for i, j, _ in points])
    values = np.array([_peak_near(shifts, at, slack)[1] for _, _, at in points])
    return float(weights @ values / weights.sum())


def _refined(shifts: ShiftMap, basis: Plane) -> Plane:
    """Fit the basis to the peaks nearest to its lattice points, by least squares."""
    slack = max(2, round(0.1 * float(np.linalg.norm(basis[0]))))
    for _ in range(2):
        rows, places, weights = [], [], []
        for i, j, at in _near_shifts(shifts, basis):
            place, value = _peak_near(shifts, at, slack)
            if value >= LEAST_CORRELATION:
                rows.append([i, j])
                places.append(place)
                weights.append(value)
        design = np.array(rows, np.float64)
        if len(rows) < 2 or np.linalg.matrix_rank(design) < 2:
            return basis
        root = np.sqrt(np.array(weights))[:, None]
        basis = np.linalg.lstsq(design * root, np.array(places) * root, rcond=None)[0]
    return basis


def _rows_seen(mask: Mask, basis: Plane) -> float:
    """How many lattice rows are seen, across the direction in which fewest are."""
    ys, xs = np.nonzero(mask)
    points = np.column_stack([xs, ys]).astype(np.float64)[:: max(1, len(xs) // 4000)]
    fractions = points @ np.linalg.inv(basis)
    spans = np.quantile(fractions, 0.97, axis=0) - np.quantile(fractions, 0.03, axis=0)
    return float(spans.min()) / 0.94


def _laid_out(
    picture: Plane, mask: Mask, basis: Plane, cells: float, rows: float, correlation: float
) -> PlaneReading | None:
    fine, fine_mask, factor = resized(picture, mask, FINE_PX)
    scaled = basis * factor
    soft = softened(fine, fine_mask, SOFTEN * float(np.sqrt(abs(np.linalg.det(scaled)))))
    origin = np.array([fine.shape[1], fine.shape[0]]) / 2.0
    slips: dict[tuple[int, int], Plane] = {}
    fold = fold_of(*_cells(soft, fine_mask, scaled, origin, slips)[:2])
    if fold is not None:
        slips = _slips(*_cells(soft, fine_mask, scaled, origin, slips), fold, slips, scaled)
        fold = fold_of(*_cells(soft, fine_mask, scaled, origin, slips)[:2])
    if fold is None:
        return None
    centre = origin / factor
    return PlaneReading(basis, cells, rows, fold, (float(centre[0]), float(centre[1])), correlation)


def _cells(
    picture: Plane, mask: Mask, basis: Plane, origin: Plane, slips: dict[tuple[int, int], Plane]
) -> tuple[Plane, Mask, list[tuple[int, int]]]:
    """Sample every cell of which something is seen: (k, n, n) values and what is seen, and which cell it is."""
    h, w = picture.shape
    corners = (np.array([[0, 0], [w, 0], [0, h], [w, h]]) - origin) @ np.linalg.inv(basis)
    low, high = np.floor(corners.min(axis=0)).astype(int), np.ceil(corners.max(axis=0)).astype(int)
    grid = np.arange(CELL_SIDE) / CELL_SIDE
    v, u = np.meshgrid(grid, grid, indexing="ij")
    base = np.stack([u, v], axis=-1) @ basis + origin
    values, seen, places = [], [], []
    for i in range(low[0], high[0] + 1):
        for j in range(low[1], high[1] + 1):
            at = base + np.array([i, j]) @ basis + slips.get((i, j), np.zeros(2))
            coords = [at[..., 1], at[..., 0]]
            there = ndimage.map_coordinates(mask.astype(np.float64), coords, order=1, mode="constant") > 0.5
            if there.mean() > 0.05:
                values.append(ndimage.map_coordinates(picture, coords, order=1, mode="nearest"))
                seen.append(there)
                places.append((i, j))
    if not values:
        return np.zeros((0, CELL_SIDE, CELL_SIDE)), np.zeros((0, CELL_SIDE, CELL_SIDE), bool), []
    return np.stack(values), np.stack(seen), places


def _slips(
    values: Plane,
    seen: Mask,
    places: list[tuple[int, int]],
    fold: Fold,
    slips: dict[tuple[int, int], Plane],
    basis: Plane,
) -> dict[tuple[int, int], Plane]:
    """Set every cell that is seen well upright on the mean of the others: phase correlation within a tenth of a cell."""
    out = dict(slips)
    n = CELL_SIDE
    near = np.minimum(np.arange(n), n - np.arange(n)) <= round(0.1 * n)
    allowed = near[:, None] & near[None, :]
    for value, there, place in zip(values, seen, places, strict=True):
        if there.mean() < 0.4:
            continue
        others = fold.count - there
        known = (others > 0) & there
        mean = np.where(known, (fold.cell * fold.count - value * there) / np.maximum(others, 1), 0.0)
        level = float(fold.cell[fold.count > 0].mean())
        a, b = np.where(known, value - level, 0.0), np.where(known, mean - level, 0.0)
        lag = np.fft.ifft2(np.fft.fft2(a) * np.conj(np.fft.fft2(b))).real
        dv, du = np.unravel_index(int(np.argmax(np.where(allowed, lag, -np.inf))), lag.shape)
        step = np.array([(du + n // 2) % n - n // 2, (dv + n // 2) % n - n // 2]) / n
        out[place] = out.get(place, np.zeros(2)) + 0.8 * step @ basis
    return out


def lattice_kind(basis: Plane) -> str:
    """Name the lattice of a reduced basis: square, hexagonal, rectangular, rhombic or oblique, within a hand's error."""
    a, b = np.linalg.norm(basis, axis=1)
    angle = np.degrees(np.arccos(np.clip(float(basis[0] @ basis[1]) / (a * b), -1, 1)))
    is_equal, is_right = bool(b / a < 1.08), bool(abs(angle - 90) < 5)
    if is_equal and is_right:
        return "square"
    if is_equal and abs(angle - 60) < 5:
        return "hexagonal"
    if is_right:
        return "rectangular"
    leans_half = abs(float(basis[0] @ basis[1]) / (a * a) - 0.5) < 0.07
    return "rhombic" if is_equal or leans_half else "oblique"


def turned_basis(basis: Plane) -> float:
    """Direction of the shorter shift in degrees, from x towards y, -90..90."""
    angle = float(np.degrees(np.arctan2(basis[0, 1], basis[0, 0])))
    return (angle + 90) % 180 - 90
