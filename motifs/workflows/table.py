"""The sorting table of a lot: what people judged and locked, laid over what was proposed.

A judgement stays whatever a later sort proposes. A vessel is called by the name that people gave it, or else by its number,
counted from 1. The moves a person makes on the table are in `moves`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.errors import UnknownName
from motifs.workflows.sort import KIND
from motifs.workflows.sorting import unpacked
from motifs.workflows.vessel_names import vessel_names

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from motifs.catalogue import AttributionRow, Catalogue, LockRow
    from motifs.records import CueVote
    from motifs.workflows.sorting import PairQuestion, PlacedSherd


@dataclass(frozen=True, slots=True)
class TableSherd:
    """One sherd on the table.

    vessel: name of the vessel it lies with, or None, unassigned. support: 0..1 for lying there, None where the proposal
    says nothing of it. next_best: name of the vessel it would go to otherwise. judged_by: who put it there, if a
    person did, and judged_at: when (UTC, ISO 8601). is_new: it came after the last sort. is_locked: its vessel is locked.
    """

    number: str
    vessel: str | None
    support: float | None
    next_best: str | None
    why: tuple[str, ...]
    votes: tuple[CueVote, ...]
    judged_by: str | None
    note: str
    is_new: bool
    judged_at: str | None = None
    is_locked: bool = False


@dataclass(frozen=True, slots=True)
class TableVessel:
    """One vessel on the table, its surest sherds first. is_accepted: a person judged every one of them. locked_by: who locked it."""

    name: str
    sherds: tuple[TableSherd, ...]
    locked_by: str | None = None

    @property
    def is_accepted(self) -> bool:
        """Whether every sherd lies here by a person's word."""
        return all(sherd.judged_by is not None for sherd in self.sherds)


@dataclass(frozen=True, slots=True)
class LotTable:
    """A lot as it lies on the table.

    vessels_range: None before the first sort. questions: open ones, the most useful first. told: "same" or "different", by pair;
    left_open: pairs that a person could not tell. is_current: nothing changed since the sort.
    """

    lot: str
    vessels: tuple[TableVessel, ...]
    unassigned: tuple[TableSherd, ...]
    vessels_range: tuple[int, int] | None
    questions: tuple[PairQuestion, ...]
    told: Mapping[frozenset[str], str]
    notes: tuple[str, ...]
    is_current: bool
    left_open: frozenset[frozenset[str]] = frozenset()

    @property
    def is_sorted(self) -> bool:
        """Whether it was ever sorted."""
        return self.vessels_range is not None

    @property
    def sherds(self) -> tuple[TableSherd, ...]:
        """Every sherd of the lot, vessel by vessel."""
        return (*(sherd for vessel in self.vessels for sherd in vessel.sherds), *self.unassigned)

    def sherd(self, number: str) -> TableSherd:
        """The sherd of that number; UnknownName where it does not lie on this table."""
        for sherd in self.sherds:
            if sherd.number == number:
                return sherd
        raise UnknownName(f"no sherd '{number}' on the table of lot '{self.lot}'; choose one that lies on it")

    def vessel(self, name: str) -> TableVessel:
        """The vessel of that name; UnknownName where there is none."""
        for vessel in self.vessels:
            if vessel.name == name:
                return vessel
        raise UnknownName(f"no vessel '{name}' on the table of lot '{self.lot}'; choose one that lies on it")


