"""Groups of sites: a tree of average similarity, and a network of the stronger ties.

References
----------
Sokal, R. & Michener, C. 1958 (average linkage); Sokal & Rohlf 1962 (cophenetic correlation). Named from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.cluster.hierarchy import cophenet, fcluster, leaves_list, linkage
from scipy.spatial.distance import pdist, squareform
from scipy.stats import false_discovery_control

from motifs.errors import InputError
from motifs.sites.checks import FloatArray, IntArray, at_least, named_some, open_share
from motifs.sites.similarity import brainerd_robinson_matrix, permute_pair, similarity_matrix
from motifs.sites.tables import CountTable, without_empty

Null = Literal["one assemblage", "motifs shuffled"]

MANY_PAIRS = 20_000
"""More pairs than this are not tested one by one."""


@dataclass(frozen=True, slots=True)
class SiteTree:
    """Average-linkage tree on the distance 200 - Brainerd-Robinson.

    merges: (S - 1, 4) as scipy writes a tree: two parts, their distance 0..200, size. sites: names the parts
    are numbered by. leaf_order: names in the order that the tree is drawn in. cophenetic: correlation of the
    tree's distances with the true ones, up to 1; None for two sites.
    """

    merges: FloatArray
    sites: tuple[str, ...]
    leaf_order: tuple[str, ...]
    cophenetic: float | None
    unit: str
    warnings: tuple[str, ...] = ()

    def groups(self, number: int) -> tuple[tuple[str, ...], ...]:
        """Cut the tree into this many groups (fewer where sites are equally far), in leaf order."""
        most = len(self.sites)
        if at_least(number, 1, "number of groups") > most:
            raise InputError(f"number of groups: {number} is more than the {most} sites.")
        return self._gathered(fcluster(self.merges, number, "maxclust"))

    def groups_above(self, similarity: float) -> tuple[tuple[str, ...], ...]:
        """Cut the tree so that groups join at this Brainerd-Robinson similarity (0..200) or more."""
        return self._gathered(fcluster(self.merges, 200.0 - similarity, "distance"))

    def _gathered(self, labels: IntArray) -> tuple[tuple[str, ...], ...]:
        label_of = dict(zip(self.sites, labels.tolist(), strict=True))
        gathered: dict[int, list[str]] = {}
        for name in self.leaf_order:
            gathered.setdefault(label_of[name], []).append(name)
        return tuple(tuple(names) for names in gathered.values())


@dataclass(frozen=True, slots=True)
class SiteEdge:
    """A tie between two sites: Brainerd-Robinson 0..200, and its p-value where the level was tested."""

    a: str
    b: str
    similarity: float
    p_value: float | None = None


@dataclass(frozen=True, slots=True)
class SiteNetwork:
    """Ties between sites, strongest first. how: the rule in words. alone: sites without a tie."""

    edges: tuple[SiteEdge, ...]
    sites: tuple[str, ...]
    alone: tuple[str, ...]
    how: str
    unit: str
    warnings: tuple[str, ...] = ()


def site_tree(table: CountTable) -> SiteTree:
    """Build the average-linkage tree of the sites.

    Raises
    ------
    InputError
        Fewer than two sites have counts.
    """
    matrix = similarity_matrix(table)
    if len(matrix.sites) < 2:
        raise InputError("A tree needs two sites with counts.")
    distance = squareform(200.0 - matrix.values, checks=False)
    merges = linkage(distance, "average", optimal_ordering=len(matrix.sites) <= 200)
    has_spread = len(matrix.sites) > 2 and float(np.ptp(distance)) > 0
    fit = float(cophenet(merges, distance)[0]) if has_spread else None
    order = tuple(matrix.sites[i] for i in leaves_list(merges))
    return SiteTree(merges, matrix.sites, order, fit, table.unit, matrix.warnings)


def network_above(table: CountTable, level: float) -> SiteNetwork:
    """Tie every two sites whose Brainerd-Robinson similarity is at least `level` (0..200).

    Raises
    ------
    InputError
        A level outside 0..200, or nothing counted.
    """
    if not 0.0 <= level <= 200.0:
        raise InputError(f"level: {level:g} must lie in 0..200, the range of the Brainerd-Robinson similarity.")
    matrix = similarity_matrix(table)
    first, second = np.triu_indices(len(matrix.sites), 1)
    chosen = np.flatnonzero(matrix.values[first, second] >= level)
    edges = [
        SiteEdge(matrix.sites[first[i]], matrix.sites[second[i]], float(matrix.values[first[i], second[i]]))
        for i in chosen
    ]
    return _network(edges, matrix.sites, f"similarity of {level:g} or more", table.unit, matrix.warnings)


def network_tested(
    table: CountTable, null: Null = "motifs shuffled", *, alpha: float = 0.05, permutations: int = 199, seed: int = 0
) -> SiteNetwork:
    """Tie sites by a permutation test instead of a chosen level.

    Parameters
    ----------
    table
        Sites by motifs; whole counts for "one assemblage".
    null
        "motifs shuffled": a tie where two sites are more alike than when each site keeps its own sizes of
        motif groups but which motif is which is shuffled; p-values are adjusted over all pairs for their
        false discovery rate, and a tie has p <= alpha. "one assemblage": a tie where two sites cannot be
        told from two samples of one assemblage (p > alpha); small sites tie easily, and a warning says so.
    alpha
        Between 0 and 1.
    permutations, seed
        Number of shuffles and their seed.

    References
    ----------
    Benjamini, Y. & Hochberg, Y. 1995. JRSS B 57 (false discovery rate; from memory).

    Raises
    ------
    InputError
        Unknown null, alpha out of range, or more than 20,000 pairs for "one assemblage".
    """
    if null not in ("one assemblage", "motifs shuffled"):
        raise InputError(f"null {null!r} is not known; choose 'motifs shuffled' or 'one assemblage'.")
    open_share(alpha, "alpha")
    count = at_least(permutations, 1, "permutations")
    kept, dropped, _ = without_empty(table)
    values = brainerd_robinson_matrix(kept.counts)
    pairs = np.triu_indices(len(kept.sites), 1)
    is_shuffled = null == "motifs shuffled"
    tested = _shuffled_p_values if is_shuffled else _pooled_p_values
    p_values = tested(kept.counts, count, seed)
    is_tied = p_values <= alpha if is_shuffled else p_values > alpha
    edges = [
        SiteEdge(kept.sites[i], kept.sites[j], float(values[i, j]), float(p))
        for i, j, p, tied in zip(*pairs, p_values, is_tied, strict=True)
        if tied
    ]
    notes = kept.warnings + ((f"Nothing counted at {named_some(dropped)}: left out.",) if dropped else ())
    notes += _test_notes(is_shuffled, count, len(p_values), alpha)
    rule = f"p <= {alpha:g} (adjusted)" if is_shuffled else f"p > {alpha:g}"
    return _network(edges, kept.sites, f"{null}, {count} permutations, {rule}", table.unit, notes)


def _network(edges: list[SiteEdge], sites: tuple[str, ...], how: str, unit: str, notes: tuple[str, ...]) -> SiteNetwork:
    tied = {name for edge in edges for name in (edge.a, edge.b)}
    strongest = tuple(sorted(edges, key=lambda edge: (-edge.similarity, edge.a, edge.b)))
    return SiteNetwork(strongest, sites, tuple(n for n in sites if n not in tied), how, unit, notes)


def _shuffled_p_values(counts: FloatArray, permutations: int, seed: int) -> FloatArray:
    shares = 100.0 * counts / counts.sum(axis=1, keepdims=True)
    observed = pdist(shares, "cityblock")
    rng = np.random.default_rng(seed)
    closer = np.zeros(observed.size)
    for _ in range(permutations):
        closer += pdist(rng.permuted(shares, axis=1), "cityblock") <= observed + 1e-9
    return _adjusted((closer + 1.0) / (permutations + 1.0))


def _pooled_p_values(counts: FloatArray, permutations: int, seed: int) -> FloatArray:
    first, second = np.triu_indices(len(counts), 1)
    if first.size > MANY_PAIRS:
        raise InputError(f"{first.size} pairs are too many to test one by one; choose a level, or fewer sites.")
    tested = [
        permute_pair(counts[i], counts[j], permutations=permutations, seed=seed).p_value
        for i, j in zip(first, second, strict=True)
    ]
    return np.array(tested, dtype=np.float64)


def _test_notes(is_shuffled: bool, permutations: int, pairs: int, alpha: float) -> tuple[str, ...]:
    if not is_shuffled:
        return ("A tie here means not told apart: few pieces give many ties.",)
    if pairs > alpha * (permutations + 1):
        return (f"{permutations} permutations for {pairs} pairs: a few strong ties alone cannot show; ask for more.",)
    return ()


def _adjusted(p_values: FloatArray) -> FloatArray:
    if p_values.size == 0:
        return p_values
    adjusted: FloatArray = false_discovery_control(p_values, method="bh")
    return adjusted
