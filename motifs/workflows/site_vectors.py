"""Sites compared without tags: by how the vectors of their decoration are distributed."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from motifs.errors import InputError
from motifs.sites import compare_views, energy_matrix, energy_test, mean_by_vessel, soft_similarity
from motifs.workflows.vectors import comparanda_encoder, ensure_vectors

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue
    from motifs.sites import EnergyTest, SimilarityMatrix, ViewAgreement
    from motifs.workflows import Progress
    from motifs.workflows.site_rows import TagRows
    from motifs.workflows.sites import ComparingSettings

MOST_TESTED = 60
"""Pairs of sites that are tested by shuffling."""
LARGEST_TESTED = 1500
"""Vectors of a pair that are still shuffled; more take long and need no test."""


@dataclass(frozen=True, slots=True)
class UntaggedPair:
    """Two sites without tags, with how they stand in both views.

    similarity: Brainerd-Robinson over soft groups, 0..200. tagged: by tags, None where there is none. why: what the
    difference between the two may come from.
    """

    a: str
    b: str
    similarity: float
    energy: EnergyTest | None
    tagged: float | None
    why: str


@dataclass(frozen=True, slots=True)
class UntaggedView:
    """Sites by the encoder's vectors, a vessel counted once.

    pieces: vessels and unsorted sherds by site. distance: (S, S) energy distances. agreement: with the tagged view, None below four
    sites in both.
    """

    encoder: str
    pieces: dict[str, int]
    similarity: SimilarityMatrix
    distance: NDArray[np.float64]
    pairs: tuple[UntaggedPair, ...]
    agreement: ViewAgreement | None


def untagged_view(
    cat: Catalogue,
    rows: TagRows,
    tagged: SimilarityMatrix | None,
    settings: ComparingSettings,
    notes: list[str],
    *,
    by: str,
    progress: Progress | None = None,
) -> UntaggedView | None:
    """Compare sites by their sherds' vectors; None, and a note, with fewer than two sites.

    Parameters
    ----------
    tagged : the tagged view to set it beside, or None.
    notes : warnings are added to it.

    Raises
    ------
    UnknownName
        No such encoder.
    """
    sherds, encoder = _vectors_by_site(cat, rows, settings.encoder, by=by, progress=progress)
    if len(sherds) < 2:
        notes.append(f"{len(sherds)} site(s) with sherds: comparing needs two")
        return None
    vessels = _vessels_by_site(rows)
    is_once = settings.unit != "sherd"
    weights = {site: _once_a_vessel(names) for site, names in vessels.items()} if is_once else None
    similarity = soft_similarity(sherds, seed=settings.seed, weights=weights)
    sets = {site: _means(part, vessels[site]) for site, part in sherds.items()} if is_once else sherds
    _, distance = energy_matrix(sets)
    notes += similarity.warnings
    agreement = None
    if tagged is not None:
        try:
            agreement = compare_views(tagged, similarity, permutations=settings.permutations, seed=settings.seed)
            notes += agreement.warnings
        except InputError as reason:
            notes.append(str(reason))
    pieces = {site: len(part) for site, part in sets.items()}
    pairs = _pairs(sets, similarity, tagged, agreement, settings)
    return UntaggedView(encoder, pieces, similarity, distance, pairs, agreement)


def _vectors_by_site(
    cat: Catalogue, rows: TagRows, encoder: str | None, *, by: str, progress: Progress | None
) -> tuple[dict[str, NDArray[np.float64]], str]:
    """Vectors of the sherds, (N, dim) by site, in the order of `_vessels_by_site`."""
    spec = comparanda_encoder(encoder)
    vectors = ensure_vectors(cat, spec, rows.sherds, by=by, progress=progress)
    return {
        site: np.array([vectors[n] for n in numbers], np.float64) for site, numbers in _numbers(rows).items()
    }, spec.tag


def _numbers(rows: TagRows) -> dict[str, list[str]]:
    by_site: dict[str, list[str]] = {str(sherd.site): [] for sherd in rows.sherds}
    for sherd in rows.sherds:
        by_site[str(sherd.site)].append(sherd.number)
    return dict(sorted(by_site.items()))


def _vessels_by_site(rows: TagRows) -> dict[str, list[str]]:
    """Vessel of each sherd by site; one that lies with none is a vessel of its own."""
    vessel = dict(zip(rows.frame["sherd"], rows.frame["vessel"], strict=True))
    return {site: [vessel[n] or f"sherd {n}" for n in numbers] for site, numbers in _numbers(rows).items()}


def _once_a_vessel(vessels: list[str]) -> list[float]:
    sizes = Counter(vessels)
    return [1.0 / sizes[name] for name in vessels]


def _means(vectors: NDArray[np.float64], vessels: list[str]) -> NDArray[np.float64]:
    means = mean_by_vessel(vectors, vessels)
    return np.asarray(means / np.maximum(np.linalg.norm(means, axis=1, keepdims=True), 1e-12))


def _pairs(
    sets: dict[str, NDArray[np.float64]],
    similarity: SimilarityMatrix,
    tagged: SimilarityMatrix | None,
    agreement: ViewAgreement | None,
    settings: ComparingSettings,
) -> tuple[UntaggedPair, ...]:
    why = {} if agreement is None else {frozenset((one.a, one.b)): one.why for one in agreement.pairs}
    names = list(combinations(range(len(similarity.sites)), 2))
    pairs = []
    for i, j in names:
        a, b = similarity.sites[i], similarity.sites[j]
        tested = None
        if len(names) <= MOST_TESTED and len(sets[a]) + len(sets[b]) <= LARGEST_TESTED:
            tested = energy_test(sets[a], sets[b], permutations=settings.permutations, seed=settings.seed)
        by_tags = _of_pair(tagged, a, b)
        value = float(similarity.values[i, j])
        pairs.append(UntaggedPair(a, b, value, tested, by_tags, why.get(frozenset((a, b)), _gap_words(value, by_tags))))
    return tuple(sorted(pairs, key=lambda pair: (-pair.similarity, pair.a, pair.b)))


def _of_pair(matrix: SimilarityMatrix | None, a: str, b: str) -> float | None:
    if matrix is None or a not in matrix.sites or b not in matrix.sites:
        return None
    return float(matrix.values[matrix.sites.index(a), matrix.sites.index(b)])


def _gap_words(untagged: float, tagged: float | None) -> str:
    """What parts the two views of one pair; the two scales are alike (0 to 200), but not their zero."""
    if tagged is None:
        return "no tags to set beside it"
    if untagged - tagged > 50:
        return "look more alike than they are tagged: two names for one motif, untagged sherds, or likeness of hand, paint or paste"
    if tagged - untagged > 50:
        return (
            "tagged more alike than they look: one name for different drawings, or other technique, wear or photographs"
        )
    return "the two views agree"
