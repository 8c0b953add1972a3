"""Similarity by way of neighbours: what a query's neighbours and their neighbours agree on, inside the region around it.

Two sherds that show different parts of one decoration may be little alike and yet both be alike to a third. So the nearest
vectors of a query, and the query, become a graph in which each is tied to its most alike ones; what starts at the query and walks along the
ties [1]_ [2]_ tells how near each is by all ways together. Taken as a kernel and brought to unit length [3]_, it lies
between 0 and 1, and vectors that are alike to everything (hubs) gain nothing.

References
----------
.. [1] Zhou, Weston, Gretton, Bousquet & Schölkopf 2004, "Ranking on Data Manifolds", NIPS 16.
.. [2] Iscen, Tolias, Avrithis, Furon & Chum 2017, "Efficient Diffusion on Region Manifolds: Recovering Small Objects with
       Compact CNN Representations", CVPR (only the region around the query; mutual ties, power of the similarity).
.. [3] Kondor & Lafferty 2002, "Diffusion Kernels on Graphs and Other Discrete Input Spaces", ICML.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Vectors = NDArray[np.float32]
    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Diffusion:
    """Settings, chosen on tune seed 1 of the second renderer, both styles, and looked at on real cloth.

    region: nearest vectors that take part, >= 1. ties: of each, >= 1; power: of the similarity, > 0. reach: share of what walks
    on at each step, 0..1 without the ends.
    """

    region: int = 400
    ties: int = 16
    power: float = 2.0
    reach: float = 0.8

    def __post_init__(self) -> None:
        """Refuse what cannot be (ValueError)."""
        if self.region < 1 or self.ties < 1 or self.power <= 0.0 or not 0.0 < self.reach < 1.0:
            raise ValueError(f"a diffusion with {self} cannot be")


def diffused_similarity(query: Vectors, region: Vectors, settings: Diffusion | None = None) -> NDArray[np.float64]:
    """How near every vector of a region is to a query by way of all of them.

    Parameters
    ----------
    query: (dim,), region: (M, dim), float32, rows of unit length; the query is not among them.
    settings: None for the measured ones.

    Returns
    -------
    (M,) 0..1; 0 where no way leads.
    """
    chosen = settings or Diffusion()
    if not len(region):
        return np.zeros(0)
    everyone = np.concatenate([np.asarray(query, np.float32)[None], region])
    ties = _ties((everyone @ everyone.T).astype(np.float64), chosen)
    degree = np.sqrt(np.maximum(ties.sum(axis=1), 1e-12))
    walk = ties / degree[:, None] / degree[None, :]
    kernel = np.linalg.inv(np.eye(len(walk)) - chosen.reach * walk)
    own = np.sqrt(np.diag(kernel))
    near: Floats = np.clip(kernel[0, 1:] / own[0] / own[1:], 0.0, 1.0)
    return near


def _ties(similarity: Floats, chosen: Diffusion) -> Floats:
    """Symmetric weights (N, N) between each vector and its most alike ones; 0 on the diagonal and where nothing is alike."""
    strength = np.maximum(similarity, 0.0) ** chosen.power
    np.fill_diagonal(strength, 0.0)
    most = min(chosen.ties, len(strength) - 1)
    nearest = np.argsort(-strength, axis=1, kind="stable")[:, :most]
    kept = np.zeros_like(strength)
    np.put_along_axis(kept, nearest, np.take_along_axis(strength, nearest, axis=1), axis=1)
    symmetric: Floats = (kept + kept.T) / 2
    return symmetric
