"""Fit the calibration of the cues on practice lots whose vessels are known.

For each cue: within-vessel deviations, what the cues before explain of them (ridge regression), their robust covariance,
the between-vessel covariance inside lots by moments (minus the sampling share of the within part), common axes by the
generalised eigenproblem, the part that is common to a photograph, the tail, and how the spread grows with the stated uncertainty.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.linalg import eigh

from motifs.evidence.calibration import Calibration, CueModel, calibrated_block
from motifs.evidence.components import CUE_ORDER, component_count, raw_components

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from motifs.records import CueBlock, CueReading

KEPT_AXES = {"vessel_vector": 10}
MIN_VESSEL_SHERDS = 4
LEAST_BETWEEN = 0.05
HUBER = 2.5
NEUTRAL_SUPPORT = (-3.0, 1.0, 0.0, 0.0)
NEUTRAL_RANGE = (65.0, 0.8)


@dataclass(frozen=True, slots=True)
class KnownLot:
    """A practice lot: readings of its sherds, and for each sherd its true vessel and its photograph."""

    readings: tuple[Mapping[str, CueReading], ...]
    vessels: tuple[int, ...]
    photos: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Pool:
    """All lots side by side. vessel and photo labels are unique over lots; lot: (N,)."""

    readings: tuple[Mapping[str, CueReading], ...]
    lot: NDArray[np.intp]
    vessel: NDArray[np.intp]
    photo: NDArray[np.intp]


def fit_calibration(lots: Sequence[KnownLot], made_by: str, cues: Sequence[str] = CUE_ORDER) -> Calibration:
    """Fit all cues in order; cues that fewer than 200 sherds show are left out.

    The support curve and the range start neutral: they are fitted afterwards, on sorted lots (motifs.training).
    """
    pool = _pool(lots)
    done: dict[str, CueBlock] = {}
    models: list[CueModel] = []
    for cue in cues:
        model = _fit_cue(cue, pool, tuple(done), done)
        if model is not None:
            models.append(model)
            done[cue] = calibrated_block(model, pool.readings, done)
    return Calibration(tuple(models), 45.0, NEUTRAL_SUPPORT, NEUTRAL_RANGE, made_by)


def _pool(lots: Sequence[KnownLot]) -> _Pool:
    lot = np.concatenate([np.full(len(item.vessels), index) for index, item in enumerate(lots)])
    vessel = np.concatenate([np.asarray(item.vessels) for item in lots])
    photo = np.concatenate([np.asarray(item.photos) for item in lots])
    readings = tuple(reading for item in lots for reading in item.readings)
    return _Pool(readings, lot, _unique_pairs(lot, vessel), _unique_pairs(lot, photo))


def _unique_pairs(lot: NDArray[np.intp], label: NDArray[np.intp]) -> NDArray[np.intp]:
    """Labels 0.. that are unique over lots."""
    pairs = np.stack([lot, label], axis=1)
    return np.asarray(np.unique(pairs, axis=0, return_inverse=True)[1].reshape(-1), np.intp)


def _fit_cue(cue: str, pool: _Pool, earlier: tuple[str, ...], done: Mapping[str, CueBlock]) -> CueModel | None:
    length = component_count(cue, pool.readings)
    if not length:
        return None
    raw, sd, present = raw_components(cue, pool.readings, length)
    used_before = tuple(name for name in earlier if done[name].present[present].mean() > 0.9) if present.any() else ()
    told = present.copy()
    for name in used_before:
        told &= done[name].present
    rows = np.flatnonzero(told & _in_big_vessels(pool.vessel, told))
    if rows.size < 200:
        return None
    centre = np.median(raw[rows], axis=0)
    known = np.concatenate([done[name].x for name in used_before], axis=1) if used_before else np.zeros((len(raw), 0))
    regression = _regression(known[rows], raw[rows] - centre, pool.vessel[rows])
    cleared = raw - centre - known @ regression
    axes, between = _axes(cleared[rows], pool.vessel[rows], pool.lot[rows], KEPT_AXES.get(cue, length))
    turned = cleared[rows] @ axes
    noise = (sd[rows] ** 2 @ axes**2).mean(axis=1)
    photo_sd = _photo_sd(turned, pool.vessel[rows], pool.photo[rows])
    deviation = _deviations(turned, pool.vessel[rows])
    floor, slope = _spread(deviation, noise)
    return CueModel(
        cue,
        centre,
        used_before,
        regression,
        axes,
        between,
        photo_sd,
        _tail(deviation, np.maximum(floor + slope * noise, 0.2)),
        floor,
        slope,
    )


def _in_big_vessels(vessel: NDArray[np.intp], present: NDArray[np.bool_]) -> NDArray[np.bool_]:
    size = np.bincount(vessel[present], minlength=int(vessel.max()) + 1)
    return np.asarray(size[vessel] >= MIN_VESSEL_SHERDS)


def _means(values: NDArray[np.float64], group: NDArray[np.intp]) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Robust (Huber) means of each group, shape (G, d), and the row of each value's group."""
    _, label = np.unique(group, return_inverse=True)
    count = int(label.max()) + 1
    centre = np.stack([np.median(values[label == g], axis=0) for g in range(count)])
    gap = values - centre[label]
    spread = 1.4826 * np.median(np.abs(gap), axis=0) + 1e-9
    weight = np.minimum(1.0, HUBER * spread / np.maximum(np.abs(gap), 1e-12))
    total = np.stack([np.bincount(label, (weight * values)[:, c]) for c in range(values.shape[1])], axis=1)
    mass = np.stack([np.bincount(label, weight[:, c]) for c in range(values.shape[1])], axis=1)
    return total / mass, label


