"""Which sherds of a lot fit edge to edge: proposals, kept with the lot, and the analyst's word on them."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from motifs.errors import InputError, UnknownName
from motifs.evidence.colour import linear_to_lab
from motifs.evidence.surface import read_face
from motifs.imaging import outline_in_mm
from motifs.joins import Join, SherdEdge, fields_on_outline, joining_share, load_model, propose_joins, vessel_llr
from motifs.workflows.crops import crops_of
from motifs.workflows.word import lot_links

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import Catalogue, JoinWordRow, Json, LinkRow, SherdRow
    from motifs.records import SherdCrop
    from motifs.workflows import Progress

KIND: Final = "joins"
"""Kind of the proposals kept by this workflow."""
VERSION: Final = "2"
"""Of the method; raised whenever the same sherds would give other joins."""
LEAST_KEPT: Final = 10
"""Proposals of each sherd that are kept, however few are asked for."""
SURE_LLR: Final = 20.0
"""Natural-log likelihood ratio of one vessel for a join that a person accepted."""
MATCHING: Final = "matching edges"

Pair = tuple[str, str]
Matrix = tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class ProposedJoin:
    """Two sherds laid edge to edge.

    fit: 0..1, calibrated probability that they touched. transform: 3 by 3, b's outline into a's frame (mm; the frame of a sherd is that
    of its photograph, as `outlines_mm` gives it). stretch_a_mm: contact along a's outline. edge_llr: natural-log likelihood ratio of the join
    from form and paint alone. word: what a person said of it, or None.
    """

    a: str
    b: str
    fit: float
    length_mm: float
    transform: Matrix
    residual_mm: float
    gap_mm: float
    stretch_a_mm: tuple[float, float]
    stretch_b_mm: tuple[float, float]
    edge_llr: float
    ground_de: float | None
    strokes: int
    strokes_met: int
    why: tuple[str, ...]
    word: str | None = None


@dataclass(frozen=True, slots=True)
class LotJoins:
    """Proposals for a lot, best first; refused ones left out. notes: what the analyst should know."""

    lot: str
    joins: tuple[ProposedJoin, ...]
    refused: int
    notes: tuple[str, ...] = ()


def find_joins(cat: Catalogue, lot: str, *, top: int = 5, by: str, progress: Progress | None = None) -> LotJoins:
    """Propose joins of a lot, and keep the proposal; what was kept of the same sherds is used again.

    Parameters
    ----------
    lot : its name.
    top : proposals of each sherd; a join is listed when it is among the best of either of its sherds.

    Raises
    ------
    UnknownName
        No such lot.
    ModelError
        The table of fits is missing.
    """
    cat.lot(lot)
    sherds = cat.sherds(lot)
    words = {(word.a, word.b): word for word in cat.join_words(lot)}
    every = _kept_or_new(cat, lot, sherds, max(top, LEAST_KEPT), by=by, progress=progress)
    unscaled = sum(cat.photo(sherd.photo_id).scale is None for sherd in sherds)
    notes = (f"{unscaled} of {len(sherds)} sherds have no scale and take part in no join",) if unscaled else ()
    told = [_with_word(join, words) for join in every]
    stays = _best_of_sherds([join for join in told if join.word != "refused"], top)
    return LotJoins(lot, tuple(stays), sum(join.word == "refused" for join in told), notes)


def join_evidence(
    cat: Catalogue, lot: str, *, by: str, progress: Progress | None = None
) -> list[tuple[int, int, float]]:
    """What joins say for one vessel: (i, j, natural-log likelihood ratio), i < j places in `cat.sherds(lot)`.

    From form of the edges and paint across the break only, so that it may be added to cues of colour. An accepted join
    counts SURE_LLR, a refused one nothing (two sherds of one pot need not touch). Pairs that are absent say nothing.
    """
    sherds = cat.sherds(lot)
    place = {sherd.number: k for k, sherd in enumerate(sherds)}
    words = {(word.a, word.b): word.answer for word in cat.join_words(lot)}
    every = _kept_or_new(cat, lot, sherds, LEAST_KEPT, by=by, progress=progress)
    silent = {pair for (a, b), answer in words.items() if answer == "refused" for pair in ((a, b), (b, a))}
    said = [join for join in every if (join.a, join.b) not in silent and {join.a, join.b} <= set(place)]
    weights = vessel_llr([join.edge_llr for join in said], joining_share(len(sherds)))
    llrs = {(join.a, join.b): float(llr) for join, llr in zip(said, weights, strict=True)}
    llrs |= {pair: SURE_LLR for pair, answer in words.items() if answer == "accepted"}
    return sorted((min(place[a], place[b]), max(place[a], place[b]), llr) for (a, b), llr in llrs.items())


def judge_joins(
    cat: Catalogue,
    lot: str,
    *,
    accepted: Sequence[Pair] = (),
    refused: Sequence[Pair] = (),
    withdrawn: Sequence[Pair] = (),
    note: str = "",
    by: str,
) -> tuple[JoinWordRow, ...]:
    """Record the analyst's yes or no on joins, all of it or nothing; an accepted join keeps how it was proposed to lie.

    What fits is of one vessel: accepting a join tells the sorting so, and refusing or withdrawing it takes that back
    again, unless it had been told by itself before.

    Raises
    ------
    UnknownName
        No such lot or sherd, or nothing to withdraw.
    InputError
        A sherd with itself, or a pair accepted and refused at once; or one told to be of different vessels is accepted.
    LinksContradict
        An accepted join cannot hold together with what was said of vessels before.
    """
    both = {frozenset(pair) for pair in accepted} & {frozenset(pair) for pair in refused}
    if both:
        raise InputError(
            f"{' and '.join(sorted(next(iter(both))))} are accepted and refused at once; say one of the two"
        )
    apart = {frozenset((link.a, link.b)) for link in cat.links(lot) if link.relation == "different"}
    for a, b in accepted:
        if frozenset((a, b)) in apart:
            raise InputError(
                f"{a} and {b} were told to be of different vessels; withdraw that before accepting their join"
            )
    transforms = {(join.a, join.b): join.transform for join in latest_joins(cat, lot)}
    with cat.transaction(by=by):
        for a, b in withdrawn:
            own = _own_link(cat, lot, a, b)
            cat.withdraw_join_word(lot, a, b)
            if own is not None:
                cat.withdraw(lot, a, b)
        for pairs, answer in ((accepted, "accepted"), (refused, "refused")):
            for a, b in pairs:
                _judge_one(cat, lot, (a, b), answer, transforms, note)
        lot_links(cat, lot, [sherd.number for sherd in cat.sherds(lot)])
    return cat.join_words(lot)


def _judge_one(cat: Catalogue, lot: str, pair: Pair, answer: str, transforms: Mapping[Pair, Matrix], note: str) -> None:
    a, b = pair if pair in transforms or pair[::-1] not in transforms else pair[::-1]
    own = _own_link(cat, lot, a, b)
    word = cat.judge_join(lot, a, b, answer, transform=transforms.get((a, b)), note=note)
    if own is not None and word.at != own.at:
        cat.withdraw(lot, a, b)
    if answer == "accepted":
        cat.tell(lot, a, b, "same")
        cat.ask_again(lot, a, b)


def _own_link(cat: Catalogue, lot: str, a: str, b: str) -> LinkRow | None:
    """The link that an accepted join brought with it: told in the same moment. None where the link stands by itself."""
    word = next((one for one in cat.join_words(lot) if {one.a, one.b} == {a, b} and one.answer == "accepted"), None)
    link = next((one for one in cat.links(lot) if {one.a, one.b} == {a, b} and one.relation == "same"), None)
    return link if word is not None and link is not None and link.at == word.at else None


def latest_joins(cat: Catalogue, lot: str) -> tuple[ProposedJoin, ...]:
    """The joins as last kept, of sherds that are still there; they may be older than the lot."""
    kept = cat.latest_proposal(lot, KIND)
    if kept is None:
        return ()
    there = {sherd.number for sherd in cat.sherds(lot)}
    return tuple(join for join in _unpacked(kept.result) if {join.a, join.b} <= there)


def join_between(cat: Catalogue, lot: str, a: str, b: str) -> ProposedJoin:
    """The kept proposal for a pair, in the order in which it was proposed.

    Raises
    ------
    UnknownName
        None is kept for the two.
    """
    for join in latest_joins(cat, lot):
        if {join.a, join.b} == {a, b}:
            return join
    raise UnknownName(f"no join of '{a}' and '{b}' is proposed in lot '{lot}'; run joins {lot} to see which there are")


def outlines_mm(cat: Catalogue, sherds: Sequence[SherdRow]) -> dict[str, Any]:
    """Outlines in mm by sherd number, in the frame that transforms of joins refer to; a sherd without a scale is absent."""
    scales = {photo_id: cat.photo(photo_id).scale for photo_id in {sherd.photo_id for sherd in sherds}}
    return {
        sherd.number: outline_in_mm(sherd.outline_px, scale)
        for sherd in sherds
        if (scale := scales[sherd.photo_id]) is not None
    }


def edge_of(outline_mm: Any, crop: SherdCrop) -> SherdEdge:
    """An edge with what the face of its crop shows."""
    face = read_face(crop)
    if face is None:
        return SherdEdge(outline_mm)
    fields = fields_on_outline(
        outline_mm,
        crop.mask,
        crop.px_per_mm,
        ink=face.coverage if face.ink_is_known else None,
        lab=linear_to_lab(face.linear).astype(np.float32),
        face=face.inner,
    )
    return SherdEdge(outline_mm, fields)


def _with_word(join: ProposedJoin, words: Mapping[Pair, JoinWordRow]) -> ProposedJoin:
    word = words.get((join.a, join.b)) or words.get((join.b, join.a))
    return join if word is None else replace(join, word=word.answer)


def _best_of_sherds(joins: Sequence[ProposedJoin], top: int) -> list[ProposedJoin]:
    """Joins that are among the best of either sherd, in the order given; accepted ones always."""
    taken: dict[str, int] = {}
    stays = []
    for join in joins:
        if join.word == "accepted" or min(taken.get(join.a, 0), taken.get(join.b, 0)) < top:
            stays.append(join)
        for end in (join.a, join.b):
            taken[end] = taken.get(end, 0) + 1
    return stays


def _kept_or_new(
    cat: Catalogue, lot: str, sherds: Sequence[SherdRow], top: int, *, by: str, progress: Progress | None
) -> tuple[ProposedJoin, ...]:
    basis = _basis(sherds)
    kept = cat.latest_proposal(lot, KIND)
    if kept is not None and kept.parameters.get("basis") == basis and _number(kept.parameters.get("top")) >= top:
        return _unpacked(kept.result)
    edges = _edges(cat, sherds, progress)
    numbers = list(edges)
    if progress is not None:
        progress(MATCHING, 0, 1)
    joins = propose_joins(list(edges.values()), top=top)
    if progress is not None:
        progress(MATCHING, 1, 1)
    proposed = tuple(_named(join, numbers) for join in joins)
    with cat.transaction(by=by):
        cat.save_proposal(
            lot,
            KIND,
            encoder_tags=[],
            parameters={"basis": basis, "top": top},
            result=[_packed(one) for one in proposed],
        )
    return proposed


def _number(kept: Json) -> int:
    return kept if isinstance(kept, int) else 0


def _basis(sherds: Sequence[SherdRow]) -> str:
    """What a proposal rests on: the method, its table of fits, and every sherd as it is now."""
    parts = [VERSION, load_model().made_by, *(f"{sherd.number}:{sherd.content_key}" for sherd in sherds)]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def _edges(cat: Catalogue, sherds: Sequence[SherdRow], progress: Progress | None) -> dict[str, SherdEdge]:
    """Edges in the lot's order; sherds without a scale are left out."""
    outlines = outlines_mm(cat, sherds)
    scaled = [sherd for sherd in sherds if sherd.number in outlines]
    found: dict[str, SherdEdge] = {}
    for done, (sherd, crop) in enumerate(crops_of(cat, scaled), start=1):
        found[sherd.number] = edge_of(outlines[sherd.number], crop)
        if progress is not None:
            progress("reading edges", done, len(scaled))
    return {sherd.number: found[sherd.number] for sherd in scaled}


