"""Variational mixture of vessels over calibrated cue blocks, for a fixed number of vessels, several starts at once.

Model, for sherd i of photograph p in vessel k, cue block b, component d (all diagonal, see records.CueBlock):
    x_id ~ Normal(m_kd + o_pd, scale_bk * spread_ib / u_ib),   u_ib ~ Gamma(tail_b / 2, tail_b / 2)   (Student spread)
    m_kd ~ Normal(0, breadth_b * between_d),   o_pd ~ Normal(0, photo_sd_d^2),   z ~ Dirichlet mixture.
scale and breadth adapt each cue to the lot, and scale to each vessel, under log-normal-like priors centred on practice lots.
Updates are the usual variational ones (Attias 2000; Bishop 2006, chapter 10; Svensen & Bishop 2005 for the Student part).
Sherds tied by must-links share one z. Pairs of units that fit at their edges pull together by their log-likelihood ratio (a
Potts term, mean field); cannot-links repel in the updates and are made exact in constraints.py.
The arrays of a fit have a leading axis S, the starts; sherds lie along the last axis (see cues.py).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.sparse import csr_array
from scipy.special import digamma, gammaln

from motifs.vessels.cues import JoinedCues, join_cues

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

    cues: the blocks side by side. coupling: (U, U) sparse, symmetric: log-likelihood ratio of one vessel from joins, minus REPEL
    where repelled; vouched: the same with more from joins that vouch for each other, for the last rounds of a search. links: the
    answers themselves, as positions of sherds.
    """

    blocks: tuple[CueBlock, ...]
    cues: JoinedCues
    photos: NDArray[np.intp]
    units: NDArray[np.intp]
    repelled: NDArray[np.bool_]
    coupling: Any
    vouched: Any
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


@dataclass(frozen=True, slots=True)
class _State:
    """What the updates carry on: scale (S, B), ratio (S, B, K), breadth (S, B), weight (S, B, n), offset (S, D, photos)."""

    scale: NDArray[np.float64]
    ratio: NDArray[np.float64]
    breadth: NDArray[np.float64]
    weight: NDArray[np.float64]
    offset: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Turn:
    """One update of all cues, given who belongs where.

    stretch: (S, B, K, n) weighted squared distances in units of the reach. reach: (S, B, K). half: (S, B, n) what a sherd's own
    weight adds to its log likelihood, whatever the vessel. bound: (S, B) each cue's part of the bounds. state: the next.
    """

    stretch: NDArray[np.float64]
    reach: NDArray[np.float64]
    half: NDArray[np.float64]
    bound: NDArray[np.float64]
    state: _State

    def pull(self, cues: JoinedCues) -> NDArray[np.float64]:
        """Expected log likelihood of each sherd under each vessel by cue, (S, B, K, n)."""
        level = (0.5 * cues.size * cues.say)[:, None] * np.log(self.reach)
        told = -0.5 * cues.say[:, None, None] * self.stretch
        told -= level[..., None] * cues.present[:, None]
        told += self.half[:, :, None]
        return told

    def all_pull(self, cues: JoinedCues) -> NDArray[np.float64]:
        """The same summed over cues, (S, K, n)."""
        starts, vessels = len(self.stretch), self.stretch.shape[2]
        level = (0.5 * cues.size * cues.say)[:, None] * np.log(self.reach)
        flat = self.stretch.reshape(starts, len(cues.say), -1)
        told = ((-0.5 * cues.say) @ flat).reshape(starts, vessels, -1)
        told -= level.swapaxes(1, 2) @ cues.present
        told += self.half.sum(axis=1)[:, None]
        return np.asarray(told)


def make_problem(
    blocks: Sequence[CueBlock],
    photos: NDArray[np.intp],
    units: NDArray[np.intp],
    repelled: NDArray[np.bool_],
    links: Links,
    fitting: Any = None,
    vouched: Any = None,
) -> Problem:
    """Centre every block on the lot's median; blocks nobody shows are dropped. fitting, vouched: (U, U) sparse join evidence."""
    ready = []
    for block in blocks:
        if block.present.any():
            centre = np.median(block.x[block.present], axis=0)
            ready.append(replace(block, x=np.where(block.present[:, None], block.x - centre, 0.0)))
    coupling = csr_array(repelled.astype(np.float64) * -REPEL) if repelled.any() else csr_array(repelled.shape)
    return Problem(
        tuple(ready),
        join_cues(ready, len(photos)),
        photos,
        units,
        repelled,
        coupling if fitting is None else coupling + fitting,
        coupling if vouched is None else coupling + vouched,
        links,
    )


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
        problem.cues.of_sherds(sherds),
        problem.photos[sherds],
        place[problem.units[sherds]],
        problem.repelled[np.ix_(chosen, chosen)],
        problem.coupling[chosen][:, chosen],
        problem.vouched[chosen][:, chosen],
        replace(problem.links, same=same, different=different),
    )


