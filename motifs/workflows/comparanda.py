"""Nearest decorations to a sherd, or to a box of it, in the collection or at other sites only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from motifs.embedding import cut_box, encode_crops
from motifs.errors import InputError
from motifs.retrieval import VectorIndex
from motifs.workflows.crops import crops_of
from motifs.workflows.vectors import comparanda_encoder, ensure_vectors, vector_key

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.catalogue import BoxPx, Catalogue, SherdRow
    from motifs.embedding import EncoderSpec
    from motifs.records import SherdCrop
    from motifs.workflows import Progress


@dataclass(frozen=True, slots=True)
class Neighbour:
    """One comparable sherd. rank from 1; similarity: cosine of the vectors, -1..1, larger is closer."""

    rank: int
    sherd: str
    lot: str
    site: str | None
    similarity: float


@dataclass(frozen=True, slots=True)
class Comparanda:
    """Neighbours of a sherd, nearest first; the query itself is never among them.

    compared: how many sherds were looked at. notes: what a reader has to know of the answer.
    """

    query: str
    encoder: str
    box_px: BoxPx | None
    neighbours: tuple[Neighbour, ...]
    compared: int
    notes: tuple[str, ...]


def find_comparanda(
    cat: Catalogue,
    number: str,
    *,
    top: int = 10,
    other_sites: bool = False,
    least_similarity: float = -1.0,
    box_px: BoxPx | None = None,
    encoder: str | None = None,
    by: str,
    progress: Progress | None = None,
) -> Comparanda:
    """Find the sherds whose decoration is nearest.

    Parameters
    ----------
    number : catalogue number of the query.
    top : at most so many neighbours, >= 1.
    other_sites : leave out the query's own site, and lots whose site is not recorded.
    least_similarity : leave out what is farther; no neighbour left is an answer: nothing comparable.
    box_px : x, y, width, height in px of the sherd's crop; compares that part of it only.
    encoder : its tag; the default is the project's motif encoder.

    Raises
    ------
    UnknownName
        No such sherd or encoder.
    InputError
        top below 1, a similarity outside -1..1, a box without sherd in it, or other_sites for a sherd whose own site is not recorded.
    """
    if top < 1:
        raise InputError(f"--top {top} cannot be; give 1 or more")
    if not -1.0 <= least_similarity <= 1.0:
        raise InputError(f"a similarity of {least_similarity} cannot be; give a number from -1 to 1")
    query = _kept(cat, number)
    if other_sites and query.site is None:
        raise InputError(
            f"the site of '{number}' is not recorded, so no site can be another; record the site of lot '{query.lot}'"
        )
    spec = comparanda_encoder(encoder)
    detail = None if box_px is None else _detail(cat, query, box_px)
    candidates = [sherd for sherd in cat.sherds() if _may_be_found(sherd, query, other_sites=other_sites)]
    vectors = ensure_vectors(cat, spec, [query, *candidates], by=by, progress=progress)
    # The vector of a detail is not kept, since the next box is another one.
    vector = vectors[number] if detail is None else encode_crops(spec, [detail])[0]
    found = _search(spec, vector, {sherd.number: vectors[sherd.number] for sherd in candidates}, top)
    by_number = {sherd.number: sherd for sherd in candidates}
    neighbours = tuple(
        Neighbour(rank, near, by_number[near].lot, by_number[near].site, similarity)
        for rank, (near, similarity) in enumerate(found, start=1)
        if similarity >= least_similarity
    )
    notes = _left_out(cat) if other_sites else ()
    if not neighbours:
        notes = (*notes, f"nothing comparable among {len(candidates)} sherds")
    return Comparanda(number, spec.tag, box_px, neighbours, len(candidates), notes)


def _kept(cat: Catalogue, number: str) -> SherdRow:
    sherd = cat.sherd(number)
    if sherd.state == "merged":
        raise InputError(f"'{number}' was merged into '{sherd.merged_into}'; ask for that one")
    if sherd.state != "kept":
        raise InputError(f"'{number}' was dropped from its lot; undo that first, or choose another sherd")
    return sherd


def _may_be_found(sherd: SherdRow, query: SherdRow, *, other_sites: bool) -> bool:
    if sherd.number == query.number:
        return False
    return not other_sites or (sherd.site is not None and sherd.site != query.site)


def _detail(cat: Catalogue, query: SherdRow, box_px: BoxPx) -> SherdCrop:
    _, crop = next(crops_of(cat, [query]))
    return cut_box(crop, box_px)


def _search(
    spec: EncoderSpec, vector: NDArray[np.float32], vectors: dict[str, NDArray[np.float32]], top: int
) -> list[tuple[str, float]]:
    index = VectorIndex(vector_key(spec), spec.dim)
    if not vectors:
        return []
    numbers = list(vectors)
    index.add(numbers, np.stack([vectors[number] for number in numbers]))
    return index.search(vector[None], top)[0]


def _left_out(cat: Catalogue) -> tuple[str, ...]:
    unknown = [lot.name for lot in cat.lots() if lot.site is None and lot.sherds]
    return (f"left out, since their site is not recorded: lots {', '.join(unknown)}",) if unknown else ()
