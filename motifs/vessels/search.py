"""Search over the number of vessels: many starts for each number, the best bound kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from sklearn.cluster import KMeans

from motifs.vessels.constraints import fewest_vessels, settle_labels
from motifs.vessels.mixture import Fit, Problem, fit_mixture

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST_VESSELS = 12
PATIENCE = 2
"""Stop once this many more vessels in a row have made the bound worse."""
SHORT_ROUNDS = 12


@dataclass(frozen=True, slots=True)
class Candidate:
    """The best sorting found for one number of vessels. labels: (units,) exact under the links."""

    vessels: int
    fit: Fit
    labels: NDArray[np.intp]
    log_weight: float  # bound plus the log prior of the number of vessels


def log_prior(vessels: int, vessel_nats: float) -> float:
    """Log prior of the number of vessels, from what each has to earn.

    Each beyond the second costs `vessel_nats` (calibrated on practice lots). The second costs a third of that: a lot is
    sorted because more than one pot is suspected.
    """
    return 0.0 if vessels < 2 else -vessel_nats * (vessels - 2 + 1 / 3)


def search_numbers(problem: Problem, *, vessels: int | None, seed: int, vessel_nats: float) -> list[Candidate]:
    """Candidates by number of vessels, ascending; only `vessels` when it is given.

    Numbers that the cannot-links forbid are left out. Deterministic for a seed.
    """
    least = max(1, fewest_vessels(problem.repelled))
    most = max(least, min(MOST_VESSELS, problem.unit_count))
    numbers = [vessels] if vessels is not None else list(range(least, most + 1))
    found: list[Candidate] = []
    for number in numbers:
        rng = np.random.default_rng((seed, number))
        candidate = _best_of_starts(problem, number, found[-1] if found else None, rng, vessel_nats)
        if candidate is not None:
            found.append(candidate)
        if len(found) > PATIENCE and _has_peaked(found):
            break
    return found


def _has_peaked(found: list[Candidate]) -> bool:
    best = max(candidate.log_weight for candidate in found)
    return all(candidate.log_weight < best - 8 for candidate in found[-PATIENCE:])


def _best_of_starts(
    problem: Problem, number: int, smaller: Candidate | None, rng: np.random.Generator, vessel_nats: float
) -> Candidate | None:
    trial = [fit_mixture(problem, start, SHORT_ROUNDS) for start in _starts(problem, number, smaller, rng)]
    trial.sort(key=lambda fit: -fit.bound)
    best: Candidate | None = None
    for fit in trial[:3]:
        settled = fit_mixture(problem, fit.share, state=fit.state)
        labels = settle_labels(settled.share, problem.repelled)
        if labels is None:
            continue
        weight = settled.bound + log_prior(number, vessel_nats)
        if best is None or weight > best.log_weight:
            best = Candidate(number, settled, labels, weight)
    return best


def _starts(
    problem: Problem, number: int, smaller: Candidate | None, rng: np.random.Generator
) -> list[NDArray[np.float64]]:
    """Responsibilities to begin with: k-means on all cues, on each cue alone, and the smaller sorting with one vessel split."""
    units = problem.unit_count
    if number == 1:
        return [np.ones((units, 1))]
    whole = [_unit_means(problem, None)] * 3
    alone = [_unit_means(problem, block) for block in range(len(problem.blocks))]
    starts = []
    for points in whole + alone:
        label = _kmeans(points, number, rng)
        if label is not None:
            starts.append(_soften(label, number))
    if smaller is not None and smaller.vessels == number - 1:
        starts += _split_starts(problem, smaller, number)
    return starts or [_soften(np.arange(units) % number, number)]


def _unit_means(problem: Problem, only: int | None) -> NDArray[np.float64]:
    """Mean calibrated reading of each unit, absent cues at the lot's centre, components shrunk by their reach."""
    columns = []
    for index, block in enumerate(problem.blocks):
        if only is not None and index != only:
            continue
        total = np.zeros((problem.unit_count, block.x.shape[1]))
        count = np.zeros(problem.unit_count)
        mass = np.where(block.present, 1 / block.spread, 0.0)
        np.add.at(total, problem.units, block.x * mass[:, None])
        np.add.at(count, problem.units, mass)
        reach = np.sqrt(block.between / (1 + block.between))
        columns.append(np.clip(total / np.maximum(count, 1e-9)[:, None], -8, 8) * reach)
    return np.concatenate(columns, axis=1) if columns else np.zeros((problem.unit_count, 1))


def _kmeans(points: NDArray[np.float64], number: int, rng: np.random.Generator) -> NDArray[np.intp] | None:
    if len(np.unique(points, axis=0)) < number:
        return None
    seed = int(rng.integers(2**31 - 1))
    return np.asarray(KMeans(number, n_init=3, max_iter=30, random_state=seed).fit(points).labels_, np.intp)


def _split_starts(problem: Problem, smaller: Candidate, number: int) -> list[NDArray[np.float64]]:
    """The smaller sorting, each of its vessels in turn cut in two along its longest axis."""
    points = _unit_means(problem, None)
    label = smaller.fit.share.argmax(axis=1)
    starts = []
    for vessel in range(number - 1):
        inside = np.flatnonzero(label == vessel)
        if inside.size < 4:
            continue
        centred = points[inside] - points[inside].mean(axis=0)
        axis = np.linalg.svd(centred, full_matrices=False)[2][0]
        cut = label.copy()
        cut[inside[centred @ axis > 0]] = number - 1
        starts.append(_soften(cut, number))
    return starts


def _soften(label: NDArray[np.intp], number: int) -> NDArray[np.float64]:
    share = np.full((len(label), number), 0.1 / number)
    share[np.arange(len(label)), label] += 0.9
    return share