def fit_mixture(problem: Problem, share: NDArray[np.float64], rounds: int = 60) -> Fit:
    """Run the updates from S starts.

    Parameters
    ----------
    share : (S, U, K) float64
        Responsibilities to begin with; rows sum to 1.
    rounds : int
        At most this many rounds; stops when every bound settles.
    """
    held = np.ascontiguousarray(share.swapaxes(1, 2))
    at, tied = _photo_table(problem), _unit_table(problem)
    # The scales fit the start before anything may leave its vessel.
    turn = _settled(problem, at, held, SETTLING_ROUNDS + 1)
    held, bound = _share_out(problem, held, _sums(tied, turn.all_pull(problem.cues)))
    bound += turn.bound.sum(axis=1)
    for done in range(1, rounds):
        previous = bound
        turn = _turn(problem, at, _by_sherd(problem, held), turn.state)
        held, bound = _share_out(problem, held, _sums(tied, turn.all_pull(problem.cues)))
        bound += turn.bound.sum(axis=1)
        if done > 3 and np.abs(bound - previous).max() < SETTLED_NATS:
            break
    pull = turn.pull(problem.cues).transpose(1, 0, 3, 2)
    return Fit(np.ascontiguousarray(held.swapaxes(1, 2)), bound, pull)


def cue_evidence(problem: Problem, share: NDArray[np.float64], rounds: int = 4) -> NDArray[np.float64]:
    """Each cue's part of the bound, (B, S), with the sherds held where they are and everything else fitted."""
    held = np.ascontiguousarray(share.swapaxes(1, 2))
    turn = _settled(problem, _photo_table(problem), held, rounds)
    own = _by_sherd(problem, held)
    return np.asarray((np.einsum("sbkn,skn->sb", turn.pull(problem.cues), own) + turn.bound).T)


def _settled(problem: Problem, at: Any, held: NDArray[np.float64], rounds: int) -> _Turn:
    """The last of some updates with everything held where it is, (S, K, U)."""
    own = _by_sherd(problem, held)
    state = _first_state(problem, held)
    for _ in range(rounds - 1):
        state = _turn(problem, at, own, state).state
    return _turn(problem, at, own, state)


def _photo_table(problem: Problem) -> Any:
    """(photos, n) sparse: 1 where a sherd is on a photograph."""
    return _table(problem.photos, int(problem.photos.max()) + 1 if len(problem.photos) else 1)


def _unit_table(problem: Problem) -> Any:
    """(U, n) sparse: 1 where a sherd is of a unit; None where each is one by itself."""
    return _table(problem.units, problem.unit_count) if problem.is_tied else None


def _table(label: NDArray[np.intp], labels: int) -> Any:
    return csr_array((np.ones(len(label)), (label, np.arange(len(label)))), shape=(labels, len(label)))


