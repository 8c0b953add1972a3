"""Search with both sides averaged over their nearest neighbours.

A sherd shows a part of a decoration; its nearest neighbours (other sherds of its own pot, say) show other
parts. Averaging a query's vector with its neighbours' [1]_ [2]_, and each candidate's likewise, ranks better
than single vectors do. Restrictions (own site left out, say) hold for what is found; the neighbours that
are averaged over may be any.

References
----------
.. [1] Chum, Philbin, Sivic, Isard & Zisserman 2007, "Total Recall: Automatic Query Expansion", ICCV.
.. [2] Radenović, Tolias & Chum 2018, "Fine-tuning CNN Image Retrieval with No Human Annotation", TPAMI
       (weights: similarity to a power).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Collection

    from numpy.typing import NDArray

    from motifs.retrieval.interface import NeighbourIndex

    Vectors = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Expansion:
    """Settings of an expanded search.

    neighbours: vectors averaged on each side, a vector that is in the index itself among them; >= 1.
    power: of the similarity that weighs each; 0 weighs all alike. candidates: how many of the nearest are
    looked at again.
    """

    neighbours: int = 3
    power: float = 3.0
    candidates: int = 200


def search_expanded(
    index: NeighbourIndex,
    queries: Vectors,
    top: int,
    allowed: Collection[str] | None = None,
    excluded: Collection[str] = (),
    expansion: Expansion | None = None,
) -> list[list[tuple[str, float]]]:
    """Find nearest neighbours by averaged vectors.

    Parameters
    ----------
    index: of unit vectors.
    queries: (Q, dim) float32, rows of unit length; in the index or not.
    top, allowed, excluded: as for search.
    expansion: the settings; None for the measured ones.

    Returns
    -------
    As search does; similarities are those of the averaged vectors, higher than those of single ones.

    Raises
    ------
    ValueError: as search does.
    """
    chosen = expansion or Expansion()
    means = averaged(index, queries, chosen)
    candidates = index.search(means, max(top, chosen.candidates), allowed, excluded)
    keys = sorted({key for row in candidates for key, _ in row})
    place = {key: row for row, key in enumerate(keys)}
    theirs = averaged(index, index.vectors(keys), chosen)
    found = []
    for mean, row in zip(means, candidates, strict=True):
        names = [key for key, _ in row]
        similarities = (theirs[[place[name] for name in names]] @ mean).tolist() if names else []
        pairs = [(name, round(min(1.0, value), 6)) for name, value in zip(names, similarities, strict=True)]
        found.append(sorted(pairs, key=lambda pair: (-pair[1], pair[0]))[:top])
    return found


def averaged(index: NeighbourIndex, vectors: Vectors, expansion: Expansion) -> Vectors:
    """Average vectors with their nearest neighbours in the index.

    Returns
    -------
    (N, dim) float32, rows of unit length; a vector without neighbours stays as it is.
    """
    sums = np.zeros((len(vectors), index.dim), np.float64)
    for row, neighbours in enumerate(index.search(vectors, expansion.neighbours)):
        if not neighbours:
            sums[row] = vectors[row]
            continue
        weights = np.array([max(similarity, 0.0) ** expansion.power for _, similarity in neighbours])
        sums[row] = weights @ index.vectors([key for key, _ in neighbours]) if weights.any() else vectors[row]
    lengths = np.linalg.norm(sums, axis=1, keepdims=True)
    means: Vectors = (sums / np.maximum(lengths, 1e-12)).astype(np.float32)
    return means
