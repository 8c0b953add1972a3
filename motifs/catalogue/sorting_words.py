"""What people said while sorting that is no link: "cannot tell" of a pair, and vessels that a sort leaves as they are."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from sqlalchemy import Select, select

from motifs.catalogue import tables as t
from motifs.catalogue.lookup import find_kept_sherd, lot_id_of
from motifs.catalogue.names import check_name
from motifs.catalogue.store import Edit, Store
from motifs.errors import InputError, UnknownName

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, slots=True)
class OpenPairRow:
    """A pair that a person looked at and could not tell; it is not asked again."""

    a: str
    b: str
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class LockRow:
    """A vessel that a sort leaves as it is. sherds: catalogue numbers of the kept ones, as they lay when it was locked."""

    vessel: str
    sherds: tuple[str, ...]
    by: str
    at: str


class SortingWords(Store):
    """Open pairs and locks of a lot."""

    def sherd_numbers(self, lot: str) -> tuple[str, ...]:
        """Return the catalogue numbers of a lot's kept sherds in the lot's order, without their outlines; UnknownName for the lot."""
        with self._reading() as connection:
            query = select(t.sherd.c.id, t.sherd.c.number).where(
                t.sherd.c.lot_id == lot_id_of(connection, lot), t.sherd.c.state == "kept", self._shown(connection)
            )
            # Ordered here: asked to order them, the database would read every outline past.
            return tuple(number for _, number in sorted((row.id, row.number) for row in connection.execute(query)))

    def leave_open(self, lot: str, a: str, b: str) -> bool:
        """Record that a person cannot tell of two sherds whether they are one vessel. Undoable.

        Returns
        -------
        bool
            False where that was on record already.

        Raises
        ------
        UnknownName
            No such lot, or no such kept sherd in it.
        InputError
            A sherd with itself.
        """
        connection = self._work.connection
        lot_id = lot_id_of(connection, lot)
        if a == b:
            raise InputError(f"sherd '{a}' cannot be set beside itself; name two sherds")
        first, second = sorted(find_kept_sherd(connection, number, lot)["id"] for number in (a, b))
        if self._open_id(first, second) is not None:
            return False
        edit = Edit(self._work)
        edit.insert(t.open_pair, {"lot_id": lot_id, "a_id": first, "b_id": second, "is_active": True})
        edit.log("left open", lot_id, f"{a}, {b}", is_undoable=True)
        return True

    def ask_again(self, lot: str, a: str, b: str) -> bool:
        """Let a pair that was left open be asked again; False where it was not. Undoable. UnknownName for lot and sherds."""
        connection = self._work.connection
        lot_id = lot_id_of(connection, lot)
        first, second = sorted(find_kept_sherd(connection, number, lot)["id"] for number in (a, b))
        found = self._open_id(first, second)
        if found is None:
            return False
        edit = Edit(self._work)
        edit.update(t.open_pair, found, is_active=False)
        edit.log("to be asked again", lot_id, f"{a}, {b}", is_undoable=True)
        return True

    def open_pairs(self, lot: str) -> tuple[OpenPairRow, ...]:
        """Return the pairs of kept sherds of a lot that were left open, oldest first; UnknownName for the lot."""
        with self._reading() as connection:
            query = _open_pairs().where(t.open_pair.c.lot_id == lot_id_of(connection, lot))
            query = query.where(
                self._shown(connection, t.open_pair.c.a_id), self._shown(connection, t.open_pair.c.b_id)
            )
            rows = connection.execute(query).mappings()
            return tuple(OpenPairRow(row["a"], row["b"], row["made_by"], row["made_at"]) for row in rows)

    def lock_vessel(self, lot: str, vessel: str, numbers: Sequence[str]) -> LockRow:
        """Keep a vessel as it is: a sort moves none of these sherds and adds none. Undoable.

        Raises
        ------
        UnknownName
            No such lot, or no such kept sherd in it.
        NameRefused
            The vessel's name cannot be one.
        InputError
            No sherd; it is locked already; or a sherd of it is locked with another vessel.
        """
        connection = self._work.connection
        lot_id = lot_id_of(connection, lot)
        vessel = check_name(vessel, "vessel")
        if not numbers:
            raise InputError(f"vessel '{vessel}' has no sherd to lock; put sherds with it first")
        for lock in self.locks(lot):
            shared = [number for number in numbers if number in lock.sherds]
            if lock.vessel == vessel or shared:
                what = f"sherd '{shared[0]}'" if shared else f"vessel '{vessel}'"
                raise InputError(f"{what} is locked already, with vessel '{lock.vessel}'; unlock that first")
        ids = [int(find_kept_sherd(connection, number, lot)["id"]) for number in numbers]
        edit = Edit(self._work)
        edit.insert(t.vessel_lock, {"lot_id": lot_id, "vessel": vessel, "sherd_ids": ids, "is_active": True})
        edit.log("locked vessel", lot_id, vessel, is_undoable=True)
        return next(lock for lock in self.locks(lot) if lock.vessel == vessel)

    def unlock_vessel(self, lot: str, vessel: str) -> None:
        """Let a sort change the vessel again. Undoable. UnknownName for the lot, and where it is not locked."""
        lot_id = lot_id_of(self._work.connection, lot)
        row_id = self._work.connection.scalar(
            select(t.vessel_lock.c.id).where(
                t.vessel_lock.c.lot_id == lot_id, t.vessel_lock.c.vessel == vessel, t.vessel_lock.c.is_active
            )
        )
        if row_id is None:
            raise UnknownName(f"vessel '{vessel}' of lot '{lot}' is not locked; nothing was changed")
        edit = Edit(self._work)
        edit.update(t.vessel_lock, row_id, is_active=False)
        edit.log("unlocked vessel", lot_id, vessel, is_undoable=True)

    def locks(self, lot: str) -> tuple[LockRow, ...]:
        """Return the locks of a lot, oldest first; one that lost all its sherds is left out. UnknownName for the lot."""
        with self._reading() as connection:
            rows = connection.execute(_locks(lot_id_of(connection, lot))).mappings().all()
            ids = {sherd_id for row in rows for sherd_id in row["sherd_ids"]}
            kept = select(t.sherd.c.id, t.sherd.c.number).where(t.sherd.c.id.in_(ids), t.sherd.c.state == "kept")
            kept = kept.where(self._shown(connection))
            numbers = {int(row.id): str(row.number) for row in connection.execute(kept)} if ids else {}
        found = (
            LockRow(
                row["vessel"],
                tuple(numbers[i] for i in row["sherd_ids"] if i in numbers),
                row["made_by"],
                row["made_at"],
            )
            for row in rows
        )
        return tuple(lock for lock in found if lock.sherds)

    def _open_id(self, first: int, second: int) -> int | None:
        query = select(t.open_pair.c.id).where(
            t.open_pair.c.a_id == first, t.open_pair.c.b_id == second, t.open_pair.c.is_active
        )
        found = self._work.connection.scalar(query)
        return None if found is None else int(found)


@cache
def _open_pairs() -> Select[Any]:
    """The open pairs of all lots; built once, since building it takes longer than asking."""
    a, b = t.sherd.alias("a"), t.sherd.alias("b")
    return (
        select(t.open_pair, a.c.number.label("a"), b.c.number.label("b"))
        .select_from(t.open_pair.join(a, t.open_pair.c.a_id == a.c.id).join(b, t.open_pair.c.b_id == b.c.id))
        .where(t.open_pair.c.is_active, a.c.state == "kept", b.c.state == "kept")
        .order_by(t.open_pair.c.id)
    )


def _locks(lot_id: int) -> Select[Any]:
    return (
        select(t.vessel_lock)
        .where(t.vessel_lock.c.lot_id == lot_id, t.vessel_lock.c.is_active)
        .order_by(t.vessel_lock.c.id)
    )
