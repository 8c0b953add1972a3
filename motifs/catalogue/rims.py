"""Rims: what a person read off a rim sherd. "Rim, diameter unknown" is an answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import RowMapping, select

from motifs.catalogue import tables as t
from motifs.catalogue.lookup import find_kept_sherd, lot_id_of
from motifs.catalogue.names import check_note
from motifs.catalogue.store import Edit, Store
from motifs.errors import InputError

if TYPE_CHECKING:
    from sqlalchemy import Connection

RIM_METHODS = ("chord", "chart", "outline", "unknown")
"""How a rim was read: chord and sagitta, a rim chart, a circle along the outline, or that no diameter can be read."""


@dataclass(frozen=True, slots=True)
class RimReading:
    """A rim as read. diameter_mm, percent (of the whole rim, 0 to 100) and their standard uncertainties, None: unknown."""

    method: str
    diameter_mm: float | None = None
    diameter_sd_mm: float | None = None
    percent: float | None = None
    percent_sd: float | None = None
    chord_mm: float | None = None
    sagitta_mm: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class RimRow:
    """The rim of one sherd, as a person recorded it."""

    sherd: str
    reading: RimReading
    by: str
    at: str


class Rims(Store):
    """The rims of a collection."""

    def record_rim(self, number: str, reading: RimReading) -> RimRow:
        """Record what was read; it replaces the earlier reading, which the history keeps. Undoable.

        Raises
        ------
        UnknownName, InputError
            No such kept sherd; not a method.
        """
        if reading.method not in RIM_METHODS:
            raise InputError(f"'{reading.method}' is no way to read a rim; the ways are {', '.join(RIM_METHODS)}")
        sherd = find_kept_sherd(self._work.connection, number)
        present = _active(self._work.connection, sherd["id"])
        if present is None or _reading(present) != reading:
            edit = Edit(self._work)
            if present is not None:
                edit.update(t.rim, present["id"], is_active=False)
            edit.insert(t.rim, {"sherd_id": sherd["id"], **_columns(reading), "is_active": True})
            edit.log("rim recorded", sherd["lot_id"], number, is_undoable=True)
        return self.rims(sherd["lot"])[number]

    def withdraw_rim(self, number: str) -> None:
        """Take the reading back: the sherd is no rim, or nobody read it. Undoable. UnknownName for the sherd."""
        sherd = find_kept_sherd(self._work.connection, number)
        present = _active(self._work.connection, sherd["id"])
        if present is not None:
            edit = Edit(self._work)
            edit.update(t.rim, present["id"], is_active=False)
            edit.log("rim withdrawn", sherd["lot_id"], number, is_undoable=True)

    def rims(self, lot: str | None = None) -> dict[str, RimRow]:
        """Return the rims of kept sherds by number, in catalogue order; UnknownName for the lot."""
        query = (
            select(t.rim, t.sherd.c.number)
            .select_from(t.rim.join(t.sherd))
            .where(t.rim.c.is_active, t.sherd.c.state == "kept")
        )
        with self._reading() as connection:
            if lot is not None:
                query = query.where(t.sherd.c.lot_id == lot_id_of(connection, lot))
            # Ordered here: asked to order them, the database would go through every sherd.
            rows = sorted(
                connection.execute(query.where(self._shown(connection))).mappings(), key=lambda row: row["sherd_id"]
            )
        return {row["number"]: RimRow(row["number"], _reading(row), row["made_by"], row["made_at"]) for row in rows}


def _active(connection: Connection, sherd_id: int) -> RowMapping | None:
    query = select(t.rim).where(t.rim.c.sherd_id == sherd_id, t.rim.c.is_active)
    return connection.execute(query).mappings().one_or_none()


_FIELDS = ("method", "diameter_mm", "diameter_sd_mm", "percent", "percent_sd", "chord_mm", "sagitta_mm", "note")


def _columns(reading: RimReading) -> dict[str, Any]:
    values = {name: getattr(reading, name) for name in _FIELDS}
    return {**values, "note": check_note(reading.note)}


def _reading(row: RowMapping) -> RimReading:
    return RimReading(**{name: row[name] for name in _FIELDS})
