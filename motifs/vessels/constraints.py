"""The analyst's links: must-links become units, cannot-links repel, and the final labels obey both exactly."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import networkx as nx
import numpy as np
from scipy.sparse import csr_array

from motifs.errors import LinksContradict

SURE_JOIN_NATS = 2.0
JOIN_SAY = 2.0
"""What a join says beside its stated ratio: on 19 lots of other makers (tune seeds) joins stated at 1 to 2 nats were right 127 times in 139,
at 2 to 3 nats 124 in 126, above that 472 in 472."""
VOUCHED_NATS = 1.5
VOUCHED_SAY = 3.0
"""Joins of so many nats that still hang together where any one of them is taken away vouch for each other, and say so many times
more: of 13 such groups on lots of pots and 35 on lots of cut cloth (tune seeds), none held sherds of two."""
PRIOR_PAIRS = 6.0
SPARED_PAIRS = 2
"""The most unlike pairs, so many and a tenth of all, are passed over: a false join or a fire cloud must not silence a cue."""

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.records import CueBlock, Links


def make_units(count: int, links: Links) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Contract must-links and carry cannot-links over to the units.

    Returns
    -------
    units : (count,) intp
        The unit of each sherd, numbered by first appearance.
    repelled : (U, U) bool
        Symmetric; True where two units must not share a vessel.

    Raises
    ------
    LinksContradict
        When a "different" pair is tied together by "same" links.
    """
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(count))
    graph.add_edges_from(links.same)
    units = np.zeros(count, np.intp)
    groups = sorted((sorted(group) for group in nx.connected_components(graph)), key=lambda group: group[0])
    for label, group in enumerate(groups):
        units[group] = label
    repelled = np.zeros((len(groups), len(groups)), bool)
    for a, b in links.different:
        if units[a] == units[b]:
            raise LinksContradict(
                f"sherds {a} and {b} of the lot are linked as different and, through others, as the same"
            )
        repelled[units[a], units[b]] = repelled[units[b], units[a]] = True
    return units, repelled


def join_coupling(
    joins: Sequence[tuple[int, int, float]], units: NDArray[np.intp], repelled: NDArray[np.bool_]
) -> csr_array | None:
    """Join evidence between units, (U, U) sparse and symmetric; None without any.

    The log-likelihood ratios of several joins between two units add up. Joins that the analyst's word settles are left out.
    """
    rows = [(units[a], units[b], llr) for a, b, llr in joins]
    open_rows = [(a, b, JOIN_SAY * llr) for a, b, llr in rows if a != b and not repelled[a, b]]
    if not open_rows:
        return None
    a, b, llr = (np.array(column) for column in zip(*open_rows, strict=True))
    both = (np.concatenate([llr, llr]), (np.concatenate([a, b]), np.concatenate([b, a])))
    return csr_array(both, shape=repelled.shape)


def vouched_joins(joins: Sequence[tuple[int, int, float]]) -> list[tuple[int, int, float]]:
    """The joins, those that vouch for each other with VOUCHED_SAY times their evidence."""
    groups = _firm_groups([(a, b) for a, b, llr in joins if llr >= VOUCHED_NATS], ())
    of = {int(sherd): number for number, group in enumerate(groups) for sherd in group}
    return [(a, b, VOUCHED_SAY * llr if llr > 0 and a in of and of[a] == of.get(b) else llr) for a, b, llr in joins]


def widen_spreads(blocks: Sequence[CueBlock], joins: Sequence[tuple[int, int, float]], links: Links) -> list[CueBlock]:
    """The cues with their spreads as wide as sherds that are surely of one vessel show them in this very lot.

    Surely of one vessel: joined with SURE_JOIN_NATS, or linked so; and whole groups of sherds that hang together by such pairs
    even where any one join is taken away. Pairs show neighbours, groups also what changes from zone to zone of a vessel; the
    wider of the two counts. Where they exceed the calibrated spread on the average, it is multiplied by that excess (never
    made smaller: neighbours are more alike than two sherds of a vessel taken at random).
    """
    apart = {frozenset(pair) for pair in links.different}
    joined = [(a, b) for a, b, llr in joins if llr >= SURE_JOIN_NATS and frozenset((a, b)) not in apart]
    told = np.array([*joined, *links.same], np.intp).reshape(-1, 2)
    groups = _firm_groups(joined, links.same)
    wide = []
    for block in blocks:
        excess, seen = max(_excess_of_pairs(block, told), _excess_of_groups(block, groups))
        readings = float(seen * block.x.shape[1]) if excess > 1 else 0.0
        wide.append(replace(block, spread=block.spread * excess, seen_here=readings))
    return wide


