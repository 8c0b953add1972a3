"""Search over the number of vessels: many starts for each number, the likeliest kept, rivals remembered.

Sherds are placed with all that the cues say (`CueBlock.say`). What a further vessel earns is weighed with less
(`CueBlock.number_say`), because lumps within one vessel, such as zones of decoration and fire clouds, look like vessels.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import networkx as nx
import numpy as np

from motifs.vessels.constraints import fewest_vessels, settle_labels
from motifs.vessels.mixture import Problem, cue_evidence, fit_mixture, part_of
from motifs.vessels.starts import joined_points, soften, starts_for, unit_points

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.vessels.mixture import Fit

MOST_VESSELS = 12
PATIENCE = 2
"""Stop once this many more vessels in a row have made the evidence worse by WORSE_NATS."""
WORSE_NATS = 40.0
SHORT_ROUNDS = 6
LONG_ROUNDS = 25
FIRST_HOLD = 0.4
"""Joins hold this much at first: at full strength they would keep a start from moving at all."""
KEPT_STARTS = 3
USUAL_SHERDS = 30
"""Sherds of a usual vessel: a further vessel has to earn in proportion to what the vessels of a lot exceed this."""
FEW_SHERDS = 18
LEAST_ASKED = 0.5
"""Vessels of fewer sherds than FEW_SHERDS have to earn in proportion, at least this share; both chosen on practice lots and tune
lots of the second renderer thinned to 14 and 8 sherds a vessel, and on lots of four pots with 12 sherds each."""
SECOND_SHARE = 0.22
"""What the second vessel has to earn, as a share of what a further one has to: a lot is sorted because more than one pot is suspected."""
MIXING_SAY = 0.2
"""Say of the mixing part (who is how sure of which vessel) on the number of vessels."""
SAMPLE_UNITS = 160
"""Larger lots are searched on a sample of this size."""
CARRIED_NATS = 45.0
ANSWER_NATS = 60.0
"""What an answer that the cues of a sorting would not have given counts against that sorting."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A sorting into a number of vessels.

    share: (U, K) responsibilities of units. pull: (B, n, K) expected log likelihood of each sherd under each vessel, by cue.
    labels: (U,) exact under the links. log_weight: evidence of the number, with its prior, less what answers speak against.
    """

    vessels: int
    share: NDArray[np.float64]
    pull: NDArray[np.float64]
    labels: NDArray[np.intp]
    log_weight: float


@dataclass(frozen=True, slots=True)
class Found:
    """Best candidate of each number, ascending, and other sortings that the search came by, likeliest first."""

    best_by_number: tuple[Candidate, ...]
    rivals: tuple[Candidate, ...]

    @property
    def best(self) -> Candidate:
        """The likeliest of all."""
        return max(self.best_by_number, key=lambda candidate: candidate.log_weight)

    @property
    def others(self) -> tuple[Candidate, ...]:
        """Everything but the best, likeliest first."""
        rest = [one for one in (*self.best_by_number, *self.rivals) if one is not self.best]
        return tuple(sorted(rest, key=lambda candidate: -candidate.log_weight))

    @property
    def gap_nats(self) -> float:
        """By how much the best beats the next; without another, as if by a vessel's cost."""
        others = self.others
        return self.best.log_weight - others[0].log_weight if others else ANSWER_NATS


def log_prior(vessels: int, vessel_nats: float, sherds: int) -> float:
    """Log prior of the number of vessels, from what each has to earn: the second SECOND_SHARE of `vessel_nats`.

    What lumps within a vessel seem to earn grows with its sherds, and so does what is asked: more where the vessels would have more
    than USUAL_SHERDS each, less where they would have fewer than FEW_SHERDS, a step for each further vessel.
    """
    if vessels < 2:
        return 0.0
    if sherds / vessels >= USUAL_SHERDS:
        return -vessel_nats * sherds / vessels / USUAL_SHERDS * (vessels - 2 + SECOND_SHARE)
    steps = [
        SECOND_SHARE * _asked_of_size(sherds / 2),
        *(_asked_of_size(sherds / one) for one in range(3, vessels + 1)),
    ]
    return -vessel_nats * sum(steps)


def _asked_of_size(sherds: float) -> float:
    """What a vessel of so many sherds has to earn, as a multiple of a usual one's."""
    if sherds < FEW_SHERDS:
        return max(LEAST_ASKED, sherds / FEW_SHERDS)
    return max(1.0, sherds / USUAL_SHERDS)


@dataclass(frozen=True, slots=True)
class Effort:
    """How many rounds of the mixture each start gets, and then each start that is kept; whether starts run with cautious cues too."""

    short: int = SHORT_ROUNDS
    long: int = LONG_ROUNDS
    is_double: bool = True


