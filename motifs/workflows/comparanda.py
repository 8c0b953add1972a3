"""Nearest decorations to a sherd, to a box of it, or to several sherds together: how alike, how probable, and where.

Vectors are averaged inside lots, the nearest are laid over the query, and both together give the probability that
the motif is the same; nothing comparable is an answer.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from motifs.embedding import cut_box, encode_crops
from motifs.errors import InputError
from motifs.retrieval.likeness import COMPARABLE, background_of, logistic
from motifs.workflows.agreeing import MatchedRegions, regions_of
from motifs.workflows.compared import compared_sherds
from motifs.workflows.crops import crops_of
from motifs.workflows.narrowing import Narrowing, narrowed
from motifs.workflows.nearest import nearest_first
from motifs.workflows.vectors import comparanda_encoder, ensure_vectors

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from numpy.typing import NDArray

    from motifs.catalogue import BoxPx, Catalogue, SherdHead, SherdRow
    from motifs.embedding import EncoderSpec
    from motifs.records import SherdCrop
    from motifs.retrieval.likeness import Background
    from motifs.workflows import Progress
    from motifs.workflows.compared import ComparedSherds
    from motifs.workflows.nearest import FoundSherd

CHECKED = 24
"""So many of the nearest are laid over the query."""
AGREEMENT_WEIGHT = 0.04
"""How much an agreement's strength adds to the similarity in the order of neighbours, where no likeness is fitted:
chosen on tune seeds of the second renderer."""
SAMPLED = 1000
"""So many of those compared tell how alike the query is to anything."""
WHOLE = 0.95
"""A box that holds this share of the sherd is taken for the whole sherd."""


@dataclass(frozen=True, slots=True)
class Neighbour:
    """One comparable sherd. rank from 1; similarity: cosine of the averaged vectors, -1..1, larger is closer.

    probability: that the motif is the same, 0..1; None where the encoder has no fitted likeness. regions: where the
    two agree; None where that was not looked for.
    """

    rank: int
    sherd: str
    lot: str
    site: str | None
    similarity: float
    probability: float | None = None
    regions: MatchedRegions | None = None


@dataclass(frozen=True, slots=True)
class Comparanda:
    """Neighbours of a sherd, most probable first; the query itself is never among them.

    compared: how many sherds were looked at. notes: what a reader has to know of the answer. others: further sherds
    of the query. is_comparable: whether the best neighbour more probably shows the same motif than not; None where no
    probability is known.
    """

    query: str
    encoder: str
    box_px: BoxPx | None
    neighbours: tuple[Neighbour, ...]
    compared: int
    notes: tuple[str, ...]
    others: tuple[str, ...] = ()
    is_comparable: bool | None = None


@dataclass(frozen=True, slots=True)
class _Near:
    sherd: SherdHead
    similarity: float
    value: float
    probability: float | None
    regions: MatchedRegions | None


def find_comparanda(
    cat: Catalogue,
    number: str,
    *,
    others: Sequence[str] = (),
    top: int = 10,
    other_sites: bool = False,
    least_similarity: float = -1.0,
    least_probability: float = 0.0,
    box_px: BoxPx | None = None,
    narrowing: Narrowing | None = None,
    checked: int = CHECKED,
    with_mirror: bool = False,
    encoder: str | None = None,
    by: str,
    progress: Progress | None = None,
) -> Comparanda:
    """Find the sherds whose decoration is nearest.

    Parameters
    ----------
    number : catalogue number of the query.
    others : further sherds that show the same decoration; all together are the query.
    top : at most so many neighbours, >= 1.
    other_sites : leave out the query's own sites, and lots whose site is not recorded.
    least_similarity, least_probability : leave out what is farther or less probable; none left is an answer.
    box_px : x, y, width, height in px of the sherd's crop; compares that part of it only.
    narrowing : what may be found.
    checked : so many of the nearest are laid over the query to see where they agree; 0 for none.
    with_mirror : lay the query's mirror image over them too.
    encoder : its tag; the default is the project's motif encoder.

    Raises
    ------
    UnknownName
        No such sherd, encoder, site or lot.
    InputError
        top below 1, a similarity outside -1..1, a probability outside 0..1 or asked for where none is known, a box
        without sherd in it or with several sherds, or other_sites for a sherd whose own site is not recorded.
    """
    _check_numbers(top, least_similarity, least_probability, checked)
    asked = [_kept(cat, one) for one in dict.fromkeys((number, *others))]
    _check_query(asked, box_px, other_sites=other_sites)
    spec = comparanda_encoder(encoder)
    detail = None if box_px is None else _detail(cat, asked[0], box_px)
    candidates = [sherd for sherd in cat.sherd_heads() if _may_be_found(sherd, asked, other_sites=other_sites)]
    candidates = candidates if narrowing is None else narrowed(cat, candidates, narrowing)
    ready = compared_sherds(cat, spec, by=by, progress=progress)
    if least_probability > 0.0 and ready.likeness is None:
        raise InputError(f"encoder '{spec.tag}' has no fitted likeness, so no probability; leave it out")
    vector = _query_vector(cat, spec, ready, asked, detail, by=by)
    allowed = {sherd.number for sherd in candidates}
    found = nearest_first(ready, vector, {sherd.number for sherd in asked}, allowed, max(top, checked, 1))
    # Where agreement has no say in the order, only what is listed is laid over the query.
    laid = found[: checked if _has_say(ready) else min(checked, top)]
    pairs = _paired(ready, asked, [near.number for near in laid])
    regions = regions_of(cat, spec, pairs, box_px=box_px, with_mirror=with_mirror, progress=progress)
    ordered = _ordered(ready, found, regions, _background(ready, vector, allowed))
    kept = [near for near in ordered if _is_near(near, least_similarity, least_probability)][:top]
    is_comparable = _is_comparable(ordered, ready)
    notes = (*(_left_out(cat) if other_sites else ()), *_verdict(kept, ordered, is_comparable, len(candidates)))
    return Comparanda(
        number, spec.tag, box_px, _ranked(kept), len(candidates), notes,
        tuple(sherd.number for sherd in asked[1:]), is_comparable,
    )  # fmt: skip


def _check_numbers(top: int, least_similarity: float, least_probability: float, checked: int) -> None:
    if top < 1:
        raise InputError(f"--top {top} cannot be; give 1 or more")
    if not -1.0 <= least_similarity <= 1.0:
        raise InputError(f"a similarity of {least_similarity} cannot be; give a number from -1 to 1")
    if not 0.0 <= least_probability <= 1.0:
        raise InputError(f"a probability of {least_probability} cannot be; give a number from 0 to 1")
    if checked < 0:
        raise InputError(f"{checked} neighbours cannot be laid over the query; give 0 or more")


def _check_query(asked: Sequence[SherdRow], box_px: BoxPx | None, *, other_sites: bool) -> None:
    if box_px is not None and len(asked) > 1:
        raise InputError("a box is of one sherd; leave the other sherds out, or the box")
    for query in asked:
        if other_sites and query.site is None:
            raise InputError(
                f"the site of '{query.number}' is not recorded, so no site can be another; "
                f"record the site of lot '{query.lot}'"
            )


def _kept(cat: Catalogue, number: str) -> SherdRow:
    sherd = cat.sherd(number)
    if sherd.state == "merged":
        raise InputError(f"'{number}' was merged into '{sherd.merged_into}'; ask for that one")
    if sherd.state != "kept":
        raise InputError(f"'{number}' was dropped from its lot; undo that first, or choose another sherd")
    return sherd


def _may_be_found(sherd: SherdHead, asked: Sequence[SherdRow], *, other_sites: bool) -> bool:
    if sherd.number in {query.number for query in asked}:
        return False
    return not other_sites or (sherd.site is not None and sherd.site not in {query.site for query in asked})


def _detail(cat: Catalogue, query: SherdRow, box_px: BoxPx) -> SherdCrop | None:
    """The part in the box; None for a box that holds as good as the whole sherd."""
    _, crop = next(crops_of(cat, [query]))
    detail = cut_box(crop, box_px)
    return None if detail.mask.sum() >= WHOLE * crop.mask.sum() else detail


def _query_vector(
    cat: Catalogue,
    spec: EncoderSpec,
    ready: ComparedSherds,
    asked: Sequence[SherdRow],
    detail: SherdCrop | None,
    *,
    by: str,
) -> NDArray[np.float32]:
    if detail is None:
        return ready.vector_of([sherd.number for sherd in asked])
    lot = ready.lot_of(asked[0].number)
    kept = ensure_vectors(cat, spec, lot, by=by)
    # The vector of a detail is not kept, since the next box is another one.
    raw = encode_crops(spec, [detail])[0]
    return ready.vector_of_detail(asked[0].number, raw, np.stack([kept[sherd.number] for sherd in lot]))


def _has_say(ready: ComparedSherds) -> bool:
    """Whether agreement changes the order: by its fitted weight, or by AGREEMENT_WEIGHT where nothing is fitted."""
    curves = ready.likeness
    return curves is None or (curves.listed is None and curves.with_agreement[2] > 0.0)


def _background(ready: ComparedSherds, vector: NDArray[np.float32], allowed: Collection[str]) -> Background:
    """How alike the query is to all it is compared with, from SAMPLED of them in even steps."""
    numbers = sorted(allowed)
    chosen = [numbers[int(i)] for i in np.linspace(0, len(numbers) - 1, min(SAMPLED, len(numbers)))]
    return background_of(ready.vectors_of(chosen) @ vector)


def _paired(ready: ComparedSherds, asked: Sequence[SherdRow], nears: Sequence[str]) -> list[tuple[SherdRow, SherdHead]]:
    """Each neighbour with the sherd of the query that is most alike: that one is laid over it."""
    if len(asked) == 1 or not nears:
        return [(asked[0], ready.sherds[near]) for near in nears]
    alike = ready.vectors_of(nears) @ ready.vectors_of([sherd.number for sherd in asked]).T
    return [(asked[int(best)], ready.sherds[near]) for near, best in zip(nears, alike.argmax(axis=1), strict=True)]


def _ordered(
    ready: ComparedSherds,
    found: Sequence[FoundSherd],
    regions: Mapping[str, MatchedRegions],
    background: Background,
) -> list[_Near]:
    """Most probable first; where agreement has a say, what was laid over the query stands before what was not."""
    curves, has_say = ready.likeness, _has_say(ready)
    best = max((one.similarity for one in found), default=0.0)
    nears = []
    for one in found:
        region = regions.get(one.number)
        strength = None if region is None else region.strength
        if curves is None:
            value, probability = one.similarity + AGREEMENT_WEIGHT * (strength or 0.0), None
        else:
            listed = curves.listed
            value = (
                curves.log_odds(one.similarity, strength)
                if listed is None
                else listed.log_odds(one.near, best, background)
            )
            probability = round(logistic(value), 4)
        nears.append(_Near(ready.sherds[one.number], one.similarity, value, probability, region))
    # Found sherds come nearest first and the sort is stable: what the curve no longer tells apart stays in that order.
    return sorted(nears, key=lambda near: (has_say and near.regions is None, -round(near.value, 6)))


def _is_near(near: _Near, least_similarity: float, least_probability: float) -> bool:
    is_probable = near.probability is None or near.probability >= least_probability
    return is_probable and near.similarity >= least_similarity


def _is_comparable(ordered: Sequence[_Near], ready: ComparedSherds) -> bool | None:
    if ready.likeness is None:
        return None if ordered else False
    return any((near.probability or 0.0) >= COMPARABLE for near in ordered)


def _ranked(kept: Sequence[_Near]) -> tuple[Neighbour, ...]:
    return tuple(
        Neighbour(
            rank, near.sherd.number, near.sherd.lot, near.sherd.site, near.similarity, near.probability, near.regions
        )
        for rank, near in enumerate(kept, start=1)
    )


def _verdict(
    kept: Sequence[_Near], ordered: Sequence[_Near], is_comparable: bool | None, compared: int
) -> tuple[str, ...]:
    if not kept:
        return (f"nothing comparable among {compared} sherds",)
    if is_comparable is False:
        best = max(near.probability or 0.0 for near in ordered)
        return (
            f"nothing comparable among {compared} sherds: the most probable shows the same motif with probability "
            f"{best:.2f}; the nearest are listed nevertheless",
        )
    return ()


def _left_out(cat: Catalogue) -> tuple[str, ...]:
    unknown = [lot.name for lot in cat.lots() if lot.site is None and lot.sherds]
    return (f"left out, since their site is not recorded: lots {', '.join(unknown)}",) if unknown else ()
