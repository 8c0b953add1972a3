"""Where two decorations agree: local features matched both ways, and one similarity transform that most matches obey.

Features that are each other's nearest [1]_ are paired; every two pairs propose a turn, a scale and a shift, and
the proposal that the most (and the most alike) pairs obey is taken: consensus as in [2]_, only that with a few
dozen pairs all proposals are tried, so that chance has no say. Scale is held close to 1 (decoration is compared
at true size), turning is free, since the asked sherd comes in several turns.

References
----------
.. [1] Lowe 2004, "Distinctive Image Features from Scale-Invariant Keypoints", IJCV 60.
.. [2] Fischler & Bolles 1981, "Random Sample Consensus", Communications of the ACM 24; used for re-ranking by
       Philbin, Chum, Isard, Sivic & Zisserman 2007, CVPR.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import ConvexHull, QhullError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.records import LocalFeatures

    Floats = NDArray[np.float64]
    Ring = NDArray[np.float32]

LEAST_PAIRS = 3
"""Fewer matches than this prove nothing: any two pairs obey some transform."""


@dataclass(frozen=True, slots=True)
class AgreementSettings:
    """What counts as agreeing.

    most_pairs: the most alike mutual matches that are looked at. scale: least and greatest. reach_cells: how far a
    match may lie from where the transform puts it, in cells of the features. turn_deg: how far a proposal may turn
    beyond the turn that the query was given. apart_cells: least distance of two matches that make a proposal.
    """

    most_pairs: int = 40
    scale: tuple[float, float] = (0.7, 1.43)
    reach_cells: float = 1.2
    turn_deg: float = 30.0
    apart_cells: float = 1.25


@dataclass(frozen=True, slots=True)
class Agreement:
    """Two decorations laid over each other.

    strength: sum of the agreeing matches' similarities, >= 0; 0: no agreement found. matches: how many agree.
    query_px, other_px: (matches, 2) float32 places in px of both crops. matrix: (2, 3) float64, query px -> other px.
    turn_deg: anticlockwise as seen. scale: sizes in the other over sizes in the query. is_mirrored: the query was.
    cell_px: side of one feature's cell in px of the crops.
    """

    strength: float
    matches: int
    query_px: NDArray[np.float32]
    other_px: NDArray[np.float32]
    matrix: Floats
    turn_deg: float
    scale: float
    is_mirrored: bool
    cell_px: float

    def regions(self) -> tuple[Ring, Ring]:
        """Outlines, (N, 2) px, around the agreeing cells on the query and on the other; empty without agreement."""
        return region_around(self.query_px, self.cell_px), region_around(self.other_px, self.cell_px)


@dataclass(frozen=True, slots=True)
class _Pairs:
    query: NDArray[np.int64]
    other: NDArray[np.int64]
    similarity: Floats


def agreement_of(
    turns: Sequence[LocalFeatures], other: LocalFeatures, settings: AgreementSettings | None = None
) -> Agreement:
    """Lay one decoration over another, in the turn that agrees best.

    Parameters
    ----------
    turns: features of the query, one for each turn (and mirroring) of it.
    other: features of the other, as photographed.
    settings: None for the measured ones.

    Returns
    -------
    Agreement: of strength 0 where fewer than LEAST_PAIRS matches obey one transform.
    """
    chosen = settings or AgreementSettings()
    best = _nothing(other.cell_px)
    for turn in turns:
        found = _one_turn(turn, other, chosen)
        if found is not None and found.strength > best.strength:
            best = found
    return best


def _nothing(cell_px: float) -> Agreement:
    none = np.zeros((0, 2), np.float32)
    return Agreement(0.0, 0, none, none, np.eye(2, 3), 0.0, 1.0, False, cell_px)


def _one_turn(turn: LocalFeatures, other: LocalFeatures, chosen: AgreementSettings) -> Agreement | None:
    pairs = _mutual(turn, other, chosen.most_pairs)
    if len(pairs.query) < LEAST_PAIRS:
        return None
    # Places as complex numbers: a similarity transform is then z -> factor * z + shift.
    here, there = _complex(turn.seen_px[pairs.query]), _complex(other.seen_px[pairs.other])
    obeying = _best_consensus(here, there, pairs.similarity, other.cell_px, chosen)
    if obeying is None:
        return None
    query_px, other_px = turn.places_px[pairs.query[obeying]], other.places_px[pairs.other[obeying]]
    matrix, turn_deg, scale = fitted_similarity(query_px, other_px, is_mirrored=turn.is_mirrored)
    strength = float(pairs.similarity[obeying].sum())
    return Agreement(
        strength, int(obeying.sum()), query_px, other_px, matrix, turn_deg, scale, turn.is_mirrored, other.cell_px
    )


def _mutual(turn: LocalFeatures, other: LocalFeatures, most: int) -> _Pairs:
    """Features that are each other's nearest, most alike first."""
    if not len(turn.descriptors) or not len(other.descriptors):
        none = np.zeros(0, np.int64)
        return _Pairs(none, none, np.zeros(0))
    similarity = turn.descriptors @ other.descriptors.T
    nearest, back = similarity.argmax(axis=1), similarity.argmax(axis=0)
    query = np.flatnonzero(back[nearest] == np.arange(len(nearest)))
    alike = similarity[query, nearest[query]].astype(np.float64)
    order = np.argsort(-alike, kind="stable")[:most]
    order = order[alike[order] > 0.0]
    return _Pairs(query[order], nearest[query[order]], alike[order])