def _firm_groups(joined: Sequence[tuple[int, int]], same: Sequence[tuple[int, int]]) -> list[NDArray[np.intp]]:
    """Groups of three and more sherds that stay together whichever one join is false; an answer is never false."""
    graph: nx.Graph[int] = nx.Graph()
    graph.add_edges_from([*joined, *same])
    answered = {frozenset(pair) for pair in same}
    graph.remove_edges_from([pair for pair in nx.bridges(graph) if frozenset(pair) not in answered])
    groups = [np.array(sorted(group), np.intp) for group in nx.connected_components(graph) if len(group) > 2]
    return sorted(groups, key=lambda group: int(group[0]))


def _excess_of_pairs(block: CueBlock, pairs: NDArray[np.intp]) -> tuple[float, int]:
    """By how much pairs of one vessel differ more than calibrated, at least 1, and from how many; PRIOR_PAIRS more say 1."""
    a, b = pairs[block.present[pairs].all(axis=1)].T
    square = np.sort(((block.x[a] - block.x[b]) ** 2).mean(axis=1) / (block.spread[a] + block.spread[b]))
    kept = square[: max(0, len(square) - SPARED_PAIRS - len(square) // 10)]
    return max(1.0, float((PRIOR_PAIRS + kept.sum()) / (PRIOR_PAIRS + len(kept)))), len(kept)


def _excess_of_groups(block: CueBlock, groups: Sequence[NDArray[np.intp]]) -> tuple[float, int]:
    """By how much sherds of one group lie farther from its middle than calibrated, at least 1, and from how many.

    One sherd in ten of each group, the farthest, is passed over.
    """
    total, freedom = PRIOR_PAIRS, PRIOR_PAIRS
    for group in groups:
        here = group[block.present[group]]
        if len(here) > 2:
            square = ((block.x[here] - block.x[here].mean(axis=0)) ** 2).mean(axis=1) / block.spread[here]
            kept = np.sort(square)[: len(here) - len(here) // 10]
            total, freedom = total + float(kept.sum()), freedom + len(kept) - 1
    return max(1.0, total / freedom), int(freedom - PRIOR_PAIRS)


def fewest_vessels(repelled: NDArray[np.bool_]) -> int:
    """Lower bound on the number of vessels that the cannot-links allow: a greedy clique."""
    if not repelled.any():
        return min(1, len(repelled))
    order = np.argsort(-repelled.sum(axis=1), kind="stable")
    best = 1
    for start in order[: min(len(order), 50)]:
        clique = [int(start)]
        for unit in order:
            if all(repelled[unit, member] for member in clique):
                clique.append(int(unit))
        best = max(best, len(clique))
    return best


def settle_labels(
    share: NDArray[np.float64], repelled: NDArray[np.bool_], *, effort: int = 20_000
) -> NDArray[np.intp] | None:
    """Most probable labels of the units under exact cannot-links.

    Units that nothing repels take their best vessel. The others are labelled by depth-first search, surest first,
    best vessel first; None when no labelling with these vessels is found within `effort` steps.
    """
    labels: NDArray[np.intp] = np.asarray(share.argmax(axis=1), np.intp)
    tied = np.flatnonzero(repelled.any(axis=1))
    if not _clashes(labels, repelled):
        return labels
    order = sorted(tied.tolist(), key=lambda unit: (-int(repelled[unit].sum()), -float(share[unit].max()), unit))
    choice = {unit: np.argsort(-share[unit], kind="stable") for unit in order}
    placed: dict[int, int] = {}
    if not _place(order, 0, choice, repelled, placed, [effort]):
        return None
    for unit, vessel in placed.items():
        labels[unit] = vessel
    return labels


def _clashes(labels: NDArray[np.intp], repelled: NDArray[np.bool_]) -> bool:
    return bool((repelled & (labels[:, None] == labels[None, :])).any())


def _place(
    order: list[int],
    depth: int,
    choice: dict[int, NDArray[np.intp]],
    repelled: NDArray[np.bool_],
    placed: dict[int, int],
    effort: list[int],
) -> bool:
    """Depth-first with an explicit stack of positions, so that long chains of links do not exhaust the interpreter's."""
    tried = [0] * (len(order) + 1)
    while depth < len(order):
        unit = order[depth]
        taken = {placed[other] for other in order[:depth] if repelled[unit, other]}
        step = next((i for i in range(tried[depth], len(choice[unit])) if int(choice[unit][i]) not in taken), None)
        effort[0] -= 1
        if effort[0] < 0:
            return False
        if step is not None:
            placed[unit] = int(choice[unit][step])
            tried[depth] = step + 1
            depth += 1
            tried[depth] = 0
            continue
        if depth == 0:
            return False
        placed.pop(unit, None)
        depth -= 1
    return True
