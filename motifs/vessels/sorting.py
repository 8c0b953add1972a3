"""Sort a lot into vessels: the main path of the package.

evidence blocks + links -> search over the number of vessels -> labels, support, range, questions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from motifs.errors import InputError, LinksContradict
from motifs.records import Assignment, CueVote, Links, VesselSorting
from motifs.vessels.constraints import join_coupling, make_units, vouched_joins, widen_spreads
from motifs.vessels.mixture import make_problem
from motifs.vessels.questions import ask
from motifs.vessels.search import log_prior, search_numbers

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.records import CueBlock
    from motifs.vessels.mixture import Problem
    from motifs.vessels.search import Candidate, Found

LEAST_SHARE = 0.55
"""A sherd whose best vessel explains it with less than this responsibility stays unassigned."""


BELIEF_NATS = 10.0
"""Nats of the search that count as one where a single vessel is weighed against several."""
GAP_LIMIT_NATS = 80.0
NEAR_NATS = 12.0
"""A number of vessels that lies no more than this behind stays possible however little it was asked to earn."""
TELLING_NATS = 1.0
"""Joins with less evidence than this are not named among the reasons."""


@dataclass(frozen=True, slots=True)
class SupportCurve:
    """Calibration of a sorting on practice lots.

    Probability that a sherd is with its vessel = logistic(intercept + margin * asinh(m) + separation * asinh(s) + gap * g / 20):
    m, nats by which the cues prefer its vessel to the next best; s, the median of m over both vessels, which says how far apart
    they lie; g, nats by which the sorting beats the next other sorting (at most GAP_LIMIT_NATS). One more vessel must earn
    vessel_nats (see search.log_prior); what numbers stay possible beside the best, range_limits say (see possible_numbers).
    """

    intercept: float = -3.7
    margin: float = 0.7
    separation: float = 0.35
    gap: float = 0.9
    range_limits: tuple[float, float] = (65.0, 0.8)
    vessel_nats: float = 45.0

    def __call__(
        self, margin: NDArray[np.float64], separation: NDArray[np.float64], gap: NDArray[np.float64] | float
    ) -> NDArray[np.float64]:
        """Calibrated support 0..1."""
        odds = self.margin * np.arcsinh(margin) + self.separation * np.arcsinh(np.maximum(separation, 0))
        odds = odds + self.gap * np.minimum(gap, GAP_LIMIT_NATS) / 20
        return np.asarray(1 / (1 + np.exp(-(self.intercept + odds))))


@dataclass(frozen=True, slots=True)
class WeighedNumber:
    """A number of vessels, its log weight relative to the best number's (lag_nats, 0 or less), and what it was asked to earn."""

    vessels: int
    lag_nats: float
    asked_nats: float


@dataclass(frozen=True, slots=True)
class HeldSherds:
    """What the support of a sorting rests on, before calibration.

    labels, margin, separation: (n,) as in SupportCurve. gap_nats: lead over the next sorting. numbers: of `weighed_numbers`.
    """

    labels: NDArray[np.intp]
    margin: NDArray[np.float64]
    separation: NDArray[np.float64]
    gap_nats: float
    numbers: tuple[WeighedNumber, ...]


Joins = Sequence[tuple[int, int, float]]
"""Pairs of positions whose edges were compared, with the natural-log likelihood ratio of one vessel."""


def sort_sherds(
    blocks: Sequence[CueBlock],
    photos: Sequence[int],
    links: Links,
    *,
    vessels: int | None = None,
    seed: int = 0,
    support: SupportCurve | None = None,
    joins: Joins = (),
    fitness: Sequence[float] | None = None,
) -> VesselSorting:
    """Propose vessels for a lot.

    Parameters
    ----------
    blocks : sequence of CueBlock
        Calibrated cues, all over the same n sherds.
    photos : sequence of n int
        Which photograph each sherd came from: 0, 1, ...
    links : Links
        The analyst's word; obeyed exactly.
    vessels : int, optional
        The number of vessels when it is known.
    seed : int
        Same input and seed, same answer.
    joins : sequence of (int, int, float)
        Pairs of sherds whose edges were compared, with the natural-log likelihood ratio of their being one vessel.
    fitness : sequence of n float, optional
        How fit each sherd is to be named in a question, 0..1; one with 0 never is. Left out, all are alike.

    Returns
    -------
    VesselSorting
        Vessels numbered from 0 by size; support calibrated by `support`.

    Raises
    ------
    LinksContradict
        The links cannot hold together, or not with that number of vessels.
    InputError
        `vessels` below 1 or above the number of sherds.
    """
    count = len(photos)
    if count == 0:
        return VesselSorting(0, (0, 0), ())
    if vessels is not None and not 1 <= vessels <= count:
        raise InputError(f"--vessels {vessels}: give a number from 1 to {count}, the number of sherds in the lot")
    units, repelled = make_units(count, links)
    wide = widen_spreads(blocks, joins, links)
    fitting, vouched = (join_coupling(one, units, repelled) for one in (joins, vouched_joins(joins)))
    problem = make_problem(wide, _consecutive(photos), units, repelled, links, fitting, vouched)
    curve = support or SupportCurve()
    found = search_numbers(problem, vessels=vessels, seed=seed, vessel_nats=curve.vessel_nats)
    if not found.best_by_number:
        raise LinksContradict(
            f"the links do not allow {vessels or 'any number of'} vessels; withdraw one or give more vessels"
        )
    return _tell(problem, found, links, curve, np.ones(count) if fitness is None else np.asarray(fitness, float))