def lay_out_table(cat: Catalogue, lot: str) -> LotTable:
    """Lay locks and judgements over the latest proposal; UnknownName for the lot."""
    numbers = cat.sherd_numbers(lot)
    judged = cat.attributions(lot)
    kept = cat.latest_proposal(lot, KIND)
    proposed = None if kept is None else unpacked(lot, kept.result)
    placed = {} if proposed is None else {one.sherd: one for one in proposed.assignments}
    links, locks = cat.links(lot), cat.locks(lot)
    names = {} if proposed is None else vessel_names(proposed, judged, links, locks)
    told = {frozenset((link.a, link.b)): link.relation for link in links}
    left_open = frozenset(frozenset((pair.a, pair.b)) for pair in cat.open_pairs(lot))
    locked = {number: lock for lock in locks for number in lock.sherds}
    sherds = [
        _table_sherd(number, placed.get(number), judged.get(number), locked.get(number), names) for number in numbers
    ]
    return LotTable(
        lot=lot,
        vessels=_grouped(sherds, names.values(), locks),
        unassigned=_surest_first(sherd for sherd in sherds if sherd.vessel is None),
        vessels_range=None if proposed is None else proposed.vessels_range,
        questions=() if proposed is None else _open_questions(proposed.questions, sherds, told.keys() | left_open),
        told=told,
        notes=() if proposed is None else proposed.notes,
        is_current=kept is not None and kept.is_current,
        left_open=left_open,
    )


def _table_sherd(
    number: str,
    placed: PlacedSherd | None,
    judgement: AttributionRow | None,
    lock: LockRow | None,
    names: Mapping[int, str],
) -> TableSherd:
    proposed = None if placed is None or placed.vessel is None else names[placed.vessel]
    held = proposed if lock is None else lock.vessel
    vessel = held if judgement is None else judgement.vessel
    agrees = placed is not None and not placed.left_out and vessel == proposed
    return TableSherd(
        number=number,
        vessel=vessel,
        support=placed.support if placed is not None and agrees else None,
        next_best=_next_best(placed, proposed, vessel, names),
        why=_reasons(placed, judgement, proposed),
        votes=() if placed is None else placed.votes,
        judged_by=None if judgement is None else judgement.by,
        note="" if judgement is None else judgement.note,
        is_new=placed is None,
        judged_at=None if judgement is None else judgement.at,
        is_locked=lock is not None,
    )


def _next_best(
    placed: PlacedSherd | None, proposed: str | None, vessel: str | None, names: Mapping[int, str]
) -> str | None:
    """Where a judgement and the proposal differ, the proposed vessel is the next best."""
    if placed is None:
        return None
    if proposed is not None and proposed != vessel:
        return proposed
    return None if placed.next_best is None else names.get(placed.next_best)


def _reasons(placed: PlacedSherd | None, judgement: AttributionRow | None, proposed: str | None) -> tuple[str, ...]:
    """The person's word first, as it stands now; then what the cues said."""
    cues = () if placed is None else tuple(vote.why for vote in placed.votes)
    if judgement is None:
        return cues
    where = "left unassigned" if judgement.vessel is None else f"given to vessel {judgement.vessel}"
    told = f"{where} by {judgement.by}" + (f": {judgement.note}" if judgement.note else "")
    differs = () if proposed in (judgement.vessel, None) else (f"the last sort proposed vessel {proposed}",)
    return (told, *differs, *cues)


def _grouped(sherds: Sequence[TableSherd], names: Iterable[str], locks: Sequence[LockRow]) -> tuple[TableVessel, ...]:
    """Vessels in the proposal's order, then those that only people know; empty ones are left out."""
    locked_by = {lock.vessel: lock.by for lock in locks}
    members: dict[str, list[TableSherd]] = {name: [] for name in names}
    for sherd in sherds:
        if sherd.vessel is not None:
            members.setdefault(sherd.vessel, []).append(sherd)
    return tuple(
        TableVessel(name, _surest_first(lying), locked_by.get(name)) for name, lying in members.items() if lying
    )


def _surest_first(sherds: Iterable[TableSherd]) -> tuple[TableSherd, ...]:
    return tuple(sorted(sherds, key=lambda sherd: (-(sherd.support or 0.0), sherd.number)))


def _open_questions(
    asked: Sequence[PairQuestion], sherds: Sequence[TableSherd], settled: Collection[frozenset[str]]
) -> tuple[PairQuestion, ...]:
    """Questions that nothing said since has answered, of sherds that are still there."""
    there = {sherd.number: sherd for sherd in sherds}
    return tuple(
        question
        for question in asked
        if question.a in there
        and question.b in there
        and frozenset((question.a, question.b)) not in settled
        and not (there[question.a].judged_by and there[question.b].judged_by)
    )