def _named(join: Join, numbers: Sequence[str]) -> ProposedJoin:
    def short(value: float, places: int = 3) -> float:
        return round(float(value), places)

    matrix = tuple(tuple(short(value, 6) for value in row) for row in join.transform)
    start_a, end_a = join.stretch_a
    start_b, end_b = join.stretch_b
    return ProposedJoin(
        a=numbers[join.a],
        b=numbers[join.b],
        fit=short(join.fit, 4),
        length_mm=short(join.length_mm, 1),
        transform=matrix,
        residual_mm=short(join.residual_mm),
        gap_mm=short(join.gap_mm),
        stretch_a_mm=(short(start_a, 1), short(end_a, 1)),
        stretch_b_mm=(short(start_b, 1), short(end_b, 1)),
        edge_llr=short(join.edge_llr),
        ground_de=None if join.crossing.ground_de is None else short(join.crossing.ground_de, 2),
        strokes=join.crossing.strokes,
        strokes_met=join.crossing.strokes_met,
        why=join.why,
    )


def _packed(join: ProposedJoin) -> dict[str, Json]:
    kept: dict[str, Json] = asdict(join)
    del kept["word"]
    return kept


def _unpacked(kept: Any) -> tuple[ProposedJoin, ...]:
    return tuple(
        ProposedJoin(
            **{
                **one,
                "transform": tuple(tuple(row) for row in one["transform"]),
                "stretch_a_mm": tuple(one["stretch_a_mm"]),
                "stretch_b_mm": tuple(one["stretch_b_mm"]),
                "why": tuple(one["why"]),
            }
        )
        for one in kept
    )
