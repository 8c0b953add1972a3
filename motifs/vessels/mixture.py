"""Variational mixture of vessels over calibrated cue blocks, for a fixed number of vessels.

Model, for sherd i of photograph p in vessel k, cue block b, component d (all diagonal, see records.CueBlock):
    x_id ~ Normal(m_kd + o_pd, scale_b * spread_ib / u_ib),   u_ib ~ Gamma(tail_b / 2, tail_b / 2)   (Student spread)
    m_kd ~ Normal(0, breadth_b * between_d),   o_pd ~ Normal(0, photo_sd_d^2),   z ~ Dirichlet mixture.
scale_b and breadth_b adapt each cue to the lot under log-normal-like priors centred on practice lots. Updates are the usual
variational ones (Attias 2000; Bishop 2006, chapter 10; Svensen & Bishop 2005 for the Student part). Sherds tied by must-links
share one z; cannot-links repel in the updates and are made exact in constraints.py.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import digamma, gammaln

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.records import CueBlock

SCALE_WEIGHT = 20.0
"""Prior pseudo-readings behind each cue's within-vessel scale."""
SETTLING_ROUNDS = 4
BREADTH_WEIGHT = 4.0
"""Prior pseudo-vessels (components) behind each cue's between-vessel breadth."""
CONCENTRATION = 2.0
REPEL = 25.0


@dataclass(frozen=True, slots=True)
class Problem:
    """A lot made ready: centred blocks, photographs, units (must-link components) and repelling pairs of units."""

    blocks: tuple[CueBlock, ...]
    photos: NDArray[np.intp]
    units: NDArray[np.intp]
    repelled: NDArray[np.bool_]

    @property
    def unit_count(self) -> int:
        """Number of must-link components."""
        return int(self.repelled.shape[0])


@dataclass(frozen=True, slots=True)
class Fit:
    """A fitted mixture of K vessels. share: (units, K) responsibilities; bound: evidence lower bound, natural log."""

    share: NDArray[np.float64]
    bound: float
    pull: NDArray[np.float64]  # (blocks, n, K) expected log likelihood of each sherd under each vessel, by cue
    state: State


@dataclass(frozen=True, slots=True)
class State:
    """What the updates carry from round to round, one entry a block."""

    scale: tuple[float, ...]
    breadth: tuple[float, ...]
    weight: tuple[NDArray[np.float64], ...]  # (n,) expected u
    offset: tuple[NDArray[np.float64], ...]  # (photos, d)


def make_problem(
    blocks: Sequence[CueBlock], photos: NDArray[np.intp], units: NDArray[np.intp], repelled: NDArray[np.bool_]
) -> Problem:
    """Centre every block on the lot's median; blocks nobody shows are dropped."""
    ready = []
    for block in blocks:
        if block.present.any():
            centre = np.median(block.x[block.present], axis=0)
            ready.append(replace(block, x=np.where(block.present[:, None], block.x - centre, 0.0)))
    return Problem(tuple(ready), photos, units, repelled)


def fit_mixture(problem: Problem, share: NDArray[np.float64], rounds: int = 60, state: State | None = None) -> Fit:
    """Run the updates from a start.

    Parameters
    ----------
    share : (units, K) float64
        Responsibilities to begin with; rows sum to 1.
    rounds : int
        At most this many rounds; stops when the bound settles.
    """
    if state is None:
        state = _first_state(problem)
        for _ in range(SETTLING_ROUNDS):  # let the scales fit the start before anything may leave its vessel
            state = _one_round(problem, share, state).state
    fit = _one_round(problem, share, state)
    for turn in range(1, rounds):
        previous = fit.bound
        fit = _one_round(problem, fit.share, fit.state)
        if turn > 3 and abs(fit.bound - previous) < 1e-3:
            break
    return fit


def _first_state(problem: Problem) -> State:
    photos = int(problem.photos.max()) + 1 if problem.photos.size else 1
    count = len(problem.blocks)
    return State(
        (1.0,) * count,
        (1.0,) * count,
        tuple(np.ones(len(problem.photos)) for _ in problem.blocks),
        tuple(np.zeros((photos, block.x.shape[1])) for block in problem.blocks),
    )


@dataclass(frozen=True, slots=True)
class _BlockTurn:
    pull: NDArray[np.float64]
    scale: float
    breadth: float
    weight: NDArray[np.float64]
    offset: NDArray[np.float64]
    bound: float


def _one_round(problem: Problem, share: NDArray[np.float64], state: State) -> Fit:
    own = share[problem.units]
    turns = [
        _turn_block(block, problem.photos, own, scale, breadth, weight, offset)
        for block, scale, breadth, weight, offset in zip(
            problem.blocks, state.scale, state.breadth, state.weight, state.offset, strict=True
        )
    ]
    pull = np.stack([turn.pull for turn in turns]) if turns else np.zeros((0, *own.shape))
    new_share, mixing_bound = _share_out(problem, share, pull.sum(axis=0))
    bound = mixing_bound + sum(turn.bound for turn in turns)
    next_state = State(
        tuple(turn.scale for turn in turns),
        tuple(turn.breadth for turn in turns),
        tuple(turn.weight for turn in turns),
        tuple(turn.offset for turn in turns),
    )
    return Fit(new_share, float(bound), pull, next_state)