def hold_sherds(blocks: Sequence[CueBlock], photos: Sequence[int], vessel_nats: float, *, seed: int = 0) -> HeldSherds:
    """Sort a lot of at least one sherd without links and tell how firmly each sherd is held; for calibration."""
    links = Links()
    units, repelled = make_units(len(photos), links)
    problem = make_problem(blocks, _consecutive(photos), units, repelled, links)
    found = search_numbers(problem, vessels=None, seed=seed, vessel_nats=vessel_nats)
    best = found.best
    nothing = np.zeros(len(photos))
    margin, separation = margins(problem, best) if best.vessels > 1 else (nothing, nothing)
    numbers = weighed_numbers(found, vessel_nats, len(photos))
    return HeldSherds(best.labels[problem.units], margin, separation, found.gap_nats, numbers)


def _consecutive(photos: Sequence[int]) -> NDArray[np.intp]:
    return np.unique(np.asarray(photos), return_inverse=True)[1].astype(np.intp).reshape(-1)


def _tell(
    problem: Problem, found: Found, links: Links, curve: SupportCurve, fitness: NDArray[np.float64]
) -> VesselSorting:
    best = found.best
    labels, shares = best.labels[problem.units], best.share[problem.units]
    names = _by_size(labels, best.vessels)
    share = np.take_along_axis(shares, labels[:, None], axis=1)[:, 0]
    linked, told = _is_linked(problem), _has_evidence(problem)
    placed = ((share >= LEAST_SHARE) & told) | linked
    support = np.where(told | linked, _support(problem, found, curve), 0.0)
    assignments = tuple(
        _assign(problem, best, index, names, float(support[index]), placed=bool(placed[index]))
        for index in range(len(labels))
    )
    shown = {a.vessel for a in assignments if a.vessel is not None}
    return VesselSorting(
        len(shown),
        _range(weighed_numbers(found, curve.vessel_nats, len(labels)), curve.range_limits, len(shown)),
        _renumber(assignments),
        ask(problem, found, support, links, fitness),
    )


def _support(problem: Problem, found: Found, curve: SupportCurve) -> NDArray[np.float64]:
    """Calibrated support of every sherd in its vessel."""
    if found.best.vessels == 1:
        return np.full(len(problem.units), _one_vessel_belief(found))
    margin, separation = margins(problem, found.best)
    return curve(margin, separation, found.gap_nats)


