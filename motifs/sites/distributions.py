"""Sites compared without tags: each site is a set of motif vectors.

Tags say what an analyst named; vectors also see what has no name. Two measures: the energy distance between
two sets of vectors, with a permutation test, and a Brainerd-Robinson similarity over soft groups of vectors,
which can be read beside the tagged one. `compare_views` says how far the two agree and where they part.

References
----------
Székely, G. & Rizzo, M. 2013. Energy statistics. J. Statistical Planning and Inference 143 (from memory).
Mantel, N. 1967. Cancer Research 27 (correlation of two matrices; from memory).
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.cluster.vq import kmeans2
from scipy.spatial.distance import cdist

from motifs.errors import InputError
from motifs.sites.checks import SMALL_SAMPLE, FloatArray, at_least, named_some
from motifs.sites.similarity import SimilarityMatrix, brainerd_robinson_matrix

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

SOFTNESS = 0.1
"""Width of a soft group, as a share of the median squared distance of a vector to the group centres."""

VectorSets = Mapping[str, NDArray[np.floating]]


@dataclass(frozen=True, slots=True)
class EnergyTest:
    """Energy distance of two sets of vectors.

    distance: 0 or more, in the vectors' own unit; 0 only for equal distributions. p_value: share of shuffled
    splits at least as far apart, (k + 1) / (n + 1).
    """

    distance: float
    p_value: float
    permutations: int
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ViewPair:
    """Two sites on which the tagged and the untagged view part: rank of likeness in each, 1 = most alike."""

    a: str
    b: str
    tagged_rank: int
    untagged_rank: int
    why: str


@dataclass(frozen=True, slots=True)
class ViewAgreement:
    """Mantel correlation of two similarity matrices over the same sites, and the pairs they differ on most."""

    correlation: float
    p_value: float
    permutations: int
    pairs: tuple[ViewPair, ...]
    warnings: tuple[str, ...] = ()


def mean_by_vessel(vectors: ArrayLike, vessels: Sequence[str | None]) -> FloatArray:
    """Average the vectors of each vessel, so that a pot in many sherds counts once.

    Parameters
    ----------
    vectors
        (N, D) one row a sherd.
    vessels
        N names; None or "" for a sherd that was not sorted, which keeps its own row.

    Returns
    -------
    (V, D), vessels in order of first appearance.
    """
    rows = _vector_rows(vectors, "vectors")
    if len(vessels) != len(rows):
        raise InputError(f"vessels: {len(vessels)} names for {len(rows)} vectors; give one for each.")
    keys = [name or (number,) for number, name in enumerate(vessels)]
    places = {key: place for place, key in enumerate(dict.fromkeys(keys))}
    index = np.array([places[key] for key in keys])
    sums = np.zeros((len(places), rows.shape[1]))
    np.add.at(sums, index, rows)
    averages: FloatArray = sums / np.bincount(index)[:, None]
    return averages


def energy_test(a: ArrayLike, b: ArrayLike, *, permutations: int = 999, seed: int = 0) -> EnergyTest:
    """Test whether two sets of vectors come from one distribution.

    Parameters
    ----------
    a, b
        (N, D) and (K, D) vectors of the same encoder, one row a sherd or, better, a vessel.
    permutations, seed
        Number of shuffled splits and their seed.

    Raises
    ------
    InputError
        Empty sets, values that are not finite, different widths.
    """
    first, second = _vector_rows(a, "first site"), _vector_rows(b, "second site")
    if first.shape[1] != second.shape[1]:
        raise InputError(f"Vectors of {first.shape[1]} and {second.shape[1]} numbers; use one encoder for both sites.")
    count = at_least(permutations, 1, "permutations")
    pooled = np.vstack([first, second])
    between = cdist(pooled, pooled)
    is_first = np.zeros((1, len(pooled)))
    is_first[0, : len(first)] = 1.0
    rng = np.random.default_rng(seed)
    shuffled = rng.permuted(np.repeat(is_first, count, axis=0), axis=1)
    observed = float(_energies(between, is_first)[0])
    as_far = int(np.count_nonzero(_energies(between, shuffled) >= observed - 1e-12))
    small = min(len(first), len(second))
    notes = (f"Only {small} vectors at one site: a large p-value shows too few.",) if small < SMALL_SAMPLE else ()
    return EnergyTest(observed, (as_far + 1) / (count + 1), count, notes)


def energy_matrix(sets: VectorSets) -> tuple[tuple[str, ...], FloatArray]:
    """Return site names and the (S, S) energy distances between their sets of vectors."""
    names, rows, bounds = _stacked(sets)
    between = cdist(rows, rows)
    indicator = np.zeros((len(names), len(rows)))
    for place, (start, stop) in enumerate(bounds):
        indicator[place, start:stop] = 1.0 / (stop - start)
    means = indicator @ between @ indicator.T
    means = (means + means.T) / 2.0
    own = np.diag(means)
    squared = np.maximum(2.0 * means - (own[:, None] + own[None, :]), 0.0)
    np.fill_diagonal(squared, 0.0)
    return names, np.sqrt(squared)


def soft_similarity(
    sets: VectorSets, groups: int = 12, *, seed: int = 0, weights: Mapping[str, ArrayLike] | None = None
) -> SimilarityMatrix:
    """Return Brainerd-Robinson similarities over soft groups of vectors.

    All vectors are grouped by k-means; each vector is spread over the groups by its distance to their
    centres, so that a vector between two groups counts half in each, and each site becomes a histogram.

    Parameters
    ----------
    sets
        (N, D) vectors by site.
    groups
        Number of groups; more than there are different vectors is cut down, with a warning.
    seed
        Of k-means.
    weights
        (N,) numbers above 0 by site: how much each vector counts (1 over the sherds of its vessel, so that a pot in many
        sherds counts once); all alike when None. The groups themselves are found without them.

    Raises
    ------
    InputError
        No sites, an empty set, different widths, or weights that do not fit the vectors.
    """
    names, rows, bounds = _stacked(sets)
    shares = _row_weights(names, bounds, weights)
    different = len(np.unique(rows, axis=0))
    number = min(at_least(groups, 1, "groups"), different)
    spread = _soft_groups(rows, number, seed) * shares[:, None]
    histograms = np.array([spread[start:stop].sum(axis=0) for start, stop in bounds])
    notes = [] if number == groups else [f"Only {different} different vectors: {number} groups instead of {groups}."]
    small = [
        f"{name} ({stop - start})"
        for name, (start, stop) in zip(names, bounds, strict=True)
        if stop - start < SMALL_SAMPLE
    ]
    if small:
        notes.append(f"Fewer than {SMALL_SAMPLE} vectors at {named_some(small)}: their histograms are unsure.")
    label = f"brainerd-robinson over {number} soft groups"
    return SimilarityMatrix(brainerd_robinson_matrix(histograms), names, label, "vectors", warnings=tuple(notes))


def compare_views(
    tagged: SimilarityMatrix, untagged: SimilarityMatrix, *, most: int = 5, permutations: int = 999, seed: int = 0
) -> ViewAgreement:
    """Set the tagged beside the untagged view of the same sites.

    Raises
    ------
    InputError
        Fewer than four sites in both, or a view in which all sites are equally alike.
    """
    names = tuple(name for name in tagged.sites if name in set(untagged.sites))
    if len(names) < 4:
        raise InputError(f"The two views share {len(names)} sites; comparing them needs four or more.")
    one, two = _restricted(tagged, names), _restricted(untagged, names)
    upper = np.triu_indices(len(names), 1)
    if not (np.isfinite(one).all() and np.isfinite(two).all()):
        raise InputError("A similarity is undefined for some pair of sites; choose another measure or larger sites.")
    if np.ptp(one[upper]) < 1e-9 or np.ptp(two[upper]) < 1e-9:
        raise InputError("In one view all sites are equally alike; there is nothing to compare.")
    correlation, p_value = _mantel(one, two, at_least(permutations, 1, "permutations"), seed)
    few = ("With fewer than 7 sites there are too few arrangements for a small p-value.",) if len(names) < 7 else ()
    return ViewAgreement(correlation, p_value, permutations, _parted_pairs(names, one, two, most), few)


def _vector_rows(values: ArrayLike, name: str) -> FloatArray:
    try:
        rows = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise InputError(f"{name}: vectors of different lengths or not numbers; encode again.") from None
    if rows.ndim != 2 or rows.size == 0:
        raise InputError(f"{name}: no vectors; encode its sherds first.")
    if not np.isfinite(rows).all():
        raise InputError(f"{name}: a vector holds a value that is not finite; encode its sherds again.")
    return rows


def _energies(between: FloatArray, is_first: FloatArray) -> FloatArray:
    """Return the energy distance of each split in (n, N) 0/1 rows."""
    is_second = 1.0 - is_first
    size_a, size_b = is_first.sum(axis=1), is_second.sum(axis=1)
    to_first, to_second = is_first @ between, is_second @ between
    across = (to_first * is_second).sum(axis=1) / (size_a * size_b)
    within_a = (to_first * is_first).sum(axis=1) / size_a**2
    within_b = (to_second * is_second).sum(axis=1) / size_b**2
    energies: FloatArray = np.sqrt(np.maximum(2.0 * across - within_a - within_b, 0.0))
    return energies


def _stacked(sets: VectorSets) -> tuple[tuple[str, ...], FloatArray, list[tuple[int, int]]]:
    if not sets:
        raise InputError("No sites were given; encode sherds of two sites or more first.")
    parts = [_vector_rows(rows, f"site {name}") for name, rows in sets.items()]
    if len({part.shape[1] for part in parts}) > 1:
        raise InputError("Sites have vectors of different lengths; encode all of them with one encoder.")
    stops = np.cumsum([len(part) for part in parts]).tolist()
    bounds = list(zip([0, *stops[:-1]], stops, strict=True))
    return tuple(sets), np.vstack(parts), bounds


def _row_weights(
    names: tuple[str, ...], bounds: list[tuple[int, int]], weights: Mapping[str, ArrayLike] | None
) -> FloatArray:
    if weights is None:
        return np.ones(bounds[-1][1])
    parts = []
    for name, (start, stop) in zip(names, bounds, strict=True):
        part = np.asarray(weights.get(name, ()), dtype=np.float64)
        if part.shape != (stop - start,) or not (np.isfinite(part).all() and (part > 0).all()):
            raise InputError(f"weights of site {name}: give one number above 0 for each of its {stop - start} vectors.")
        parts.append(part)
    return np.concatenate(parts)


def _soft_groups(rows: FloatArray, number: int, seed: int) -> FloatArray:
    with warnings.catch_warnings():
        # A group that runs empty keeps its centre, which only leaves a nearly empty bin in every histogram.
        warnings.filterwarnings("ignore", message="One of the clusters is empty")
        centres, _ = kmeans2(rows, number, minit="++", rng=np.random.default_rng(seed), missing="warn")
    squared = cdist(rows, centres, "sqeuclidean")
    width = SOFTNESS * float(np.median(squared))
    nearest = squared - squared.min(axis=1, keepdims=True)
    weights = np.exp(-nearest / width) if width > 0 else (nearest == 0).astype(np.float64)
    shares: FloatArray = weights / weights.sum(axis=1, keepdims=True)
    return shares


def _restricted(matrix: SimilarityMatrix, names: tuple[str, ...]) -> FloatArray:
    places = [matrix.sites.index(name) for name in names]
    values: FloatArray = matrix.values[np.ix_(places, places)]
    return values


def _mantel(one: FloatArray, two: FloatArray, permutations: int, seed: int) -> tuple[float, float]:
    upper = np.triu_indices(len(one), 1)
    fixed = one[upper] - one[upper].mean()
    free = (two - two[upper].mean()) / np.sqrt(((two[upper] - two[upper].mean()) ** 2).sum() * (fixed**2).sum())
    observed = float(fixed @ free[upper])
    rng = np.random.default_rng(seed)
    orders = rng.permuted(np.tile(np.arange(len(one)), (permutations, 1)), axis=1)
    as_high = sum(float(fixed @ free[np.ix_(o, o)][upper]) >= observed - 1e-12 for o in orders)
    return observed, (as_high + 1) / (permutations + 1)


def _parted_pairs(names: tuple[str, ...], one: FloatArray, two: FloatArray, most: int) -> tuple[ViewPair, ...]:
    first, second = np.triu_indices(len(names), 1)
    tagged = np.argsort(np.argsort(-one[first, second], kind="stable")) + 1
    untagged = np.argsort(np.argsort(-two[first, second], kind="stable")) + 1
    widest = np.argsort(-np.abs(tagged - untagged), kind="stable")[:most]
    return tuple(
        ViewPair(names[first[i]], names[second[i]], int(tagged[i]), int(untagged[i]), _why(tagged[i] - untagged[i]))
        for i in widest
        if tagged[i] != untagged[i]
    )


def _why(gap: int) -> str:
    if gap > 0:
        return "look alike but are tagged apart: two names for one motif, or likeness of hand, paint or paste"
    return "tagged alike but look apart: one name for different drawings, or other technique, wear or photographs"
