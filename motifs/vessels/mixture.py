"""Variational mixture of vessels over calibrated cue blocks, for a fixed number of vessels, several starts at once.

Model, for sherd i of photograph p in vessel k, cue block b, component d (all diagonal, see records.CueBlock):
    x_id ~ Normal(m_kd + o_pd, scale_bk * spread_ib / u_ib),   u_ib ~ Gamma(tail_b / 2, tail_b / 2)   (Student spread)
    m_kd ~ Normal(0, breadth_b * between_d),   o_pd ~ Normal(0, photo_sd_d^2),   z ~ Dirichlet mixture.
scale and breadth adapt each cue to the lot, and scale to each vessel, under log-normal-like priors centred on practice lots.
Updates are the usual variational ones (Attias 2000; Bishop 2006, chapter 10; Svensen & Bishop 2005 for the Student part).
Sherds tied by must-links share one z. Pairs of units that fit at their edges pull together by their log-likelihood ratio (a
Potts term, mean field); cannot-links repel in the updates and are made exact in constraints.py.
Every array of a fit has a leading axis S, the starts.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.sparse import csr_array
from scipy.special import digamma, gammaln

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.records import CueBlock, Links

SCALE_WEIGHT = 20.0
"""Prior pseudo-readings behind each cue's within-vessel scale."""
VESSEL_WEIGHT = 40.0
"""Prior pseudo-readings behind each vessel's departure from the lot's scale."""
SETTLING_ROUNDS = 3
BREADTH_WEIGHT = 4.0
"""Prior pseudo-vessels (components) behind each cue's between-vessel breadth."""
CONCENTRATION = 2.0
REPEL = 25.0
SETTLED_NATS = 0.1


@dataclass(frozen=True, slots=True)
class Problem:
    """A lot made ready: centred blocks, photographs, units (must-link components), repelling and fitting pairs of units.

    coupling: (U, U) sparse, symmetric: log-likelihood ratio of one vessel from joins, minus REPEL where repelled. links: the
    answers themselves, as positions of sherds.
    """

    blocks: tuple[CueBlock, ...]
    photos: NDArray[np.intp]
    units: NDArray[np.intp]
    repelled: NDArray[np.bool_]
    coupling: Any
    links: Links

    @property
    def unit_count(self) -> int:
        """Number of must-link components."""
        return int(self.repelled.shape[0])

    @property
    def is_tied(self) -> bool:
        """Whether some unit holds several sherds."""
        return self.unit_count < len(self.units)


@dataclass(frozen=True, slots=True)
class Fit:
    """Mixtures of K vessels fitted from S starts.

    share: (S, U, K) responsibilities; bound: (S,) evidence lower bounds, natural log; pull: (B, S, n, K) expected log
    likelihood of each sherd under each vessel, by cue.
    """

    share: NDArray[np.float64]
    bound: NDArray[np.float64]
    pull: NDArray[np.float64]
    state: tuple[BlockState, ...]

    def only(self, starts: NDArray[np.intp]) -> Fit:
        """The fits of some starts."""
        return Fit(
            self.share[starts],
            self.bound[starts],
            self.pull[:, starts],
            tuple(state.only(starts) for state in self.state),
        )


@dataclass(frozen=True, slots=True)
class BlockState:
    """What the updates of one cue carry on: scale (S,), ratio (S, K), breadth (S,), weight (S, n), offset (S, photos, d)."""

    scale: NDArray[np.float64]
    ratio: NDArray[np.float64]
    breadth: NDArray[np.float64]
    weight: NDArray[np.float64]
    offset: NDArray[np.float64]

    def only(self, starts: NDArray[np.intp]) -> BlockState:
        """The state of some starts."""
        return BlockState(
            self.scale[starts], self.ratio[starts], self.breadth[starts], self.weight[starts], self.offset[starts]
        )


def make_problem(
    blocks: Sequence[CueBlock],
    photos: NDArray[np.intp],
    units: NDArray[np.intp],
    repelled: NDArray[np.bool_],
    links: Links,
    fitting: Any = None,
) -> Problem:
    """Centre every block on the lot's median; blocks nobody shows are dropped. fitting: (U, U) sparse join evidence."""
    ready = []
    for block in blocks:
        if block.present.any():
            centre = np.median(block.x[block.present], axis=0)
            ready.append(replace(block, x=np.where(block.present[:, None], block.x - centre, 0.0)))
    coupling = csr_array(repelled.astype(np.float64) * -REPEL) if repelled.any() else csr_array(repelled.shape)
    return Problem(tuple(ready), photos, units, repelled, coupling if fitting is None else coupling + fitting, links)


