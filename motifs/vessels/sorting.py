"""Sort a lot into vessels: the main path of the package.

evidence blocks + links -> search over the number of vessels -> labels, support, range, questions.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from motifs.errors import InputError, LinksContradict
from motifs.records import Assignment, CueVote, VesselSorting
from motifs.vessels.constraints import make_units
from motifs.vessels.mixture import make_problem
from motifs.vessels.questions import ask
from motifs.vessels.search import Candidate, search_numbers

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.records import CueBlock, Links
    from motifs.vessels.mixture import Problem

LEAST_SHARE = 0.55
"""A sherd whose best vessel explains it with less than this responsibility stays unassigned."""


@dataclass(frozen=True, slots=True)
class SupportCurve:
    """Calibration of a sorting on practice lots.

    Probability that a sherd is with its vessel = logistic(intercept + slope * log odds of its responsibility). One more
    vessel must earn vessel_nats; numbers of vessels within range_nats of the best stay possible.
    """

    intercept: float = 0.0
    slope: float = 1.0
    range_nats: float = 6.0
    vessel_nats: float = 6.0

    def __call__(self, share: NDArray[np.float64]) -> NDArray[np.float64]:
        """Map raw responsibilities 0..1 to calibrated support 0..1."""
        inside = np.clip(share, 1e-6, 1 - 1e-6)
        odds = np.log(inside / (1 - inside))
        return np.asarray(1 / (1 + np.exp(-(self.intercept + self.slope * odds))))


def sort_sherds(
    blocks: Sequence[CueBlock],
    photos: Sequence[int],
    links: Links,
    *,
    vessels: int | None = None,
    seed: int = 0,
    support: SupportCurve | None = None,
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
    problem = make_problem(blocks, _consecutive(photos), units, repelled)
    curve = support or SupportCurve()
    found = search_numbers(problem, vessels=vessels, seed=seed, vessel_nats=curve.vessel_nats)
    if not found:
        raise LinksContradict(
            f"the links do not allow {vessels or 'any number of'} vessels; withdraw one or give more vessels"
        )
    return _tell(problem, found, links, curve)


def _consecutive(photos: Sequence[int]) -> NDArray[np.intp]:
    return np.unique(np.asarray(photos), return_inverse=True)[1].astype(np.intp).reshape(-1)


def _tell(problem: Problem, found: list[Candidate], links: Links, curve: SupportCurve) -> VesselSorting:
    best = max(found, key=lambda candidate: candidate.log_weight)
    labels, shares = best.labels[problem.units], best.fit.share[problem.units]
    names = _by_size(labels, best.vessels)
    share = np.take_along_axis(shares, labels[:, None], axis=1)[:, 0]
    linked, told = _is_linked(problem), _has_evidence(problem)
    placed = ((share >= LEAST_SHARE) & told) | linked
    support = np.where(told | linked, curve(share), 0.0)
    if best.vessels == 1:
        support = np.minimum(support, _one_vessel_belief(found, best))
    assignments = tuple(
        _assign(problem, best, index, names, float(support[index]), placed=bool(placed[index]))
        for index in range(len(labels))
    )
    shown = {a.vessel for a in assignments if a.vessel is not None}
    return VesselSorting(
        len(shown),
        _range(found, best, curve.range_nats, len(shown)),
        _renumber(assignments),
        ask(problem, found, best, links),
    )


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


def _one_vessel_belief(found: list[Candidate], best: Candidate) -> float:
    weights = np.array([candidate.log_weight for candidate in found])
    return float(1 / np.exp(weights - best.log_weight).sum())


def _assign(
    problem: Problem, best: Candidate, index: int, names: NDArray[np.intp], support: float, *, placed: bool
) -> Assignment:
    unit = problem.units[index]
    label = int(best.labels[unit])
    others = [v for v in np.argsort(-best.fit.share[unit], kind="stable") if v != label]
    rival = int(others[0]) if others else None
    votes = _votes(problem, best, index, label, rival) if rival is not None else ()
    return Assignment(
        int(names[label]) if placed else None, support, None if rival is None else int(names[rival]), votes
    )


def _votes(problem: Problem, best: Candidate, index: int, label: int, rival: int) -> tuple[CueVote, ...]:
    """What each cue says for the sherd's vessel against the next best; the words are added where the units are known."""
    votes = [
        CueVote(block.name, float(best.fit.pull[b, index, label] - best.fit.pull[b, index, rival]), "")
        for b, block in enumerate(problem.blocks)
        if block.present[index]
    ]
    return tuple(sorted(votes, key=lambda vote: (-abs(vote.llr), vote.cue)))


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


def _range(found: list[Candidate], best: Candidate, nats: float, shown: int) -> tuple[int, int]:
    """Numbers of vessels that stay possible, the shown one among them."""
    possible = [c.vessels for c in found if c.log_weight >= best.log_weight - nats]
    return min(*possible, shown) if len(possible) > 1 else min(possible[0], shown), max(*possible, shown)