SAMPLE_EFFORT = Effort(short=2, long=7, is_double=False)
"""On a sample, which is there for speed; everything is placed anew afterwards."""


def search_numbers(problem: Problem, *, vessels: int | None, seed: int, vessel_nats: float) -> Found:
    """Candidates by number of vessels; only `vessels` when it is given.

    Numbers that the cannot-links forbid are left out. Deterministic for a seed.
    """
    if problem.unit_count > SAMPLE_UNITS:
        return _search_sample(problem, vessels=vessels, seed=seed, vessel_nats=vessel_nats)
    return _search_all(problem, Effort(), vessels=vessels, seed=seed, vessel_nats=vessel_nats)


def _search_all(problem: Problem, effort: Effort, *, vessels: int | None, seed: int, vessel_nats: float) -> Found:
    least = max(1, fewest_vessels(problem.repelled))
    most = max(least, min(MOST_VESSELS, problem.unit_count))
    points, seeds = unit_points(problem), _seeds(problem)
    joined = joined_points(points, problem)
    best: list[Candidate] = []
    others: list[Candidate] = []
    for number in [vessels] if vessels is not None else range(least, most + 1):
        rng = np.random.default_rng((seed, number))
        smaller = best[-1].share.argmax(axis=1) if best and best[-1].vessels == number - 1 else None
        found = _candidates(problem, starts_for(points, number, smaller, seeds, rng, joined), vessel_nats, effort)
        best += found[:1]
        others += found[1:]
        if len(best) > PATIENCE and _has_peaked(best):
            break
    others.sort(key=lambda candidate: -candidate.log_weight)
    return Found(tuple(best), tuple(others))


def _search_sample(problem: Problem, *, vessels: int | None, seed: int, vessel_nats: float) -> Found:
    """A large lot: the number of vessels from a sample of its units, then everything placed.

    Every unit that answers speak of is in the sample. Sortings far behind the best are not carried over.
    """
    chosen = _sample(problem, np.random.default_rng((seed, 0)))
    found = _search_all(part_of(problem, chosen), SAMPLE_EFFORT, vessels=vessels, seed=seed, vessel_nats=vessel_nats)
    if not found.best_by_number:
        return found
    whole = np.concatenate(unit_points(problem), axis=1) if problem.blocks else np.zeros((problem.unit_count, 1))
    near = found.best.log_weight - CARRIED_NATS
    best = [_carry(problem, chosen, whole, one) for one in found.best_by_number if one.log_weight >= near]
    rivals = [_carry(problem, chosen, whole, one) for one in found.rivals[:1] if one.log_weight >= near]
    return Found(tuple(one for one in best if one), tuple(one for one in rivals if one))


