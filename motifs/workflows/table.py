"""The sorting table of a lot: what people judged laid over what was proposed, and the moves a person makes on it.

A judgement stays whatever a later sort proposes. A vessel is called by the name that people gave it, or else by its
number in the proposal.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.catalogue import check_name
from motifs.errors import InputError, UnknownName
from motifs.workflows.correct import attribute
from motifs.workflows.sort import KIND, latest_sorting
from motifs.workflows.tell import tell_pairs

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from motifs.catalogue import AttributionRow, Catalogue, LinkRow
    from motifs.records import CueVote
    from motifs.workflows.sorting import LotSorting, PairQuestion, PlacedSherd


@dataclass(frozen=True, slots=True)
class TableSherd:
    """One sherd on the table.

    vessel: name of the vessel it lies with, or None, unassigned. support: 0..1 for lying there, None where the proposal
    says nothing of it. next_best: name of the vessel it would go to otherwise. judged_by: who put it there, if a
    person did. is_new: it came after the last sort.
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


@dataclass(frozen=True, slots=True)
class TableVessel:
    """One vessel on the table, its surest sherds first. is_accepted: a person judged every one of them."""

    name: str
    sherds: tuple[TableSherd, ...]

    @property
    def is_accepted(self) -> bool:
        """Whether every sherd lies here by a person's word."""
        return all(sherd.judged_by is not None for sherd in self.sherds)


@dataclass(frozen=True, slots=True)
class LotTable:
    """A lot as it lies on the table. vessels_range: None before the first sort. told: "same" or "different", by pair. is_current: nothing changed since the sort."""

    lot: str
    vessels: tuple[TableVessel, ...]
    unassigned: tuple[TableSherd, ...]
    vessels_range: tuple[int, int] | None
    questions: tuple[PairQuestion, ...]
    told: Mapping[frozenset[str], str]
    notes: tuple[str, ...]
    is_current: bool

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


@dataclass(frozen=True, slots=True)
class Moved:
    """What a move recorded. beside: the sherd it was said to be one vessel with. withdrawn: sherds it no longer goes with."""

    sherd: str
    vessel: str | None
    beside: str | None
    withdrawn: tuple[str, ...]


def lay_out_table(cat: Catalogue, lot: str) -> LotTable:
    """Lay the judgements over the latest proposal; UnknownName for the lot."""
    numbers = [sherd.number for sherd in cat.sherds(lot)]
    judged = cat.attributions(lot)
    kept = cat.latest_proposal(lot, KIND)
    proposed = latest_sorting(cat, lot)
    placed = {} if proposed is None else {one.sherd: one for one in proposed.assignments}
    links = cat.links(lot)
    names = {} if proposed is None else _vessel_names(proposed, judged, links)
    told = {frozenset((link.a, link.b)): link.relation for link in links}
    sherds = [_table_sherd(number, placed.get(number), judged.get(number), names) for number in numbers]
    return LotTable(
        lot=lot,
        vessels=_grouped(sherds, names.values()),
        unassigned=_surest_first(sherd for sherd in sherds if sherd.vessel is None),
        vessels_range=None if proposed is None else proposed.vessels_range,
        questions=() if proposed is None else _open_questions(proposed.questions, sherds, told),
        told=told,
        notes=() if proposed is None else proposed.notes,
        is_current=kept is not None and kept.is_current,
    )


def move_sherd(cat: Catalogue, lot: str, number: str, vessel: str | None, *, by: str, note: str = "") -> Moved:
    """Put a sherd with a vessel of the table, with a new one, or aside, on a person's word.

    Where nobody judged any sherd of the vessel yet, the word is kept as "same vessel as its surest sherd" too, since a
    name alone would tell the next sort nothing. What was said before of the sherd and of sherds that lie elsewhere is
    withdrawn in the same step.

    Raises
    ------
    UnknownName
        No such lot or sherd.
    NameRefused
        The vessel's name cannot be one.
    LinksContradict
        It was told to be of another vessel than sherds that are judged to be of this one.
    """
    table = lay_out_table(cat, lot)
    table.sherd(number)
    name = None if vessel is None else check_name(vessel, "vessel")
    company = (
        [] if name is None else [s for v in table.vessels if v.name == name for s in v.sherds if s.number != number]
    )
    beside = None if any(s.judged_by for s in company) else next((s.number for s in company), None)
    left = () if name is None else _no_longer_with(cat.links(lot), number, {sherd.number for sherd in company})
    with cat.transaction(by=by):
        if left:
            tell_pairs(cat, lot, withdrawn=[(number, other) for other in left], by=by)
        attribute(cat, [number], name, by=by, note=note)
        if beside is not None:
            tell_pairs(cat, lot, same=[(number, beside)], by=by)
    return Moved(number, name, beside, left)


