"""How long 1,000 sites by 500 motifs take, as ratios to the bare libraries: ``python -m motifs.sites.benchmark``."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial.distance import pdist

from motifs.sites.ordination import correspondence_analysis
from motifs.sites.similarity import brainerd_robinson, permute_pair, similarity_matrix
from motifs.sites.tables import CountTable, count_table

if TYPE_CHECKING:
    from collections.abc import Callable

SITES, MOTIFS, PERMUTATIONS = 1000, 500, 999


def invented_table(sites: int, motifs: int, seed: int = 0) -> CountTable:
    """Return invented counts along one gradient, sampled."""
    rng = np.random.default_rng(seed)
    place, peak = rng.uniform(0, 1, (sites, 1)), rng.uniform(0, 1, motifs)
    expected = 2.0 * np.exp(-((place - peak) ** 2) / 0.02)
    counts = rng.poisson(expected)
    counts[:, 0] += 1
    return count_table(counts, [f"S{i}" for i in range(sites)], [f"m{i}" for i in range(motifs)], "sherds")


def seconds(work: Callable[[], object], repeats: int = 3) -> float:
    """Return the shortest of a few runs."""
    taken = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)


def main() -> None:
    """Print the times and ratios."""
    table = invented_table(SITES, MOTIFS)
    shares = table.counts / table.counts.sum(axis=1, keepdims=True)
    a, b = table.counts[0], table.counts[1]
    analysis = seconds(lambda: correspondence_analysis(table))
    bare_svd = seconds(lambda: np.linalg.svd(shares, full_matrices=False))
    matrix = seconds(lambda: similarity_matrix(table))
    bare_distance = seconds(lambda: pdist(shares, "cityblock"))
    permuted = seconds(lambda: permute_pair(a, b, permutations=PERMUTATIONS))
    looped = seconds(lambda: _looped_permutations(a, b), repeats=1)
    print(f"{SITES} sites x {MOTIFS} motifs, {PERMUTATIONS} permutations of one pair")
    print(f"correspondence analysis  {analysis:7.3f} s   {analysis / bare_svd:5.2f} x the bare SVD")
    print(f"Brainerd-Robinson matrix {matrix:7.3f} s   {matrix / bare_distance:5.2f} x the bare distances")
    print(f"permutations of one pair {permuted:7.3f} s   {permuted / looped:5.2f} x a loop of shuffles")
    print(f"together                 {analysis + matrix + permuted:7.3f} s")


def _looped_permutations(a: np.ndarray, b: np.ndarray) -> None:
    pieces = np.repeat(np.arange(a.size), (a + b).astype(np.int64))
    rng, size = np.random.default_rng(0), int(a.sum())
    for _ in range(PERMUTATIONS):
        dealt = rng.permutation(pieces)
        first = np.bincount(dealt[:size], minlength=a.size)
        second = np.bincount(dealt[size:], minlength=a.size)
        brainerd_robinson(first, second)


if __name__ == "__main__":
    main()