def part_of(problem: Problem, chosen: NDArray[np.intp]) -> Problem:
    """The same lot with some of its units only, in order."""
    place = np.full(problem.unit_count, -1, np.intp)
    place[chosen] = np.arange(len(chosen))
    sherds = np.flatnonzero(place[problem.units] >= 0)
    new = {int(old): position for position, old in enumerate(sherds)}
    blocks = tuple(
        replace(block, x=block.x[sherds], present=block.present[sherds], spread=block.spread[sherds])
        for block in problem.blocks
    )
    same, different = (
        tuple((new[a], new[b]) for a, b in pairs if a in new and b in new)
        for pairs in (problem.links.same, problem.links.different)
    )
    return Problem(
        blocks,
        problem.photos[sherds],
        place[problem.units[sherds]],
        problem.repelled[np.ix_(chosen, chosen)],
        problem.coupling[chosen][:, chosen],
        replace(problem.links, same=same, different=different),
    )


def fit_mixture(problem: Problem, share: NDArray[np.float64], rounds: int = 60, state: Any = None) -> Fit:
    """Run the updates from S starts.

    Parameters
    ----------
    share : (S, U, K) float64
        Responsibilities to begin with; rows sum to 1.
    rounds : int
        At most this many rounds; stops when every bound settles.
    state : of an earlier fit of the same starts, optional
    """
    if state is None:
        state = _first_state(problem, share)
        for _ in range(SETTLING_ROUNDS):  # let the scales fit the start before anything may leave its vessel
            state = _one_round(problem, share, state).state
    fit = _one_round(problem, share, state)
    for turn in range(1, rounds):
        previous = fit.bound
        fit = _one_round(problem, fit.share, fit.state)
        if turn > 3 and np.abs(fit.bound - previous).max() < SETTLED_NATS:
            break
    return fit


def cue_evidence(
    problem: Problem, share: NDArray[np.float64], state: tuple[BlockState, ...] | None = None, rounds: int = 4
) -> NDArray[np.float64]:
    """Each cue's part of the bound, (B, S), with the sherds held where they are and everything else fitted."""
    state = state or _first_state(problem, share)
    own = share[:, problem.units] if problem.is_tied else share
    parts = []
    for block, first in zip(problem.blocks, state, strict=True):
        now = first
        for _ in range(rounds):
            pull, bound, now = _turn_block(block, problem.photos, own, now)
        parts.append((own * pull).sum(axis=(1, 2)) + bound)
    return np.stack(parts) if parts else np.zeros((0, len(share)))


def _first_state(problem: Problem, share: NDArray[np.float64]) -> tuple[BlockState, ...]:
    photos = int(problem.photos.max()) + 1 if problem.photos.size else 1
    starts, _, vessels = share.shape
    one = np.ones(starts)
    return tuple(
        BlockState(
            one,
            np.ones((starts, vessels)),
            one,
            np.ones((starts, len(problem.photos))),
            np.zeros((starts, photos, block.x.shape[1])),
        )
        for block in problem.blocks
    )


def _one_round(problem: Problem, share: NDArray[np.float64], state: tuple[BlockState, ...]) -> Fit:
    own = share[:, problem.units] if problem.is_tied else share
    turns = [
        _turn_block(block, problem.photos, own, before) for block, before in zip(problem.blocks, state, strict=True)
    ]
    pull = np.stack([turn[0] for turn in turns]) if turns else np.zeros((0, *own.shape))
    new_share, bound = _share_out(problem, share, pull.sum(axis=0))
    for turn in turns:
        bound = bound + turn[1]
    return Fit(new_share, bound, pull, tuple(turn[2] for turn in turns))


def _turn_block(
    block: CueBlock, photos: NDArray[np.intp], own: NDArray[np.float64], before: BlockState
) -> tuple[NDArray[np.float64], NDArray[np.float64], BlockState]:
    """Update one cue given who belongs where; returns its pull (S, n, K), its part of the bounds (S,), its state."""
    d, used = block.x.shape[1], block.present
    reach = before.scale[:, None] * before.ratio  # (S, K)
    held = np.where(used, own.swapaxes(1, 2), 0.0)  # (S, K, n)
    pressed = held * (block.say * before.weight / block.spread)[:, None]
    moved = block.x - before.offset[:, photos]
    prior = before.breadth[:, None, None] * block.between
    precision = 1 / prior + (pressed.sum(axis=2) / reach)[..., None]
    variance = 1 / precision
    centre = (pressed @ moved) / reach[..., None] * variance
    far = _squared(moved, centre) + variance.sum(axis=2)[:, None, :]
    far /= block.spread[:, None]
    shape = (block.tail + d) / 2
    rate = (block.tail + (own * (far / reach[:, None])).sum(axis=2)) / 2
    weight = np.where(used, shape / rate, 1.0)
    log_weight = digamma(shape) - np.log(rate)
    prior_readings = SCALE_WEIGHT + block.seen_here
    scale, ratio = _scales(held, weight[..., None] * far, d, prior_readings)
    spare = centre**2 + variance
    breadth = (BREADTH_WEIGHT + (spare / block.between).sum(axis=(1, 2))) / (BREADTH_WEIGHT + centre[0].size)
    offset = _photo_offset(block, photos, own @ centre, block.say * weight * used / block.spread, scale)
    half = 0.5 * d * (log_weight - np.log(block.spread) - np.log(2 * np.pi))
    pull = half[..., None] - 0.5 * d * np.log(reach)[:, None] - 0.5 * (weight[..., None] * far) / reach[:, None]
    pull *= (block.say * used)[:, None]
    bound = (
        -block.say * _gamma_divergence(shape, rate[:, used], block.tail / 2)
        + 0.5 * (np.log(variance / prior) + 1 - spare / prior).sum(axis=(1, 2))
        - 0.5 * block.say * prior_readings * (np.log(before.scale) + 1 / before.scale - 1)
        - 0.5 * block.say * VESSEL_WEIGHT * (np.log(before.ratio) + 1 / before.ratio - 1).sum(axis=1)
        - 0.5 * BREADTH_WEIGHT * (np.log(before.breadth) + 1 / before.breadth - 1)
        - 0.5 * (before.offset**2 / block.photo_sd**2).sum(axis=(1, 2))
    )
    return pull, bound, BlockState(scale, ratio, breadth, weight, offset)