def accept_vessel(cat: Catalogue, lot: str, name: str, *, by: str) -> tuple[str, ...]:
    """Judge every sherd of a vessel to be of it; return the numbers that were not judged before.

    Raises
    ------
    UnknownName
        No such lot or vessel.
    InputError
        Every sherd of it is judged already.
    LinksContradict
        Something said before does not allow it.
    """
    fresh = tuple(s.number for s in lay_out_table(cat, lot).vessel(name).sherds if s.judged_by is None)
    if not fresh:
        raise InputError(f"vessel '{name}' of lot '{lot}' is accepted already; nothing was changed")
    attribute(cat, fresh, name, by=by)
    return fresh


def free_vessel_name(table: LotTable) -> str:
    """The lowest number that no vessel of the table is called by."""
    taken = {vessel.name for vessel in table.vessels}
    return next(str(number) for number in range(len(taken) + 1) if str(number) not in taken)


def _no_longer_with(links: Iterable[LinkRow], number: str, company: Collection[str]) -> tuple[str, ...]:
    """Sherds that the sherd was told to be one vessel with, and that lie elsewhere."""
    others = [
        ({link.a, link.b} - {number}).pop() for link in links if link.relation == "same" and number in (link.a, link.b)
    ]
    return tuple(other for other in others if other not in company)


def _vessel_names(
    proposed: LotSorting, judged: Mapping[str, AttributionRow], links: Sequence[LinkRow]
) -> dict[int, str]:
    """Name of each proposed vessel: the one people gave most clearly to its sherds, or else its number."""
    claims = _claims(proposed, judged, links)
    names: dict[int, str] = {}
    for vessel, name in sorted(claims, key=claims.__getitem__, reverse=True):
        if vessel not in names and name not in names.values():
            names[vessel] = name
    taken = {judgement.vessel for judgement in judged.values()} | set(names.values())
    for vessel in range(proposed.vessels):
        if vessel not in names:
            free = str(vessel) if str(vessel) not in taken else _next_free(taken, proposed.vessels)
            names[vessel] = free
            taken.add(free)
    return dict(sorted(names.items()))


def _claims(
    proposed: LotSorting, judged: Mapping[str, AttributionRow], links: Sequence[LinkRow]
) -> dict[tuple[int, str], tuple[int, int, int]]:
    """How well a name fits a proposed vessel: judged sherds that the sort knew of, the same number, sherds told to go with them."""
    at = {placed.sherd: placed for placed in proposed.assignments}
    claims: dict[tuple[int, str], list[int]] = {}
    beside = _told_same(links)
    for number, judgement in judged.items():
        name, placed = judgement.vessel, at.get(number)
        if name is None:
            continue
        if placed is not None and placed.vessel is not None and placed.attributed == name:
            claims.setdefault((placed.vessel, name), [0, 0, 0])[0] += 1
        for other in beside.get(number, ()):
            near = at.get(other)
            if near is not None and near.vessel is not None:
                claims.setdefault((near.vessel, name), [0, 0, 0])[2] += 1
        if name.isdecimal() and int(name) < proposed.vessels and str(int(name)) == name:
            claims.setdefault((int(name), name), [0, 0, 0])[1] = 1
    return {key: (known, same, told) for key, (known, same, told) in claims.items()}


def _told_same(links: Sequence[LinkRow]) -> dict[str, list[str]]:
    beside: dict[str, list[str]] = {}
    for link in links:
        if link.relation == "same":
            beside.setdefault(link.a, []).append(link.b)
            beside.setdefault(link.b, []).append(link.a)
    return beside


def _next_free(taken: Collection[str | None], start: int) -> str:
    number = start
    while str(number) in taken:
        number += 1
    return str(number)


def _table_sherd(
    number: str, placed: PlacedSherd | None, judgement: AttributionRow | None, names: Mapping[int, str]
) -> TableSherd:
    proposed = None if placed is None or placed.vessel is None else names[placed.vessel]
    vessel = proposed if judgement is None else judgement.vessel
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


def _grouped(sherds: Sequence[TableSherd], names: Iterable[str]) -> tuple[TableVessel, ...]:
    """Vessels in the proposal's order, then those that only people know; empty ones are left out."""
    members: dict[str, list[TableSherd]] = {name: [] for name in names}
    for sherd in sherds:
        if sherd.vessel is not None:
            members.setdefault(sherd.vessel, []).append(sherd)
    return tuple(TableVessel(name, _surest_first(lying)) for name, lying in members.items() if lying)


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