def margins(problem: Problem, sorting: Candidate) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How firmly each sherd is held: nats for its vessel over the next best, and their median over the two vessels; (n,) each.

    Linked sherds are held together. Needs two vessels.
    """
    pull = sorting.pull.sum(axis=0)
    total = np.zeros((problem.unit_count, pull.shape[1]))
    np.add.at(total, problem.units, pull)
    total = (total + problem.coupling @ sorting.share)[problem.units]
    labels = sorting.labels[problem.units]
    rows = np.arange(len(labels))
    own = total[rows, labels]
    others = total.copy()
    others[rows, labels] = -np.inf
    rival = others.argmax(axis=1)
    margin = own - others[rows, rival]
    apart = np.zeros(len(labels))
    for first, second in {(int(a), int(b)) for a, b in zip(labels, rival, strict=True)}:
        both = np.concatenate([(total[:, v] - total[:, w])[labels == v] for v, w in ((first, second), (second, first))])
        apart[(labels == first) & (rival == second)] = np.median(both)
    return margin, apart


def _by_size(labels: NDArray[np.intp], vessels: int) -> NDArray[np.intp]:
    """New number of each vessel: the largest is 0; ties by first sherd."""
    size = np.bincount(labels, minlength=vessels)
    first = np.array([np.flatnonzero(labels == v)[0] if size[v] else len(labels) for v in range(vessels)])
    order = np.lexsort((first, -size))
    names = np.empty(vessels, np.intp)
    names[order] = np.arange(vessels)
    return names


def _has_evidence(problem: Problem) -> NDArray[np.bool_]:
    present = np.zeros(len(problem.units), bool)
    for block in problem.blocks:
        present |= block.present
    return present


def _is_linked(problem: Problem) -> NDArray[np.bool_]:
    size = np.bincount(problem.units, minlength=problem.unit_count)
    return np.asarray((size > 1)[problem.units])


def _one_vessel_belief(found: Found) -> float:
    weights = np.array([candidate.log_weight for candidate in found.best_by_number])
    return float(1 / np.exp((weights - found.best.log_weight) / BELIEF_NATS).sum())


def _assign(
    problem: Problem, best: Candidate, index: int, names: NDArray[np.intp], support: float, *, placed: bool
) -> Assignment:
    unit = problem.units[index]
    label = int(best.labels[unit])
    others = [v for v in np.argsort(-best.share[unit], kind="stable") if v != label]
    rival = int(others[0]) if others else None
    votes = _votes(problem, best, index, label, rival) if rival is not None else ()
    return Assignment(
        int(names[label]) if placed else None, support, None if rival is None else int(names[rival]), votes
    )


def _votes(problem: Problem, best: Candidate, index: int, label: int, rival: int) -> tuple[CueVote, ...]:
    """What each cue says for the sherd's vessel against the next best; the words are added where the units are known."""
    votes = [
        CueVote(block.name, float(best.pull[b, index, label] - best.pull[b, index, rival]), "")
        for b, block in enumerate(problem.blocks)
        if block.present[index]
    ]
    votes += _join_vote(problem, best, index, label, rival)
    return tuple(sorted(votes, key=lambda vote: (-abs(vote.llr), vote.cue)))


def _join_vote(problem: Problem, best: Candidate, index: int, label: int, rival: int) -> list[CueVote]:
    """What the joins of a sherd say for its vessel against the next best; nothing where no edge fits."""
    row = slice(*problem.coupling.indptr[problem.units[index] : problem.units[index] + 2])
    good = problem.coupling.data[row] > TELLING_NATS
    if not good.any():
        return []
    others, llr = problem.coupling.indices[row][good], problem.coupling.data[row][good]
    home = best.labels[others]
    here, there = int((home == label).sum()), int((home == rival).sum())
    why = f"edges fit {here} sherds of this vessel and {there} of the next best"
    return [CueVote("joins", float(llr[home == label].sum() - llr[home == rival].sum()), why)]


def _renumber(assignments: tuple[Assignment, ...]) -> tuple[Assignment, ...]:
    """Close gaps in the numbering where a vessel kept no sherd above the least support."""
    shown = sorted({a.vessel for a in assignments if a.vessel is not None})
    new = {old: number for number, old in enumerate(shown)}
    return tuple(
        Assignment(
            None if a.vessel is None else new[a.vessel],
            a.support,
            new.get(a.next_best) if a.next_best is not None else None,
            a.votes,
        )
        for a in assignments
    )


def _range(numbers: Sequence[WeighedNumber], limits: tuple[float, float], shown: int) -> tuple[int, int]:
    """Numbers of vessels that stay possible, the shown one among them."""
    low, high = possible_numbers(numbers, limits)
    return min(low, shown), max(high, shown)


def weighed_numbers(found: Found, vessel_nats: float, sherds: int) -> tuple[WeighedNumber, ...]:
    """What the search says of each number of vessels, ascending."""
    best = found.best.log_weight
    return tuple(
        WeighedNumber(one.vessels, one.log_weight - best, -log_prior(one.vessels, vessel_nats, sherds))
        for one in found.best_by_number
    )


def possible_numbers(numbers: Sequence[WeighedNumber], limits: tuple[float, float]) -> tuple[int, int]:
    """Least and greatest number of vessels that stay possible beside the best.

    limits: a smaller number may lie limits[0] nats behind the best. Above the best, each further vessel may lose up to the share
    limits[1] of what it was asked to earn, or NEAR_NATS: one that earns next to nothing is no vessel, and none beyond it counts.
    """
    ascending = sorted(numbers, key=lambda one: one.vessels)
    best = max(ascending, key=lambda one: one.lag_nats)
    high = best
    for one in ascending[ascending.index(best) + 1 :]:
        if high.lag_nats - one.lag_nats > max(NEAR_NATS, limits[1] * (one.asked_nats - high.asked_nats)):
            break
        high = one
    return min(one.vessels for one in ascending if one.lag_nats >= -limits[0]), high.vessels
