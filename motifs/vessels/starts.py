"""Where the search starts: k-means on all cues and on each cue alone, the smaller sorting with one vessel cut, answers spread."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse.csgraph import connected_components

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.vessels.mixture import Problem

STRONG_JOIN_NATS = 4.0
"""Sherds joined with at least this evidence start out in one vessel."""
OWN_NATS = 2.0
"""Weight of a sherd's own reading beside those of the sherds that fit it."""
SMOOTHING_ROUNDS = 12
LLOYD_ROUNDS = 8
KMEANS_TRIES = 3
FAR = 8.0
"""Calibrated units beyond which a reading moves no start any further."""


def unit_points(problem: Problem) -> list[NDArray[np.float64]]:
    """Mean calibrated reading of each unit, one (U, d) array a cue; absent at the lot's centre, shrunk by its reach.

    A cue that joined sherds of this lot were seen to vary in counts in units of what it varies here.
    """
    points = []
    for block in problem.blocks:
        mass = np.where(block.present, 1 / block.spread, 0.0)
        mean = block.x
        if problem.is_tied:
            total = np.zeros((problem.unit_count, block.x.shape[1]))
            count = np.zeros(problem.unit_count)
            np.add.at(total, problem.units, block.x * mass[:, None])
            np.add.at(count, problem.units, mass)
            mean = total / np.maximum(count, 1e-9)[:, None]
        usual = max(1.0, float(np.median(block.spread[block.present]))) if block.seen_here else 1.0
        points.append(np.clip(mean / np.sqrt(usual), -FAR, FAR) * np.sqrt(block.between / (1 + block.between)))
    return _pooled(points, problem)


def joined_points(points: list[NDArray[np.float64]], problem: Problem) -> list[NDArray[np.float64]]:
    """The points of all cues together and of each alone, every unit taking on more and more of what the units that fit it show.

    Averages over the neighbours of a graph, repeated: what is joined in a chain comes to lie close together. Empty without joins.
    """
    fits = problem.coupling.maximum(0.0)
    if not points or not (fits > 0).nnz:
        return []
    weight = np.asarray(fits.sum(axis=1)).reshape(-1, 1) + OWN_NATS
    smooth = np.concatenate(points, axis=1)
    for _ in range(SMOOTHING_ROUNDS):
        smooth = (fits @ smooth + OWN_NATS * smooth) / weight
    ends = np.cumsum([one.shape[1] for one in points])[:-1]
    return [np.asarray(smooth), *np.split(smooth, ends, axis=1)]


def _pooled(points: list[NDArray[np.float64]], problem: Problem) -> list[NDArray[np.float64]]:
    """Give units tied by strong joins the mean of all of them, so that every start keeps them together."""
    strong = problem.coupling > STRONG_JOIN_NATS
    if not strong.nnz:
        return points
    count, group = connected_components(strong, directed=False)
    size = np.bincount(group, minlength=count)[:, None]
    pooled = []
    for one in points:
        total = np.zeros((count, one.shape[1]))
        np.add.at(total, group, one)
        pooled.append((total / size)[group])
    return pooled


def starts_for(
    points: list[NDArray[np.float64]],
    number: int,
    smaller: NDArray[np.intp] | None,
    seeds: NDArray[np.intp],
    rng: np.random.Generator,
    joined: Sequence[NDArray[np.float64]] = (),
) -> NDArray[np.float64]:
    """Responsibilities to begin with, (S, U, number); the first from joins where there are any.

    Parameters
    ----------
    points : of `unit_points`
    smaller : (U,) labels of the best sorting with one vessel fewer, or None
    seeds : (U,) the vessel that answers name for a unit, or -1
    joined : of `joined_points`
    """
    units = len(seeds)
    if number == 1 or not points:
        return soften(np.zeros((1, units), np.intp) if number == 1 else _dealt(units, number), number)
    whole = np.concatenate(points, axis=1)
    found = [_kmeans(one, number, rng) for one in (*joined, whole, *points)]
    if smaller is not None:
        found += _cuts(whole, smaller, number)
    if len(np.unique(seeds[seeds >= 0])) == number:
        found += [_spread_seeds(one, seeds, number) for one in (whole, *points)]
    labels = [one for one in found if one is not None]
    return soften(np.stack(labels) if labels else _dealt(units, number), number)