def _sample(problem: Problem, rng: np.random.Generator) -> NDArray[np.intp]:
    size = np.bincount(problem.units, minlength=problem.unit_count)
    told = (size > 1) | problem.repelled.any(axis=1)
    free = np.flatnonzero(~told)
    wanted = min(max(SAMPLE_UNITS - int(told.sum()), SAMPLE_UNITS // 2), len(free))
    return np.sort(np.concatenate([np.flatnonzero(told), rng.choice(free, wanted, replace=False)]))


def _carry(
    problem: Problem, chosen: NDArray[np.intp], points: NDArray[np.float64], sorting: Candidate
) -> Candidate | None:
    """A sorting of the sample spread over the whole lot: every unit to the nearest vessel, then fitted."""
    known = sorting.share.argmax(axis=1)
    held = [vessel for vessel in range(sorting.vessels) if (known == vessel).any()]
    centres = np.stack([points[chosen[known == vessel]].mean(axis=0) for vessel in held])
    far = (points**2).sum(axis=1)[:, None] - 2 * points @ centres.T + (centres**2).sum(axis=1)
    labels = np.array(held)[far.argmin(axis=1)]
    labels[chosen] = known
    fit = fit_mixture(_at_last(problem), soften(labels[None], sorting.vessels), SHORT_ROUNDS)
    settled = settle_labels(fit.share[0], problem.repelled)
    return (
        None
        if settled is None
        else Candidate(sorting.vessels, fit.share[0], fit.pull[:, 0], settled, sorting.log_weight)
    )


def _has_peaked(found: list[Candidate]) -> bool:
    best = max(candidate.log_weight for candidate in found)
    return all(candidate.log_weight < best - WORSE_NATS for candidate in found[-PATIENCE:])


def _candidates(problem: Problem, starts: NDArray[np.float64], vessel_nats: float, effort: Effort) -> list[Candidate]:
    """Distinct sortings that the starts lead to, likeliest first."""
    kinds = (problem, _cautious(problem)) if effort.is_double else (problem,)
    loose = (replace(one, coupling=FIRST_HOLD * one.coupling) for one in kinds)
    begun = [fit_mixture(one, starts, effort.short) for one in loose]
    kept = [fit.share[_kept(fit)] for fit in begun]
    last = _at_last(problem)
    settled = fit_mixture(last, _distinct(np.concatenate(kept)), effort.long)
    weight = _weigh(last, settled, vessel_nats)
    found: list[Candidate] = []
    for one in np.argsort(-weight, kind="stable"):
        labels = settle_labels(settled.share[one], problem.repelled)
        if labels is not None and not any(_is_same(labels, other.labels) for other in found):
            found.append(
                Candidate(starts.shape[2], settled.share[one], settled.pull[:, one], labels, float(weight[one]))
            )
    return found


def _kept(fit: Fit) -> list[int]:
    """The likeliest starts, and always the first: from joins where there are any, which the cues' bound may undervalue."""
    order = [int(one) for one in np.argsort(-fit.bound, kind="stable")]
    return sorted({0, *order[:KEPT_STARTS]})


def _at_last(problem: Problem) -> Problem:
    """The same lot with joins given the say that they have in the end."""
    return replace(problem, coupling=problem.vouched)


def _cautious(problem: Problem) -> Problem:
    """The same lot with the cues given the say that they have on the number of vessels."""
    blocks = tuple(replace(block, say=block.number_say) for block in problem.blocks)
    return replace(problem, blocks=blocks, cues=problem.cues.with_say(np.array([block.say for block in blocks])))


def _weigh(problem: Problem, fit: Fit, vessel_nats: float) -> NDArray[np.float64]:
    """Log weight of each fitted sorting, (S,)."""
    evidence = cue_evidence(problem, fit.share)
    joined = _joined(problem, fit)
    mixing = fit.bound - evidence.sum(axis=0) - joined
    share = np.array([block.number_say / block.say for block in problem.blocks])
    earned = (
        share @ evidence + joined + MIXING_SAY * mixing + log_prior(fit.share.shape[2], vessel_nats, len(problem.units))
    )
    return np.asarray(earned - ANSWER_NATS * _refused_answers(problem, fit))


def _joined(problem: Problem, fit: Fit) -> NDArray[np.float64]:
    """What joins between sherds of one vessel add, for each sorting (S,)."""
    if not problem.coupling.nnz:
        return np.zeros(len(fit.share))
    return np.array([0.5 * float((one * (problem.coupling @ one)).sum()) for one in fit.share])


def _refused_answers(problem: Problem, fit: Fit) -> NDArray[np.float64]:
    """How many of the analyst's answers the cues alone would have got wrong, for each sorting (S,)."""
    alone = fit.pull.sum(axis=0).argmax(axis=2)  # (S, n)
    wrong = np.zeros(len(alone))
    for pairs, is_same in ((problem.links.same, True), (problem.links.different, False)):
        if pairs:
            a, b = np.array(pairs).T
            wrong += ((alone[:, a] == alone[:, b]) != is_same).sum(axis=1)
    return wrong


def _distinct(share: NDArray[np.float64]) -> NDArray[np.float64]:
    """Drop starts that agree with an earlier one in all but a few units, whatever the order of their vessels."""
    labels = share.argmax(axis=2)
    kept: list[int] = []
    for one in range(len(share)):
        if not any(_is_same(labels[one], labels[other]) for other in kept):
            kept.append(one)
    return share[kept]


def _is_same(first: NDArray[np.intp], second: NDArray[np.intp]) -> bool:
    """Whether two labellings are one but for the names of the vessels and one unit in fifty."""
    table = np.zeros((int(first.max()) + 1, int(second.max()) + 1), np.intp)
    np.add.at(table, (first, second), 1)
    return bool(len(first) - table.max(axis=1).sum() <= len(first) / 50)


def _seeds(problem: Problem) -> NDArray[np.intp]:
    """Vessels that the answers name: the largest group of units told apart from one another, spread along what is linked."""
    seeds = np.full(problem.unit_count, -1, np.intp)
    if not problem.repelled.any():
        return seeds
    graph: nx.Graph[int] = nx.from_numpy_array(problem.repelled.astype(np.int8))
    part = max(nx.connected_components(graph), key=lambda group: (len(group), -min(group)))
    colours = nx.greedy_color(graph.subgraph(sorted(part)), strategy="DSATUR")
    for unit, colour in colours.items():
        seeds[unit] = colour
    return seeds