def _deviations(values: NDArray[np.float64], vessel: NDArray[np.intp]) -> NDArray[np.float64]:
    """Distance from the vessel's mean, corrected for the degree of freedom that the mean took."""
    centre, label = _means(values, vessel)
    size = np.bincount(label)
    return np.asarray((values - centre[label]) * np.sqrt(size / np.maximum(size - 1, 1))[label][:, None])


def _regression(known: NDArray[np.float64], raw: NDArray[np.float64], vessel: NDArray[np.intp]) -> NDArray[np.float64]:
    """Within-vessel ridge regression of a cue on what came before, shape (known, raw)."""
    if known.shape[1] == 0:
        return np.zeros((0, raw.shape[1]))
    x, y = np.clip(_deviations(known, vessel), -4, 4), _deviations(raw, vessel)
    limit = 4 * 1.4826 * np.median(np.abs(y), axis=0) + 1e-9
    y = np.clip(y, -limit, limit)
    return np.asarray(np.linalg.solve(x.T @ x + 0.01 * len(x) * np.eye(x.shape[1]), x.T @ y))


def _axes(
    cleared: NDArray[np.float64], vessel: NDArray[np.intp], lot: NDArray[np.intp], keep: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Axes (c, d) with unit within-vessel variance, most telling first, and the between-vessel variance on each."""
    from sklearn.covariance import LedoitWolf  # noqa: PLC0415 - slow to import, and only fitting needs it

    deviation = _deviations(cleared, vessel)
    limit = HUBER * 1.4826 * np.median(np.abs(deviation), axis=0) + 1e-9
    within = LedoitWolf(assume_centered=True).fit(np.clip(deviation, -limit, limit)).covariance_
    centre, label = _means(cleared, vessel)
    size = np.bincount(label)
    lot_of = np.zeros(len(size), np.intp)
    lot_of[label] = lot
    apart, freedom = np.zeros_like(within), 0
    for number in np.unique(lot_of):
        inside = np.flatnonzero(lot_of == number)
        if inside.size > 1:
            gap = centre[inside] - centre[inside].mean(axis=0)
            apart += gap.T @ gap
            freedom += inside.size - 1
    apart = apart / max(freedom, 1) - within * float(np.mean(1 / size))
    values, vectors = eigh(apart, within + 1e-9 * np.trace(within) / len(within) * np.eye(len(within)))
    order = np.argsort(-values)[:keep]
    return vectors[:, order], np.maximum(values[order], LEAST_BETWEEN)


def _photo_sd(turned: NDArray[np.float64], vessel: NDArray[np.intp], photo: NDArray[np.intp]) -> NDArray[np.float64]:
    """Standard deviation of what a photograph adds to all its sherds, by moments of photo means of deviations."""
    deviation = _deviations(turned, vessel)
    centre, label = _means(deviation, photo)
    size = np.bincount(label)
    big = size >= 5
    if big.sum() < 5:
        return np.full(turned.shape[1], 0.1)
    variance = (centre[big] ** 2).mean(axis=0) - float(np.mean(1 / size[big]))
    return np.asarray(np.sqrt(np.maximum(variance, 0.01)))


def _spread(deviation: NDArray[np.float64], noise: NDArray[np.float64]) -> tuple[float, float]:
    """Floor and slope of the spread against the stated variance, from robust spreads in ten bins of it."""
    squared = np.minimum(deviation**2, 9.0).mean(axis=1)
    edges = np.quantile(noise, np.linspace(0, 1, 11))
    bins = np.clip(np.searchsorted(edges, noise, side="right") - 1, 0, 9)
    x = np.array([noise[bins == b].mean() for b in range(10) if (bins == b).any()])
    y = np.array([squared[bins == b].mean() for b in range(10) if (bins == b).any()])
    if np.ptp(x) < 1e-9:
        return float(y.mean()), 0.0
    slope = max(0.0, float(np.polyfit(x, y, 1)[0]))
    return max(0.2, float((y - slope * x).mean())), slope


def _tail(deviation: NDArray[np.float64], spread: NDArray[np.float64]) -> float:
    """Degrees of freedom of the Student spread, from the share of sherds more than three deviations out (4 to 30)."""
    far = float((np.abs(deviation / np.sqrt(spread)[:, None]) > 3).mean())
    table = ((0.0040, 30.0), (0.0075, 12.0), (0.0120, 8.0), (0.0200, 5.0))
    return next((freedom for share, freedom in table if far <= share), 4.0)
