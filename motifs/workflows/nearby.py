"""Comparanda as a person narrows them down: at chosen sites, above a similarity, a number of them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from motifs.errors import InputError
from motifs.workflows.comparanda import find_comparanda

if TYPE_CHECKING:
    from collections.abc import Collection

    from motifs.catalogue import BoxPx, Catalogue
    from motifs.workflows import Progress
    from motifs.workflows.comparanda import Comparanda, Neighbour


def find_nearby(
    cat: Catalogue,
    number: str,
    *,
    top: int = 12,
    other_sites: bool = False,
    sites: Collection[str] = (),
    least_similarity: float = -1.0,
    box_px: BoxPx | None = None,
    by: str,
    progress: Progress | None = None,
) -> Comparanda:
    """Find comparanda, then keep those of the sites (none given: of all) and of at least this similarity.

    Ranks count what is kept. No neighbour left is an answer: nothing comparable.

    Raises
    ------
    UnknownName, InputError
        As `find_comparanda`; least_similarity outside -1..1.
    """
    if not -1.0 <= least_similarity <= 1.0:
        raise InputError(f"a similarity of {least_similarity} cannot be; give a number from -1 to 1")
    if top < 1:
        raise InputError(f"{top} neighbours cannot be shown; give 1 or more")
    # Narrowing comes after the search, so that asks for all of them where sites are chosen.
    wanted = max(1, len(cat.sherds())) if sites else top
    found = find_comparanda(cat, number, top=wanted, other_sites=other_sites, box_px=box_px, by=by, progress=progress)
    kept = [near for near in found.neighbours if _is_wanted(near, sites, least_similarity)][:top]
    ranked = tuple(replace(near, rank=rank) for rank, near in enumerate(kept, start=1))
    return replace(found, neighbours=ranked)


def _is_wanted(near: Neighbour, sites: Collection[str], least_similarity: float) -> bool:
    return near.similarity >= least_similarity and (not sites or near.site in sites)