def _complex(places_px: NDArray[np.float32]) -> NDArray[np.complex128]:
    return places_px[:, 0].astype(np.float64) + 1j * places_px[:, 1]


def _best_consensus(
    here: NDArray[np.complex128],
    there: NDArray[np.complex128],
    alike: Floats,
    cell_px: float,
    chosen: AgreementSettings,
) -> NDArray[np.bool_] | None:
    """Which pairs obey the best of all proposals, or None."""
    first, second = np.triu_indices(len(here), 1)
    apart = here[second] - here[first]
    is_apart = np.abs(apart) > chosen.apart_cells * cell_px
    first, second, apart = first[is_apart], second[is_apart], apart[is_apart]
    factor = (there[second] - there[first]) / apart
    size, angle = np.abs(factor), np.abs(np.angle(factor))
    fits = (size >= chosen.scale[0]) & (size <= chosen.scale[1]) & (angle <= np.radians(chosen.turn_deg))
    if not fits.any():
        return None
    first, factor = first[fits], factor[fits]
    shift = there[first] - factor * here[first]
    misses = np.abs(factor[:, None] * here[None] + shift[:, None] - there[None])
    obeys = misses < chosen.reach_cells * cell_px
    strength = obeys @ alike
    # Ties to the proposal whose pairs miss least, so that rounding does not choose.
    best = int(np.lexsort((np.where(obeys, misses, 0.0).sum(axis=1), -np.round(strength, 9)))[0])
    return obeys[best] if int(obeys[best].sum()) >= LEAST_PAIRS else None


def fitted_similarity(
    here_px: NDArray[np.floating], there_px: NDArray[np.floating], *, is_mirrored: bool = False
) -> tuple[Floats, float, float]:
    """Least-squares similarity transform between paired places (Umeyama 1991, PAMI 13; in the plane).

    Parameters
    ----------
    here_px, there_px: (N, 2), N >= 2, not all in one place.
    is_mirrored: here is flipped left to right first.

    Returns
    -------
    matrix: (2, 3), here -> there. turn_deg: anticlockwise as seen (y runs down), -180..180. scale: > 0.
    """
    flip = np.array([-1.0 if is_mirrored else 1.0, 1.0])
    here, there = np.asarray(here_px, np.float64) * flip, np.asarray(there_px, np.float64)
    a, b = here - here.mean(axis=0), there - there.mean(axis=0)
    za, zb = a[:, 0] + 1j * a[:, 1], b[:, 0] + 1j * b[:, 1]
    factor = complex((np.conj(za) * zb).sum() / max(float((np.abs(za) ** 2).sum()), 1e-12))
    linear = np.array([[factor.real, -factor.imag], [factor.imag, factor.real]])
    shift = there.mean(axis=0) - linear @ here.mean(axis=0)
    matrix = np.column_stack([linear * flip, shift])
    return matrix, float(-np.degrees(np.angle(factor))), abs(factor)


def region_around(places_px: NDArray[np.float32], cell_px: float) -> Ring:
    """Convex outline around cells of one size.

    Parameters
    ----------
    places_px: (N, 2) centres. cell_px: their side.

    Returns
    -------
    (M, 2) float32 closed polygon, M >= 4; (0, 2) for no cells.
    """
    if not len(places_px):
        return np.zeros((0, 2), np.float32)
    half = cell_px / 2.0
    corners = np.concatenate([places_px + np.array(move) * half for move in ((-1, -1), (1, -1), (1, 1), (-1, 1))])
    try:
        ring: Ring = corners[ConvexHull(corners).vertices].astype(np.float32)
    except QhullError:
        return np.zeros((0, 2), np.float32)
    return ring