def _scales(
    held: NDArray[np.float64], stretch: NDArray[np.float64], d: int, prior: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The lot's scale (S,) and each vessel's ratio to it (S, K), from weighted squared distances (S, n, K)."""
    total = np.einsum("skn,snk->sk", held, stretch)
    count = held.sum(axis=2) * d
    scale = (prior + total.sum(axis=1)) / (prior + count.sum(axis=1))
    return scale, (VESSEL_WEIGHT + total / scale[:, None]) / (VESSEL_WEIGHT + count)


def _squared(points: NDArray[np.float64], centres: NDArray[np.float64]) -> NDArray[np.float64]:
    """Squared distances (S, n, K) of points (S, n, d) to centres (S, K, d)."""
    gap = (points**2).sum(axis=2)[..., None] - 2 * points @ centres.swapaxes(1, 2)
    gap += (centres**2).sum(axis=2)[:, None, :]
    return np.asarray(np.maximum(gap, 0.0))


def _photo_offset(
    block: CueBlock,
    photos: NDArray[np.intp],
    expected: NDArray[np.float64],
    certain: NDArray[np.float64],
    scale: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Posterior mean of what each photograph adds, centred so that it cannot stand in for a vessel; (S, photos, d)."""
    count = int(photos.max()) + 1 if photos.size else 1
    member = (photos[None, :] == np.arange(count)[:, None]).astype(np.float64)
    certain = certain / scale[:, None]
    total = member @ ((block.x - expected) * certain[..., None])
    mass = member @ certain[..., None]
    offset = total / (mass + 1 / block.photo_sd**2)
    middle = (offset * mass).sum(axis=1, keepdims=True) / np.maximum(mass.sum(axis=1, keepdims=True), 1e-12)
    return np.asarray(offset - middle)


def _share_out(
    problem: Problem, share: NDArray[np.float64], pull: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """New responsibilities of the units, and the mixing part of the bounds."""
    vessels = share.shape[2]
    size = share.sum(axis=1) + CONCENTRATION
    log_mix = digamma(size) - digamma(size.sum(axis=1, keepdims=True))
    unit_pull = _by_unit(problem, pull)
    told = np.zeros_like(share)
    if problem.coupling.nnz:
        told = np.stack([problem.coupling @ one for one in share])
    logits = unit_pull + log_mix[:, None] + told
    logits -= logits.max(axis=2, keepdims=True)
    new = np.exp(logits)
    new /= new.sum(axis=2, keepdims=True)
    entropy = -(new * np.log(np.maximum(new, 1e-300))).sum(axis=(1, 2))
    gain = (new * (unit_pull + log_mix[:, None] + 0.5 * told)).sum(axis=(1, 2))
    return new, gain + entropy - _dirichlet_divergence(size) + gammaln(vessels + 1)


def _by_unit(problem: Problem, pull: NDArray[np.float64]) -> NDArray[np.float64]:
    if not problem.is_tied:
        return pull
    total = np.zeros((pull.shape[0], problem.unit_count, pull.shape[2]))
    for start, one in enumerate(pull):
        np.add.at(total[start], problem.units, one)
    return total


def _gamma_divergence(shape: float, rate: NDArray[np.float64], prior: float) -> NDArray[np.float64]:
    """KL of Gamma(shape, rate) from Gamma(prior, prior), summed over sherds; rate (S, m)."""
    fixed = (shape - prior) * digamma(shape) - gammaln(shape) + gammaln(prior) - prior * np.log(prior)
    terms = fixed + prior * np.log(rate) + shape * (prior - rate) / rate
    return np.asarray(terms.sum(axis=1))


def _dirichlet_divergence(size: NDArray[np.float64]) -> NDArray[np.float64]:
    vessels = size.shape[1]
    total = size.sum(axis=1)
    return np.asarray(
        gammaln(total)
        - gammaln(size).sum(axis=1)
        - gammaln(vessels * CONCENTRATION)
        + vessels * gammaln(CONCENTRATION)
        + ((size - CONCENTRATION) * (digamma(size) - digamma(total)[:, None])).sum(axis=1)
    )
