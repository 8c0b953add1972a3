"""How far each lot has got, and what waits for a person."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.catalogue import LotTally
from motifs.workflows.joins import KIND as JOINS
from motifs.workflows.kept_reports import is_current, report_mark
from motifs.workflows.table import lay_out_table

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import Catalogue, LotRow


NO_REPORT, STALE, CURRENT = "none", "stale", "current"


@dataclass(frozen=True, slots=True)
class LotStanding:
    """One lot at a glance.

    to_look: outlines that ask for a look. without_scale: photographs without one. vessels: on the table now, None before
    the first sort; vessels_range: what the evidence does not rule out. judged: sherds that lie where a person put them. tagged: sherds
    with any tag. labels: numbers read and not settled. views: pairings of turned-over sherds that ask for a look. accepted: vessels
    of which a person judged every sherd. joins_matched: edges were matched; joins_judged: joins a person spoke on; laid: sherds laid
    by hand. compared: sherds with a kept comparandum. report: one of NO_REPORT, STALE, CURRENT.
    """

    lot: str
    site: str | None
    photos: int
    sherds: int
    to_look: int
    without_scale: int
    vessels: int | None
    vessels_range: tuple[int, int] | None
    unassigned: int
    judged: int
    questions: int
    is_current: bool
    tagged: int = 0
    labels: int = 0
    views: int = 0
    accepted: int = 0
    joins_matched: bool = False
    joins_judged: int = 0
    laid: int = 0
    compared: int = 0
    report: str = NO_REPORT


def lots_at_a_glance(
    cat: Catalogue, lots: Sequence[LotRow] | None = None, tallies: Mapping[str, LotTally] | None = None
) -> tuple[LotStanding, ...]:
    """Some lots (all by default), in the order given or else as they came in. tallies: by lot, where they are at hand."""
    counted = cat.lot_tallies() if tallies is None else tallies
    return tuple(
        _standing(cat, lot, counted.get(lot.name, LotTally())) for lot in (cat.lots() if lots is None else lots)
    )


def _standing(cat: Catalogue, lot: LotRow, tally: LotTally) -> LotStanding:
    table = lay_out_table(cat, lot.name)
    return LotStanding(
        lot=lot.name,
        site=lot.site,
        photos=lot.photos,
        sherds=lot.sherds,
        to_look=tally.to_look,
        without_scale=tally.without_scale,
        vessels=len(table.vessels) if table.is_sorted else None,
        vessels_range=table.vessels_range,
        unassigned=len(table.unassigned),
        judged=tally.judged,
        questions=len(table.questions),
        is_current=table.is_current,
        tagged=tally.tagged,
        labels=tally.labels,
        views=tally.views,
        accepted=sum(vessel.is_accepted for vessel in table.vessels),
        joins_matched=cat.has_proposal(lot.name, JOINS),
        joins_judged=len(cat.join_words(lot.name)),
        laid=len(cat.placements(lot.name)),
        compared=tally.compared,
        report=_report(cat, lot.name),
    )


def _report(cat: Catalogue, lot: str) -> str:
    mark = report_mark(cat, lot=lot)
    if mark is None:
        return NO_REPORT
    return CURRENT if is_current(cat, mark) else STALE
