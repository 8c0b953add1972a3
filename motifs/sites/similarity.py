"""How alike two sites are by their motif counts.

Brainerd-Robinson compares shares and runs from 0 (nothing in common) to 200 (the same shares). Jaccard and
Sørensen compare which motifs occur at all. Morisita and Morisita-Horn compare counts with little weight on
rare motifs. Every measure is symmetric, and larger is closer.

References
----------
Robinson, W. S. 1951. A method for chronologically ordering archaeological deposits. American Antiquity 16.
Brainerd, G. W. 1951. The place of chronological ordering in archaeological analysis. American Antiquity 16.
DeBoer, W., Kintigh, K. & Rostoker, A. 1996. Ceramic seriation and site reoccupation in lowland South
America. Latin American Antiquity 7 (sampling error of the coefficient by resampling).
Jaccard 1901; Sørensen 1948; Morisita 1959; Horn 1966 (all named from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import pandas as pd
from scipy.spatial.distance import pdist, squareform

from motifs.errors import InputError
from motifs.sites.checks import (
    LARGEST_POOL,
    SMALL_SAMPLE,
    FloatArray,
    IntArray,
    at_least,
    count_matrix,
    count_pair,
    named_some,
    whole_counts,
)
from motifs.sites.tables import CountTable, without_empty

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike

Measure = Literal["brainerd-robinson", "jaccard", "sorensen", "morisita", "morisita-horn"]

ROUNDING = 1e-9
"""Two similarities this close are the same number; without it ties would hang on the last bit."""


@dataclass(frozen=True, slots=True)
class SimilarityMatrix:
    """Similarity of every two sites.

    values: (S, S) symmetric float64, NaN where the measure is undefined. sites: names. measure, unit: what
    was computed on what. dropped_sites: sites with no counts.
    """

    values: FloatArray
    sites: tuple[str, ...]
    measure: str
    unit: str
    dropped_sites: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    def frame(self) -> pd.DataFrame:
        """Return the matrix with site names on both sides."""
        return pd.DataFrame(self.values, index=list(self.sites), columns=list(self.sites))


@dataclass(frozen=True, slots=True)
class PermutedPair:
    """Brainerd-Robinson of two sites against samples drawn from both together.

    similarity: observed, 0..200. p_value: share of reshuffled pairs at most as similar, (k + 1) / (n + 1);
    small means that the two differ by more than sampling. null_mean, null_low: mean and 5th percentile of the
    reshuffled similarities. permutations: n.
    """

    similarity: float
    p_value: float
    null_mean: float
    null_low: float
    permutations: int
    warnings: tuple[str, ...] = ()


def brainerd_robinson(a: ArrayLike, b: ArrayLike) -> float:
    """Return 200 - sum |percent a - percent b|, 0..200.

    Parameters
    ----------
    a, b
        (M,) counts over the same motifs, 0 or more, not all zero.

    Raises
    ------
    InputError
        Not counts, different lengths, or nothing counted.
    """
    return _pair(a, b, brainerd_robinson_matrix)


def jaccard(a: ArrayLike, b: ArrayLike) -> float:
    """Return shared motifs over all motifs seen at either site, 0..1."""
    return _pair(a, b, jaccard_matrix)


def sorensen(a: ArrayLike, b: ArrayLike) -> float:
    """Return twice the shared motifs over the sum of both richnesses, 0..1."""
    return _pair(a, b, sorensen_matrix)


def morisita(a: ArrayLike, b: ArrayLike) -> float:
    """Return Morisita's index (unbiased for whole counts; can exceed 1).

    Raises
    ------
    InputError
        Also when fewer than two pieces, or no motif twice at either site, make it undefined.
    """
    value = _pair(a, b, morisita_matrix)
    if np.isnan(value):
        raise InputError("Morisita's index is undefined: no motif occurs twice at either site; use Morisita-Horn.")
    return value


def morisita_horn(a: ArrayLike, b: ArrayLike) -> float:
    """Return Horn's form of Morisita's index, 0..1, for counts or shares."""
    return _pair(a, b, morisita_horn_matrix)


def brainerd_robinson_matrix(counts: ArrayLike) -> FloatArray:
    """Return (S, S) Brainerd-Robinson similarities of the rows of (S, M) counts, 0..200.

    Raises
    ------
    InputError
        Not counts, or a row with nothing counted.
    """
    distance = pdist(100.0 * _shares(counts), "cityblock")
    values: FloatArray = np.clip(200.0 - squareform(distance), 0.0, 200.0)
    return values


def jaccard_matrix(counts: ArrayLike) -> FloatArray:
    """Return (S, S) Jaccard similarities of the rows of (S, M) counts, 0..1."""
    shared, richness = _overlap(counts)
    return shared / (richness[:, None] + richness[None, :] - shared)


def sorensen_matrix(counts: ArrayLike) -> FloatArray:
    """Return (S, S) Sørensen similarities of the rows of (S, M) counts, 0..1."""
    shared, richness = _overlap(counts)
    return 2.0 * shared / (richness[:, None] + richness[None, :])


def morisita_matrix(counts: ArrayLike) -> FloatArray:
    """Return (S, S) Morisita similarities; NaN where undefined. The diagonal is set to 1."""
    matrix = whole_counts(_counted_rows(counts)).astype(np.float64)
    total = matrix.sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        repeat = (matrix * (matrix - 1)).sum(axis=1) / (total * (total - 1))
        values: FloatArray = _horn_ratio(matrix / total[:, None], repeat)
    values[~np.isfinite(values)] = np.nan
    np.fill_diagonal(values, 1.0)
    return values


def morisita_horn_matrix(counts: ArrayLike) -> FloatArray:
    """Return (S, S) Morisita-Horn similarities of the rows of (S, M) counts, 0..1."""
    shares = _shares(counts)
    return np.clip(_horn_ratio(shares, (shares**2).sum(axis=1)), 0.0, 1.0)


MEASURES: dict[str, Callable[[ArrayLike], FloatArray]] = {
    "brainerd-robinson": brainerd_robinson_matrix,
    "jaccard": jaccard_matrix,
    "sorensen": sorensen_matrix,
    "morisita": morisita_matrix,
    "morisita-horn": morisita_horn_matrix,
}


def similarity_matrix(table: CountTable, measure: Measure = "brainerd-robinson") -> SimilarityMatrix:
    """Compare every two sites of a table; sites with no counts are left out and named.

    Raises
    ------
    InputError
        Unknown measure, or nothing counted.
    """
    if measure not in MEASURES:
        raise InputError(f"measure {measure!r} is not known; choose one of {', '.join(MEASURES)}.")
    kept, dropped, _ = without_empty(table)
    values = MEASURES[measure](kept.counts)
    notes = kept.warnings
    if dropped:
        notes = (*notes, f"No {table.unit} counted at {named_some(dropped)}: left out.")
    if np.isnan(values).any():
        notes = (*notes, f"{measure} is undefined for some pairs of very small sites.")
    return SimilarityMatrix(values, kept.sites, measure, table.unit, dropped, notes)


def permute_pair(a: ArrayLike, b: ArrayLike, *, permutations: int = 999, seed: int = 0) -> PermutedPair:
    """Test whether two sites could be two samples of one assemblage.

    All pieces of both sites are pooled and dealt out again, each site keeping its size; the number of dealt
    pairs at most as similar as the real one gives p = (k + 1) / (n + 1). Dealing is drawn from the exact
    (multivariate hypergeometric) distribution, all permutations at once.

    Parameters
    ----------
    a, b
        (M,) whole counts over the same motifs. Sherds of one pot are not independent: with sherd counts p
        is too small, with vessel counts it is right.
    permutations
        n, 1 or more.
    seed
        Of the random generator; the same seed gives the same p.

    Raises
    ------
    InputError
        Not whole counts, different lengths, nothing counted, or more than 10^9 pieces together.
    """
    first, second = count_pair(a, b)
    whole_a, whole_b = whole_counts(first), whole_counts(second)
    count = at_least(permutations, 1, "permutations")
    observed = brainerd_robinson(first, second)
    null = _dealt_similarities(whole_a, whole_b, count, seed)
    below = int(np.count_nonzero(null <= observed + ROUNDING))
    return PermutedPair(
        similarity=observed,
        p_value=(below + 1) / (count + 1),
        null_mean=float(null.mean()),
        null_low=float(np.quantile(null, 0.05)),
        permutations=count,
        warnings=_pair_warnings(int(whole_a.sum()), int(whole_b.sum())),
    )


def _pair(a: ArrayLike, b: ArrayLike, matrix: Callable[[ArrayLike], FloatArray]) -> float:
    return float(matrix(np.vstack(count_pair(a, b)))[0, 1])


def _counted_rows(counts: ArrayLike) -> FloatArray:
    matrix = count_matrix(counts)
    empty = np.flatnonzero(matrix.sum(axis=1) <= 0)
    if empty.size:
        raise InputError(f"counts: row {empty[0] + 1} has nothing counted; leave that site out.")
    return matrix


def _shares(counts: ArrayLike) -> FloatArray:
    matrix = _counted_rows(counts)
    shares: FloatArray = matrix / matrix.sum(axis=1, keepdims=True)
    return shares


def _overlap(counts: ArrayLike) -> tuple[FloatArray, FloatArray]:
    is_there = (_counted_rows(counts) > 0).astype(np.float64)
    return is_there @ is_there.T, is_there.sum(axis=1)


def _horn_ratio(shares: FloatArray, repeat: FloatArray) -> FloatArray:
    return 2.0 * (shares @ shares.T) / (repeat[:, None] + repeat[None, :])


def _dealt_similarities(a: IntArray, b: IntArray, permutations: int, seed: int) -> FloatArray:
    pool = a + b
    if pool.sum() > LARGEST_POOL:
        raise InputError(f"The two sites hold {pool.sum()} pieces together; the test takes {LARGEST_POOL} at most.")
    seen = pool[pool > 0]
    rng = np.random.default_rng(seed)
    first = rng.multivariate_hypergeometric(seen, int(a.sum()), size=permutations, method="marginals")
    gap = np.abs(first / a.sum() - (seen - first) / b.sum()).sum(axis=1)
    dealt: FloatArray = 200.0 - 100.0 * gap
    return dealt


def _pair_warnings(size_a: int, size_b: int) -> tuple[str, ...]:
    if min(size_a, size_b) >= SMALL_SAMPLE:
        return ()
    return (
        f"Samples of {size_a} and {size_b}: with fewer than {SMALL_SAMPLE}, a large p-value shows too few pieces, "
        "not likeness.",
    )
