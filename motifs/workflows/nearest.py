"""Which sherds are nearest to a query, by way of the sherds around it; those beyond that region by their similarity alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.retrieval.diffusion import Diffusion, diffused_similarity

if TYPE_CHECKING:
    from collections.abc import Collection

    import numpy as np
    from numpy.typing import NDArray

    from motifs.workflows.compared import ComparedSherds


@dataclass(frozen=True, slots=True)
class FoundSherd:
    """A sherd found. similarity: cosine, -1..1. near: by way of the sherds around the query, 0..1; 0 beyond them."""

    number: str
    similarity: float
    near: float


def nearest_first(
    ready: ComparedSherds, vector: NDArray[np.float32], asked: Collection[str], allowed: Collection[str], top: int
) -> list[FoundSherd]:
    """The nearest of those that may be found.

    Parameters
    ----------
    vector : (dim,) float32 of unit length, of the query. asked : sherds of the query, which are not their own neighbours.
    allowed : what may be found. Others around the query, of its own site say, still show the way.
    top : at least so many, >= 1, where there are so many.

    Returns
    -------
    Nearest first, by way of others and then by similarity; by similarity alone where the encoder has no curve for lists.
    """
    if not allowed:
        return []
    if ready.likeness is None or ready.likeness.listed is None:  # no curve that says what such nearness is worth
        plain = ready.index.search(vector[None], top, allowed=allowed)[0]
        return [FoundSherd(number, similarity, 0.0) for number, similarity in plain]
    settings = Diffusion()
    around = ready.index.search(vector[None], settings.region, excluded=asked)[0]
    numbers = [number for number, _ in around]
    ways = diffused_similarity(vector, ready.vectors_of(numbers), settings)
    near = {number: float(way) for number, way in zip(numbers, ways, strict=True)}
    straight = ready.index.search(vector[None], max(top, settings.region), allowed=allowed)[0]
    alike = {number: similarity for number, similarity in around if number in allowed} | dict(straight)
    found = [FoundSherd(number, similarity, near.get(number, 0.0)) for number, similarity in alike.items()]
    return sorted(found, key=lambda one: (-round(one.near, 9), -one.similarity, one.number))