def soften(labels: NDArray[np.intp], number: int) -> NDArray[np.float64]:
    """Labels (S, U) as responsibilities (S, U, number) that leave a tenth to chance."""
    return np.asarray(0.1 / number + 0.9 * (labels[..., None] == np.arange(number)))


def _dealt(units: int, number: int) -> NDArray[np.intp]:
    return np.asarray(np.arange(units) % number, np.intp)[None]


def _kmeans(points: NDArray[np.float64], number: int, rng: np.random.Generator) -> NDArray[np.intp] | None:
    """Lloyd's algorithm from k-means++ seeds (Arthur & Vassilvitskii 2007), the best of a few tries that run side by side."""
    tries = [_plus_plus(points, number, rng) for _ in range(KMEANS_TRIES)]
    seeds = [one for one in tries if one is not None]
    if len(seeds) < KMEANS_TRIES:
        return None
    centres = np.stack(seeds)  # (tries, number, d)
    label, loss = _nearest(points, centres)
    for _ in range(LLOYD_ROUNDS - 1):
        member = (label[:, None] == np.arange(number)[:, None]).astype(np.float64)
        size = member.sum(axis=2, keepdims=True)
        centres = np.where(size > 0, member @ points / np.maximum(size, 1), centres)
        before = label
        label, loss = _nearest(points, centres)
        if (label == before).all():
            break
    return np.asarray(label[int(loss.argmin())], np.intp)


def _nearest(points: NDArray[np.float64], centres: NDArray[np.float64]) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """The nearest of the centres (T, K, d) to each point, (T, n), and the summed squared distances, (T,), less a constant."""
    far = (centres**2).sum(axis=2)[..., None] - 2 * (centres @ points.T)
    return far.argmin(axis=1), far.min(axis=1).sum(axis=1)


def _plus_plus(points: NDArray[np.float64], number: int, rng: np.random.Generator) -> NDArray[np.float64] | None:
    chosen = [points[int(rng.integers(len(points)))]]
    nearest = ((points - chosen[0]) ** 2).sum(axis=1)
    while len(chosen) < number:
        total = nearest.sum()
        if total < 1e-12:
            return None
        pick = int(np.searchsorted(np.cumsum(nearest), rng.random() * total))
        chosen.append(points[min(pick, len(points) - 1)])
        nearest = np.minimum(nearest, ((points - chosen[-1]) ** 2).sum(axis=1))
    return np.stack(chosen)


def _squared(points: NDArray[np.float64], centres: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray((points**2).sum(axis=1)[:, None] - 2 * points @ centres.T + (centres**2).sum(axis=1))


def _cuts(points: NDArray[np.float64], smaller: NDArray[np.intp], number: int) -> list[NDArray[np.intp] | None]:
    """The smaller sorting, each of its vessels in turn cut in two along its longest axis."""
    cuts: list[NDArray[np.intp] | None] = []
    for vessel in range(number - 1):
        inside = np.flatnonzero(smaller == vessel)
        if inside.size < 4:
            continue
        centred = points[inside] - points[inside].mean(axis=0)
        axis = np.linalg.eigh(centred.T @ centred)[1][:, -1]
        cut = smaller.copy()
        cut[inside[centred @ axis > 0]] = number - 1
        cuts.append(cut)
    return cuts


def _spread_seeds(points: NDArray[np.float64], seeds: NDArray[np.intp], number: int) -> NDArray[np.intp]:
    """Every unit to the nearest mean of the units that answers have placed."""
    centres = np.stack([points[seeds == vessel].mean(axis=0) for vessel in range(number)])
    label = _squared(points, centres).argmin(axis=1)
    return np.asarray(np.where(seeds >= 0, seeds, label), np.intp)