def _sums(table: Any, rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """Rows (S, m, n) summed over the sherds of each label of a table, (S, m, labels); as they are without a table."""
    if table is None:
        return rows
    return np.asarray((table @ rows.reshape(-1, rows.shape[2]).T).T.reshape(*rows.shape[:2], -1))


def _first_state(problem: Problem, held: NDArray[np.float64]) -> _State:
    starts, vessels, _ = held.shape
    components, count = problem.cues.x.shape
    cues, photos = len(problem.cues.say), int(problem.photos.max()) + 1 if count else 1
    return _State(
        np.ones((starts, cues)),
        np.ones((starts, cues, vessels)),
        np.ones((starts, cues)),
        np.ones((starts, cues, count)),
        np.zeros((starts, components, photos)),
    )


def _by_sherd(problem: Problem, held: NDArray[np.float64]) -> NDArray[np.float64]:
    """Responsibilities of the sherds, (S, K, n), of those of their units."""
    return np.take(held, problem.units, axis=2) if problem.is_tied else held


def _turn(problem: Problem, at: Any, own: NDArray[np.float64], before: _State) -> _Turn:
    """Update all cues given who belongs where, own (S, K, n)."""
    cues = problem.cues
    reach = before.scale[..., None] * before.ratio
    mass = before.weight * (cues.certain * cues.say[:, None])
    moved = cues.x - np.take(before.offset, problem.photos, axis=2)
    prior = (before.breadth[:, cues.of] * cues.between)[..., None]
    back, reached = own.swapaxes(1, 2), _spread(cues, reach)
    variance = 1 / (1 / prior + _spread(cues, mass @ back) / reached)
    centre = ((moved * _spread(cues, mass)) @ back) / reached * variance
    stretch = _squared(cues, moved, centre, variance) * cues.certain[:, None]
    stretch /= reach[..., None]
    rate = 0.5 * (cues.tail[:, None] + np.einsum("sbkn,skn->sbn", stretch, own))
    weight = cues.shape[:, None] / rate
    stretch *= weight[:, :, None]
    log_rate = np.log(rate)
    scale, ratio = _scales(cues, stretch, own, reach)
    spare = centre**2 + variance
    breadth = BREADTH_WEIGHT + (cues.member @ (spare / cues.between[:, None])).sum(axis=2)
    breadth /= BREADTH_WEIGHT + own.shape[1] * cues.size
    firm = weight * (cues.certain * cues.say[:, None]) / scale[..., None]
    offset = _photo_offset(cues, at, centre @ own, firm)
    half = (0.5 * cues.size * cues.say)[:, None] * cues.present
    half = half * (cues.digamma_shape[:, None] - np.log(2 * np.pi) - cues.log_spread - log_rate)
    bound = _priors(cues, before) - cues.say * _gamma_divergence(cues, weight, log_rate)
    bound += 0.5 * (cues.member @ (np.log(variance / prior) + 1 - spare / prior)).sum(axis=2)
    return _Turn(stretch, reach, half, bound, _State(scale, ratio, breadth, weight, offset))


def _spread(cues: JoinedCues, by_cue: NDArray[np.float64]) -> NDArray[np.float64]:
    """What is said of each cue, (S, B, m), said of each of its components, (S, D, m)."""
    return np.take(by_cue, cues.of, axis=1)


def _squared(
    cues: JoinedCues, moved: NDArray[np.float64], centre: NDArray[np.float64], variance: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Expected squared distances (S, B, K, n) of moved (S, D, n) to centres (S, D, K) that are known to within `variance`."""
    starts, components, vessels = centre.shape
    apart = (cues.member[:, None] * centre.swapaxes(1, 2)[:, None]).reshape(starts, -1, components)
    far = (apart @ moved).reshape(starts, -1, vessels, moved.shape[2])
    far *= -2
    far += (cues.member @ moved**2)[:, :, None]
    far += (cues.member @ centre**2)[..., None]
    np.maximum(far, 0, out=far)
    far += (cues.member @ variance)[..., None]
    return np.asarray(far)


def _scales(
    cues: JoinedCues, stretch: NDArray[np.float64], own: NDArray[np.float64], reach: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The lot's scale of each cue (S, B) and each vessel's ratio to it (S, B, K)."""
    total = np.einsum("sbkn,skn->sbk", stretch, own) * reach
    count = (cues.present @ own.swapaxes(1, 2)) * cues.size[:, None]
    prior = SCALE_WEIGHT + cues.seen_here
    scale = (prior + total.sum(axis=2)) / (prior + count.sum(axis=2))
    return scale, (VESSEL_WEIGHT + total / scale[..., None]) / (VESSEL_WEIGHT + count)


def _photo_offset(
    cues: JoinedCues, at: Any, expected: NDArray[np.float64], firm: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Posterior mean of what each photograph adds, centred so that it cannot stand in for a vessel; (S, D, photos)."""
    total = _sums(at, (cues.x - expected) * _spread(cues, firm))
    mass = _spread(cues, _sums(at, firm))
    offset = total / (mass + 1 / cues.photo_var[:, None])
    middle = (offset * mass).sum(axis=2, keepdims=True) / np.maximum(mass.sum(axis=2, keepdims=True), 1e-12)
    return np.asarray(offset - middle)


def _priors(cues: JoinedCues, before: _State) -> NDArray[np.float64]:
    """What the priors of scales, breadth and photographs say of a state, (S, B)."""
    told = -0.5 * cues.say * (SCALE_WEIGHT + cues.seen_here) * _lag(before.scale)
    told -= 0.5 * cues.say * VESSEL_WEIGHT * _lag(before.ratio).sum(axis=2)
    told -= 0.5 * BREADTH_WEIGHT * _lag(before.breadth)
    return np.asarray(told - 0.5 * ((before.offset**2).sum(axis=2) / cues.photo_var) @ cues.member.T)


def _lag(ratio: NDArray[np.float64]) -> NDArray[np.float64]:
    """How much a variance of `ratio` times the expected costs, with one pseudo-reading behind the expected one."""
    return np.asarray(np.log(ratio) + 1 / ratio - 1)


def _gamma_divergence(
    cues: JoinedCues, weight: NDArray[np.float64], log_rate: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Divergence (Kullback & Leibler 1951) of the sherds' Gamma weights from their prior, summed over sherds; (S, B)."""
    prior = 0.5 * cues.tail
    fixed = (cues.divergence - cues.shape) * cues.present.sum(axis=1)
    return np.asarray(fixed + prior * (cues.present * (log_rate + weight)).sum(axis=2))


def _share_out(
    problem: Problem, held: NDArray[np.float64], pull: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """New responsibilities of the units (S, K, U), and the mixing part of the bounds, of those before and the units' pull (S, K, U)."""
    starts, vessels, units = held.shape
    size = held.sum(axis=2) + CONCENTRATION
    log_mix = digamma(size) - digamma(size.sum(axis=1, keepdims=True))
    logits = pull + log_mix[..., None]
    if problem.coupling.nnz:
        told = (problem.coupling @ held.reshape(-1, units).T).T.reshape(starts, vessels, units)
        logits = logits + told
    top = logits.max(axis=1, keepdims=True)
    new = np.exp(logits - top)
    total = new.sum(axis=1, keepdims=True)
    new /= total
    # gain and entropy together: the log of the summed odds
    gain = (top + np.log(total)).sum(axis=(1, 2))
    if problem.coupling.nnz:
        gain -= 0.5 * np.einsum("sku,sku->s", new, told)
    return new, gain - _dirichlet_divergence(size) + gammaln(vessels + 1)


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