def _turn_block(
    block: CueBlock,
    photos: NDArray[np.intp],
    own: NDArray[np.float64],
    scale: float,
    breadth: float,
    weight: NDArray[np.float64],
    offset: NDArray[np.float64],
) -> _BlockTurn:
    """Update one cue given who belongs where; returns its pull on each sherd and its part of the bound."""
    d = block.x.shape[1]
    certain = np.where(block.present, block.say * weight / (block.spread * scale), 0.0)
    moved = block.x - offset[photos]
    prior = breadth * block.between
    precision = 1 / prior + (own.T @ certain)[:, None]
    centre = (own.T @ (certain[:, None] * moved)) / precision
    variance = 1 / precision
    # squared distance of every sherd to every vessel, in units of the spread before u and scale
    far = _squared(moved, centre) + variance.sum(axis=1)[None, :]
    mean_far = (own * far).sum(axis=1) / block.spread
    shape = (block.tail + d) / 2
    rate = (block.tail + mean_far / scale) / 2
    new_weight = np.where(block.present, shape / rate, 1.0)
    log_weight = digamma(shape) - np.log(rate)
    used = block.present
    new_scale = (SCALE_WEIGHT + (new_weight * mean_far)[used].sum()) / (SCALE_WEIGHT + used.sum() * d)
    new_breadth = (BREADTH_WEIGHT + ((centre**2 + variance) / block.between).sum()) / (BREADTH_WEIGHT + centre.size)
    new_offset = _photo_offset(block, photos, own @ centre, certain)
    half = 0.5 * d * (log_weight - np.log(block.spread * scale) - np.log(2 * np.pi))
    reach = new_weight / (block.spread * scale)
    pull = np.where(used[:, None], block.say * (half[:, None] - 0.5 * reach[:, None] * far), 0.0)
    bound = (
        -block.say * _gamma_divergence(shape, rate[used], block.tail / 2)
        + 0.5 * (np.log(variance / prior) + 1 - (centre**2 + variance) / prior).sum()
        - 0.5 * block.say * SCALE_WEIGHT * (np.log(scale) + 1 / scale)
        - 0.5 * BREADTH_WEIGHT * (np.log(breadth) + 1 / breadth)
        - 0.5 * (offset**2 / block.photo_sd**2).sum()
    )
    return _BlockTurn(pull, float(new_scale), float(new_breadth), new_weight, new_offset, float(bound))


def _squared(points: NDArray[np.float64], centres: NDArray[np.float64]) -> NDArray[np.float64]:
    gap = (points**2).sum(axis=1)[:, None] - 2 * points @ centres.T + (centres**2).sum(axis=1)[None, :]
    return np.asarray(np.maximum(gap, 0.0))


def _photo_offset(
    block: CueBlock, photos: NDArray[np.intp], expected: NDArray[np.float64], certain: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Posterior mean of what each photograph adds, centred so that it cannot stand in for a vessel."""
    count = int(photos.max()) + 1 if photos.size else 1
    left = (block.x - expected) * certain[:, None]
    total = np.stack([np.bincount(photos, left[:, c], minlength=count) for c in range(block.x.shape[1])], axis=1)
    mass = np.bincount(photos, certain, minlength=count)[:, None]
    offset = total / (mass + 1 / block.photo_sd**2)
    return np.asarray(offset - (offset * mass).sum(axis=0) / max(mass.sum(), 1e-12))


def _share_out(
    problem: Problem, share: NDArray[np.float64], pull: NDArray[np.float64]
) -> tuple[NDArray[np.float64], float]:
    """New responsibilities of the units, and the mixing part of the bound."""
    vessels = share.shape[1]
    size = share.sum(axis=0) + CONCENTRATION
    log_mix = digamma(size) - digamma(size.sum())
    unit_pull = np.zeros_like(share)
    np.add.at(unit_pull, problem.units, pull)
    logits = unit_pull + log_mix - REPEL * (problem.repelled @ share)
    logits -= logits.max(axis=1, keepdims=True)
    new = np.exp(logits)
    new /= new.sum(axis=1, keepdims=True)
    entropy = -(new * np.log(np.maximum(new, 1e-300))).sum()
    divergence = _dirichlet_divergence(size, CONCENTRATION)
    return new, float((new * (unit_pull + log_mix)).sum() + entropy - divergence + gammaln(vessels + 1))


def _gamma_divergence(shape: float, rate: NDArray[np.float64], prior: float) -> float:
    """KL of Gamma(shape, rate) from Gamma(prior, prior), summed."""
    terms = (
        (shape - prior) * digamma(shape)
        - gammaln(shape)
        + gammaln(prior)
        + prior * (np.log(rate) - np.log(prior))
        + shape * (prior - rate) / rate
    )
    return float(terms.sum())


def _dirichlet_divergence(size: NDArray[np.float64], concentration: float) -> float:
    prior = np.full_like(size, concentration)
    return float(
        gammaln(size.sum())
        - gammaln(size).sum()
        - gammaln(prior.sum())
        + gammaln(prior).sum()
        + ((size - prior) * (digamma(size) - digamma(size.sum()))).sum()
    )
