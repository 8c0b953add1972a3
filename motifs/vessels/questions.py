"""The next questions to ask the analyst: pairs whose answer would change most.

Two kinds. Where the number of vessels is open, the two typical sherds of the pair of vessels that the smaller sorting would
merge. Where a sherd is torn between two vessels, that sherd beside a typical sherd of the likelier one; how much the answer
changes is the sherd's uncertainty times the evidence that hangs on it. Pairs already linked are never asked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motifs.records import Question

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.records import Links
    from motifs.vessels.mixture import Problem
    from motifs.vessels.search import Candidate

MOST_QUESTIONS = 12
OPEN_NATS = 10.0


def ask(problem: Problem, found: list[Candidate], best: Candidate, links: Links) -> tuple[Question, ...]:
    """Questions in the order of their use, at most MOST_QUESTIONS; positions are sherds of the lot."""
    known = {frozenset(pair) for pair in (*links.same, *links.different)}
    typical = _typical_sherds(problem, best)
    questions: list[Question] = []
    for a, b, why in (*_number_pairs(problem, found, best, typical), *_torn_pairs(problem, best, typical)):
        if a != b and frozenset((a, b)) not in known and not _is_settled(problem, a, b):
            known.add(frozenset((a, b)))
            questions.append(Question(a, b, why))
        if len(questions) == MOST_QUESTIONS:
            break
    return tuple(questions)


def _is_settled(problem: Problem, a: int, b: int) -> bool:
    ua, ub = problem.units[a], problem.units[b]
    return bool(ua == ub or problem.repelled[ua, ub])


def _typical_sherds(problem: Problem, best: Candidate) -> dict[int, list[int]]:
    """Sherds of each vessel, the surest and best measured first."""
    label, share = best.labels[problem.units], best.fit.share[problem.units]
    measured = np.zeros(len(label))
    for block in problem.blocks:
        measured += np.where(block.present, 1 / block.spread, 0)
    value = np.take_along_axis(share, label[:, None], axis=1)[:, 0] * measured
    return {
        vessel: sorted(np.flatnonzero(label == vessel).tolist(), key=lambda i: (-value[i], i))
        for vessel in range(best.vessels)
    }


def _number_pairs(
    problem: Problem, found: list[Candidate], best: Candidate, typical: dict[int, list[int]]
) -> list[tuple[int, int, str]]:
    """The typical sherds of two vessels that another likely sorting holds together, or of two halves it tells apart."""
    pairs = []
    rivals = [c for c in found if c is not best and c.log_weight > best.log_weight - OPEN_NATS]
    for rival in sorted(rivals, key=lambda c: -c.log_weight):
        other = _typical_sherds(problem, rival)
        here, there = (typical, rival) if rival.vessels < best.vessels else (other, best)
        label = there.labels[problem.units]
        heads = [members[:2] for members in here.values() if members]
        for i, first in enumerate(heads):
            for second in heads[i + 1 :]:
                if label[first[0]] == label[second[0]]:
                    pairs.append(
                        (first[0], second[0], f"settles whether there are {best.vessels} vessels or {rival.vessels}")
                    )
    return pairs[:2]


def _torn_pairs(problem: Problem, best: Candidate, typical: dict[int, list[int]]) -> list[tuple[int, int, str]]:
    share = best.fit.share[problem.units]
    if best.vessels == 1:
        return []
    doubt = -(share * np.log(np.maximum(share, 1e-12))).sum(axis=1)
    weight = _hangs_on(problem)
    pairs = []
    for sherd in np.argsort(-(doubt * weight), kind="stable")[: 3 * MOST_QUESTIONS]:
        first, second = np.argsort(-share[sherd], kind="stable")[:2]
        partner = next((i for i in typical[int(first)] if i != sherd), None)
        if partner is not None and doubt[sherd] > 1e-3:
            pairs.append(
                (
                    int(sherd),
                    partner,
                    f"it stands {share[sherd, first]:.0%} to {share[sherd, second]:.0%} between two vessels",
                )
            )
    return pairs


def _hangs_on(problem: Problem) -> NDArray[np.float64]:
    """How many sherds move with this one (its unit), damped."""
    size = np.bincount(problem.units, minlength=problem.unit_count)
    return np.asarray(np.sqrt(size[problem.units]), np.float64)
