"""The next questions to ask the analyst: pairs whose answer would put most sherds right, as far as can be expected.

Two kinds. Where another sorting of the lot is nearly as likely, two typical sherds that one sorting holds together and the
other apart. Where a sherd may be with the wrong vessel, that sherd beside a typical sherd of its vessel. What an answer is
worth is the number of sherds that would move times the chance that they should. Pairs already settled or left open are never
asked, and no sherd that is not fit to be shown (a speck of dust taken for one, an outline in doubt) is ever named.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from motifs.records import Question

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from motifs.records import Links
    from motifs.vessels.mixture import Problem
    from motifs.vessels.search import Candidate, Found

MOST_QUESTIONS = 12
MOST_RIVALS = 4
DOUBT_NATS = 12.0
"""Nats of the search that count as one when two sortings are weighed against each other."""


@dataclass(frozen=True, slots=True)
class _Idea:
    worth: float
    a: int
    b: int
    why: str


def ask(
    problem: Problem, found: Found, support: NDArray[np.float64], links: Links, fitness: NDArray[np.float64]
) -> tuple[Question, ...]:
    """Questions in the order of their use, at most MOST_QUESTIONS; positions are sherds of the lot.

    Parameters
    ----------
    support : (n,) float64
        Of each sherd in its vessel, 0..1.
    fitness : (n,) float64
        How fit each sherd is to be shown, 0..1; one with 0 is never named.
    """
    known = {frozenset(pair) for pair in (*links.same, *links.different, *links.open)}
    ideas = [*_rival_ideas(problem, found, fitness), *_torn_ideas(problem, found, support, fitness)]
    questions: list[Question] = []
    for idea in sorted(ideas, key=lambda idea: (-idea.worth, idea.a, idea.b)):
        pair = frozenset((idea.a, idea.b))
        if len(pair) == 2 and pair not in known and not _is_settled(problem, idea.a, idea.b):
            known.add(pair)
            questions.append(Question(idea.a, idea.b, idea.why))
    return tuple(questions[:MOST_QUESTIONS])


def _is_settled(problem: Problem, a: int, b: int) -> bool:
    ua, ub = problem.units[a], problem.units[b]
    return bool(ua == ub or problem.repelled[ua, ub])


def _firmness(problem: Problem, sorting: Candidate) -> NDArray[np.float64]:
    """How typical each sherd is of its vessel: what the cues say for it there, cue by cue against the vessel's middle, (n,)."""
    rows = np.arange(len(problem.units))
    fit = sorting.pull.sum(axis=0)[rows, sorting.labels[problem.units]]
    measured = np.zeros(len(rows))
    for block in problem.blocks:
        measured += np.where(block.present, 1 / block.spread, 0.0)
    rank = np.argsort(np.argsort(fit, kind="stable"), kind="stable") / len(rows)
    return np.asarray(rank + np.argsort(np.argsort(measured, kind="stable"), kind="stable") / len(rows))


def _rival_ideas(problem: Problem, found: Found, fitness: NDArray[np.float64]) -> Iterator[_Idea]:
    """For each likely other sorting, the pair of typical sherds on which it and the best disagree."""
    best = found.best
    # A sherd already asked about tells less; one that is not fit to be shown is out of the running.
    firm = np.where(fitness > 0, _firmness(problem, best) - _is_linked(problem) + fitness, -np.inf)
    label = best.labels[problem.units]
    for rival in found.others[:MOST_RIVALS]:
        other = rival.labels[problem.units]
        chance = 1 / (1 + np.exp((best.log_weight - rival.log_weight) / DOUBT_NATS))
        pair = _disagreement(label, other, firm + _firmness(problem, rival), problem)
        if pair is not None:
            a, b, moved = pair
            yield _Idea(chance * moved, a, b, _rival_words(best.vessels, rival.vessels, moved))


def _rival_words(here: int, there: int, moved: int) -> str:
    if here != there:
        return f"settles whether there are {here} vessels or {there}; {moved} sherds hang on it"
    return f"another way to divide the lot is nearly as likely; {moved} sherds hang on it"


def _disagreement(
    label: NDArray[np.intp], other: NDArray[np.intp], firm: NDArray[np.float64], problem: Problem
) -> tuple[int, int, int] | None:
    """The firmest pair that is together in one sorting and apart in the other, and how many sherds would move."""
    table = np.zeros((int(label.max()) + 1, int(other.max()) + 1), np.intp)
    np.add.at(table, (label, other), 1)
    moved = int(len(label) - max(table.max(axis=1).sum(), table.max(axis=0).sum()))
    moved = max(moved, int(len(label) - table.max(axis=1).sum()), int(len(label) - table.max(axis=0).sum()))
    if moved == 0:
        return None
    shown = np.zeros_like(table)
    np.add.at(shown, (label, other), np.isfinite(firm))
    heads = {
        cell: _firmest(label, other, cell, firm) for cell in zip(*np.nonzero((table >= 2) & (shown > 0)), strict=True)
    }
    best: tuple[float, int, int] | None = None
    cells = sorted(heads)
    for i, one in enumerate(cells):
        for two in cells[i + 1 :]:
            if (one[0] == two[0]) == (one[1] == two[1]):
                continue
            a, b = heads[one], heads[two]
            size = float(min(table[one], table[two]))
            if not _is_settled(problem, a, b) and (best is None or size > best[0]):
                best = (size, a, b)
    return None if best is None else (best[1], best[2], moved)


def _firmest(label: NDArray[np.intp], other: NDArray[np.intp], cell: tuple[int, int], firm: NDArray[np.float64]) -> int:
    inside = np.flatnonzero((label == cell[0]) & (other == cell[1]))
    return int(inside[np.argmax(firm[inside])])


def _torn_ideas(
    problem: Problem, found: Found, support: NDArray[np.float64], fitness: NDArray[np.float64]
) -> Iterator[_Idea]:
    """Sherds that may be with the wrong vessel, beside the most typical sherd of their vessel that is not tied to them."""
    best = found.best
    if best.vessels == 1:
        return
    label = best.labels[problem.units]
    firm = _firmness(problem, best) + 2 * support + _is_linked(problem) + fitness
    order = np.argsort(-firm, kind="stable")
    order = order[fitness[order] > 0]
    typical = {v: order[label[order] == v] for v in range(best.vessels)}
    size = np.bincount(problem.units, minlength=problem.unit_count)[problem.units]
    unsure = np.argsort(support, kind="stable")
    for sherd in unsure[fitness[unsure] > 0][: 4 * MOST_QUESTIONS]:
        partner = next((int(i) for i in typical[int(label[sherd])] if not _is_settled(problem, i, sherd)), None)
        if partner is not None and partner != sherd:
            worth = float((1 - support[sherd]) * size[sherd])
            yield _Idea(worth, int(sherd), partner, f"its place is the least sure: support {support[sherd]:.2f}")


def _is_linked(problem: Problem) -> NDArray[np.float64]:
    size = np.bincount(problem.units, minlength=problem.unit_count)
    return np.asarray((size > 1)[problem.units], np.float64)
