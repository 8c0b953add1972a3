"""Separate a lot into vessels: a proposal with its reasons, under the analyst's word."""

from __future__ import annotations

from dataclasses import replace
from statistics import median
from typing import TYPE_CHECKING

from motifs.errors import InputError
from motifs.evidence import load_calibration, lot_blocks, settle_polarity
from motifs.records import VesselSorting
from motifs.vessels import TELLING_NATS, SupportCurve, sort_sherds
from motifs.workflows.describe import ensure_evidence, evidence_encoders
from motifs.workflows.entered import entered_readings
from motifs.workflows.joins import join_evidence
from motifs.workflows.labels import keep_labels
from motifs.workflows.reasons import with_words
from motifs.workflows.sorting import LotSorting, PairQuestion, PlacedSherd, packed, unpacked
from motifs.workflows.vectors import vector_key
from motifs.workflows.word import lot_links

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import AttributionRow, Catalogue, SherdRow
    from motifs.records import Assignment, CueReading, Links
    from motifs.workflows import Progress

KIND = "vessels"
"""Kind of the proposals kept by this workflow."""
LEAST_ASKED = 0.1
"""Share of the lot's median area below which a sherd is not named in a question."""


def sort_lot(
    cat: Catalogue,
    lot: str,
    *,
    vessels: int | None = None,
    by: str,
    seed: int = 0,
    progress: Progress | None = None,
) -> LotSorting:
    """Sort a lot by evidence and the analyst's word, and keep the proposal.

    Parameters
    ----------
    lot : its name.
    vessels : their number where it is known; otherwise it is found.
    seed : of the search; the same collection and seed give the same proposal.

    Raises
    ------
    UnknownName
        No such lot.
    InputError
        More vessels wanted than there are sherds to sort.
    LinksContradict
        Links and attributions cannot all hold.
    """
    cat.lot(lot)
    attributions = cat.attributions(lot)
    everyone = cat.sherds(lot)
    sherds = [sherd for sherd in everyone if not _is_left_out(attributions.get(sherd.number))]
    numbers = [sherd.number for sherd in sherds]
    if vessels is not None and not 1 <= vessels <= max(1, len(numbers)):
        raise InputError(
            f"lot '{lot}' has {len(numbers)} sherds to sort; --vessels {vessels} cannot be; give 1 to {len(numbers)}"
        )
    links = lot_links(cat, lot, numbers)
    evidence = ensure_evidence(cat, sherds, by=by, progress=progress)
    if numbers:
        entered = entered_readings(cat, lot, sherds)
        readings = [evidence[number] | entered.get(number, {}) for number in numbers]
        joins = _joins_among(numbers, everyone, join_evidence(cat, lot, by=by, progress=progress))
        heard = sum(llr >= TELLING_NATS for _, _, llr in joins)
        photos = [sherd.photo_id for sherd in sherds]
        sorting = _sorted(readings, photos, links, joins, fitness_to_ask(sherds), vessels=vessels, seed=seed)
    else:
        sorting = VesselSorting(0, (0, 0), (), notes=(f"lot '{lot}' has no sherds to sort",))
        heard = 0
    proposed = _named(lot, [sherd.number for sherd in everyone], numbers, sorting, attributions)
    proposed = replace(keep_labels(proposed, latest_sorting(cat, lot)), joins_heard=heard)
    _keep(cat, proposed, vessels=vessels, seed=seed, by=by)
    return proposed


def fitness_to_ask(sherds: Sequence[SherdRow]) -> list[float]:
    """How fit each sherd is to be named in a question, 0..1: larger ones show more.

    Those whose outline wants a look (dust, a label, two sherds as one) get 0, and so do those far smaller than the lot's middle one,
    unless nothing else is there.
    """
    areas = [sherd.area_mm2 or 0.0 for sherd in sherds]
    middle = median(areas) if areas else 0.0
    fitness = [
        0.0 if sherd.look or area < LEAST_ASKED * middle else min(1.0, area / (2 * middle)) if middle else 1.0
        for sherd, area in zip(sherds, areas, strict=True)
    ]
    return fitness if any(fitness) else [1.0] * len(sherds)


def latest_sorting(cat: Catalogue, lot: str) -> LotSorting | None:
    """The proposal as last kept, or None; it may be older than the lot (see `is_current`)."""
    kept = cat.latest_proposal(lot, KIND)
    return None if kept is None else unpacked(lot, kept.result)


def is_current(cat: Catalogue, lot: str) -> bool:
    """Whether the kept proposal was made of exactly the sherds that the lot has now."""
    kept = latest_sorting(cat, lot)
    return kept is not None and {placed.sherd for placed in kept.assignments} == {s.number for s in cat.sherds(lot)}


def _sorted(
    readings: Sequence[Mapping[str, CueReading]],
    photo_ids: Sequence[int],
    links: Links,
    joins: Sequence[tuple[int, int, float]],
    fitness: Sequence[float],
    *,
    vessels: int | None,
    seed: int,
) -> VesselSorting:
    calibration = load_calibration()
    curve = SupportCurve(*calibration.support, vessel_nats=calibration.vessel_nats, range_limits=calibration.range_limits)
    blocks = lot_blocks(calibration, settle_polarity(readings))
    sorting = sort_sherds(
        blocks, photo_ids, links, vessels=vessels, seed=seed, support=curve, joins=joins, fitness=fitness
    )
    return replace(sorting, assignments=with_words(sorting.assignments, readings))


def _joins_among(
    numbers: Sequence[str], everyone: Sequence[SherdRow], joins: Sequence[tuple[int, int, float]]
) -> list[tuple[int, int, float]]:
    """Join evidence by place in `numbers`; joins of sherds that a person left out are passed over."""
    place = {number: position for position, number in enumerate(numbers)}
    names = [sherd.number for sherd in everyone]
    return [(place[names[a]], place[names[b]], llr) for a, b, llr in joins if {names[a], names[b]} <= place.keys()]


def _is_left_out(attribution: AttributionRow | None) -> bool:
    return attribution is not None and attribution.vessel is None


def _named(
    lot: str,
    everyone: Sequence[str],
    numbers: Sequence[str],
    sorting: VesselSorting,
    attributions: Mapping[str, AttributionRow],
) -> LotSorting:
    """Positions become catalogue numbers; sherds that a person left out are listed as unassigned."""
    place = dict(zip(numbers, sorting.assignments, strict=True))
    return LotSorting(
        lot=lot,
        vessels=sorting.vessels,
        vessels_range=sorting.vessels_range,
        assignments=tuple(_placed(number, place.get(number), attributions.get(number)) for number in everyone),
        questions=tuple(PairQuestion(numbers[q.a], numbers[q.b], q.why) for q in sorting.questions),
        notes=sorting.notes,
    )


def _placed(number: str, assignment: Assignment | None, attribution: AttributionRow | None) -> PlacedSherd:
    if assignment is None:
        return PlacedSherd(number, None, 1.0, None, left_out=True)
    return PlacedSherd(
        number,
        assignment.vessel,
        assignment.support,
        assignment.next_best,
        assignment.votes,
        None if attribution is None else attribution.vessel,
    )


def _keep(cat: Catalogue, proposed: LotSorting, *, vessels: int | None, seed: int, by: str) -> None:
    with cat.transaction(by=by):
        cat.save_proposal(
            proposed.lot,
            KIND,
            encoder_tags=[vector_key(spec) for spec in evidence_encoders()],
            parameters={"vessels": vessels, "seed": seed},
            result=packed(proposed),
        )
