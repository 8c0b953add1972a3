"""What a person does on the sorting table: move sherds, split, merge, accept, lock. Each is one step, and can be undone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.catalogue import check_name
from motifs.errors import InputError
from motifs.workflows.correct import attribute
from motifs.workflows.table import LotTable, lay_out_table
from motifs.workflows.tell import tell_pairs
from motifs.workflows.word import lot_links

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence, Set

    from motifs.catalogue import Catalogue, LinkRow, LockRow
    from motifs.workflows.table import TableSherd


@dataclass(frozen=True, slots=True)
class Moved:
    """What a move recorded.

    vessel: where the sherds lie now, None unassigned. beside: the sherd they were said to be one vessel with. apart: a sherd they were
    said to be of another vessel than. withdrawn: sherds that they no longer go with.
    """

    sherds: tuple[str, ...]
    vessel: str | None
    beside: str | None = None
    apart: str | None = None
    withdrawn: tuple[str, ...] = ()


def move_sherds(
    cat: Catalogue, lot: str, numbers: Sequence[str], vessel: str | None, *, by: str, note: str = ""
) -> Moved:
    """Put sherds with a vessel of the table, with a new one, or aside, on a person's word.

    Where nobody judged any sherd of the vessel yet, the word is kept as "same vessel as its surest sherd" too, since a
    name alone would tell the next sort nothing. What was said before of the sherds and of sherds that lie elsewhere is
    withdrawn in the same step.

    Raises
    ------
    UnknownName
        No such lot or sherd.
    NameRefused
        The vessel's name cannot be one.
    InputError
        No sherd, or a lock holds one of them or bars the vessel.
    LinksContradict
        One was told to be of another vessel than sherds that are judged to be of this one.
    """
    chosen = tuple(dict.fromkeys(numbers))
    if not chosen:
        raise InputError("no sherd is picked; pick those that are to be moved")
    table = lay_out_table(cat, lot)
    for number in chosen:
        table.sherd(number)
    name = None if vessel is None else check_name(vessel, "vessel")
    _refuse_locked(cat.locks(lot), chosen, name)
    company = _company(table, name, set(chosen))
    beside = None if any(s.judged_by for s in company) else next((s.number for s in company), None)
    stays = {sherd.number for sherd in company} | set(chosen)
    left = [] if name is None else _no_longer_with(cat.links(lot), set(chosen), stays)
    with cat.transaction(by=by):
        if left:
            tell_pairs(cat, lot, withdrawn=left, by=by)
        attribute(cat, chosen, name, by=by, note=note)
        if beside is not None:
            tell_pairs(cat, lot, same=[(chosen[0], beside)], by=by)
    return Moved(chosen, name, beside, None, tuple(dict.fromkeys(other for _, other in left)))


def split_vessel(
    cat: Catalogue, lot: str, numbers: Sequence[str], *, name: str | None = None, by: str, note: str = ""
) -> Moved:
    """Make a vessel of its own of some sherds of one vessel, and keep that they are of another than its surest sherd that stays.

    Parameters
    ----------
    name : of the new vessel; the lowest free number if None.

    Raises
    ------
    InputError
        The sherds are not of one vessel, or are all of it; a lock holds them; or the name is taken.
    UnknownName, NameRefused, LinksContradict
        As for `move_sherds`.
    """
    chosen = tuple(dict.fromkeys(numbers))
    table = lay_out_table(cat, lot)
    origins = {table.sherd(number).vessel for number in chosen}
    if len(origins) != 1 or None in origins:
        raise InputError("splitting takes sherds of one vessel; pick some that lie together, or move them instead")
    origin = table.vessel(str(origins.pop()))
    stays = [sherd.number for sherd in origin.sherds if sherd.number not in set(chosen)]
    if not stays:
        raise InputError(
            f"all sherds of vessel '{origin.name}' are picked, so nothing would be split; leave some of them out"
        )
    fresh = free_vessel_name(table) if name is None else name
    if any(vessel.name == fresh for vessel in table.vessels):
        raise InputError(f"there is a vessel '{fresh}' in lot '{lot}' already; give the new one another name")
    with cat.transaction(by=by):
        ties = [link for link in cat.links(lot) if link.relation == "same" and _crosses(link, chosen, stays)]
        if ties:
            tell_pairs(cat, lot, withdrawn=[(link.a, link.b) for link in ties], by=by)
        moved = move_sherds(cat, lot, chosen, fresh, by=by, note=note)
        tell_pairs(cat, lot, different=[(chosen[0], stays[0])], by=by)
    return Moved(chosen, moved.vessel, None, stays[0], moved.withdrawn)


def merge_vessels(cat: Catalogue, lot: str, name: str, into: str, *, by: str, note: str = "") -> Moved:
    """Put every sherd of one vessel with another one.

    Raises
    ------
    UnknownName
        No such lot or vessel.
    InputError
        A vessel with itself, or one of the two is locked.
    LinksContradict
        Sherds of the two were told to be of different vessels.
    """
    if name == into:
        raise InputError(f"vessel '{name}' cannot be merged with itself; choose another one")
    table = lay_out_table(cat, lot)
    table.vessel(into)
    return move_sherds(cat, lot, [sherd.number for sherd in table.vessel(name).sherds], into, by=by, note=note)


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


def lock_vessel(cat: Catalogue, lot: str, name: str, *, by: str) -> LockRow:
    """Let every later sort leave a vessel as it is: none of its sherds goes, none comes. This is no judgement of them.

    Raises
    ------
    UnknownName
        No such lot or vessel.
    InputError
        It is locked already.
    LinksContradict
        Two of its sherds were told to be of different vessels since the last sort.
    """
    numbers = [sherd.number for sherd in lay_out_table(cat, lot).vessel(name).sherds]
    with cat.transaction(by=by):
        lock = cat.lock_vessel(lot, name, numbers)
        lot_links(cat, lot, cat.sherd_numbers(lot))
    return lock


def unlock_vessel(cat: Catalogue, lot: str, name: str, *, by: str) -> None:
    """Let a sort change the vessel again; UnknownName where it is not locked."""
    with cat.transaction(by=by):
        cat.unlock_vessel(lot, name)


def free_vessel_name(table: LotTable) -> str:
    """The lowest number, from 1, that no vessel of the table is called by."""
    taken = {vessel.name for vessel in table.vessels}
    return next(str(number) for number in range(1, len(taken) + 2) if str(number) not in taken)


def _refuse_locked(locks: Iterable[LockRow], chosen: Sequence[str], vessel: str | None) -> None:
    for lock in locks:
        held = [number for number in chosen if number in lock.sherds]
        if held and lock.vessel != vessel:
            raise InputError(
                f"vessel '{lock.vessel}' is locked and holds '{held[0]}'; unlock it first to move that sherd"
            )
        if lock.vessel == vessel and len(held) < len(chosen):
            raise InputError(f"vessel '{lock.vessel}' is locked and takes no sherd; unlock it first")


def _company(table: LotTable, name: str | None, moving: Set[str]) -> list[TableSherd]:
    """Sherds that the moved ones will lie with, the surest first."""
    if name is None:
        return []
    return [s for v in table.vessels if v.name == name for s in v.sherds if s.number not in moving]


def _no_longer_with(links: Iterable[LinkRow], moving: Set[str], stays: Set[str]) -> list[tuple[str, str]]:
    """Pairs told to be one vessel of which one sherd moves and the other lies elsewhere, the moving one first."""
    found = []
    for link in links:
        inside = [number for number in (link.a, link.b) if number in moving]
        outside = [number for number in (link.a, link.b) if number not in stays]
        if link.relation == "same" and inside and outside:
            found.append((inside[0], outside[0]))
    return found


def _crosses(link: LinkRow, some: Sequence[str], others: Sequence[str]) -> bool:
    return (link.a in some and link.b in others) or (link.b in some and link.a in others)
