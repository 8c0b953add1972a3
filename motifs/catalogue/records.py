"""Written records of finds, by catalogue number: texts exactly as they were written, photographed or not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import RowMapping, Select, and_, or_, select, true

from motifs.catalogue import gate
from motifs.catalogue import tables as t
from motifs.catalogue.labels import check_number
from motifs.catalogue.lookup import lot_id_of
from motifs.catalogue.names import check_note
from motifs.catalogue.store import Edit, Store
from motifs.errors import InputError, UnknownName

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlalchemy import ColumnElement, Connection

RECORD_FIELDS = (
    "accession number", "find number", "context", "position", "form", "fabric", "ware", "surface treatment", "weight g",
    "thickness mm", "length mm", "rim diameter mm", "measurements", "condition", "photographs", "drawings", "comparanda",
    "treatment", "storage place", "bibliography", "rights", "date found", "period", "latitude", "longitude", "note",
)  # fmt: skip
"""What can be written of a find, each as text. Measured figures of photographs are not here: they carry an uncertainty."""

NUMBER_FIELDS = frozenset({"weight g", "thickness mm", "length mm", "rim diameter mm", "latitude", "longitude"})
"""Fields that have to read as a number; the text stays as it was written."""

RECORD_VERBS = ("record added", "record changed", "record withdrawn")


@dataclass(frozen=True, slots=True)
class RecordRow:
    """What is written of one find. fields: texts by names of RECORD_FIELDS, without empty ones."""

    number: str
    lot: str
    site: str | None
    fields: dict[str, str]
    by: str
    at: str


class Records(Store):
    """The written records of a collection."""

    def save_record(self, number: str, lot: str, fields: Mapping[str, str]) -> RecordRow:
        """Write the record of a find, or change the one that is there: the fields given, the others stay. Undoable.

        Parameters
        ----------
        number
            Catalogue number, text as typed.
        lot
            Must be there.
        fields
            By name; an empty text takes a field out.

        Raises
        ------
        NameRefused, UnknownName, InputError
            The number cannot be one; no such lot; another field, a control character, or the find is in another lot.
        """
        lot_id = lot_id_of(self._work.connection, lot)
        number = check_number(number)
        told = {check_field(name): check_note(text, name) for name, text in fields.items()}
        self._refuse_other_lot(number, lot_id)
        present = self._record_row(number)
        edit = Edit(self._work)
        if present is None:
            kept = {name: text for name, text in told.items() if text}
            edit.insert(t.find_record, {"number": number, "lot_id": lot_id, "fields": kept, "is_active": True})
            edit.log("record added", lot_id, number, is_undoable=True)
        else:
            merged = {name: text for name, text in {**present["fields"], **told}.items() if text}
            edit.update(t.find_record, present["id"], fields=merged)
            edit.log("record changed", lot_id, number, is_undoable=True)
        return self.record(number)

    def withdraw_record(self, number: str) -> None:
        """Take a record out; it stays in the history. Undoable. UnknownName where there is none."""
        present = self._record_row(number)
        if present is None:
            raise UnknownName(f"nothing is written of '{number}'; list the records to see which there are")
        edit = Edit(self._work)
        edit.update(t.find_record, present["id"], is_active=False)
        edit.log("record withdrawn", present["lot_id"], number, is_undoable=True)

    def record(self, number: str) -> RecordRow:
        """Return what is written of a find; UnknownName for nothing, Restricted where it is kept back."""
        with self._reading() as connection:
            row = connection.execute(_query().where(t.find_record.c.number == number)).mappings().one_or_none()
            if row is None:
                raise UnknownName(f"nothing is written of '{number}'; list the records to see which there are")
            if (
                not self._sees_all
                and connection.scalar(self._shown_query(connection).where(t.find_record.c.id == row["id"])) is None
            ):
                raise gate.refusal(connection, "find", number, {"lot_id": row["lot_id"], "site_id": row["site_id"]})
        return _record(row)

    def records(self, lot: str | None = None) -> tuple[RecordRow, ...]:
        """Return the records in the order they came in, of a lot or of all; UnknownName for the lot."""
        query = _query()
        with self._reading() as connection:
            if lot is not None:
                query = query.where(t.find_record.c.lot_id == lot_id_of(connection, lot))
            rows = connection.execute(query.where(self._record_shown(connection))).mappings()
            return tuple(_record(row) for row in rows)

    def known_numbers(self) -> dict[str, str]:
        """Return the lot by number of every find that is written of or catalogued, restricted or not: no number is given twice."""
        with self._reading() as connection:
            sherds = select(t.sherd.c.number, t.lot.c.name).join(t.lot, t.sherd.c.lot_id == t.lot.c.id)
            records = select(t.find_record.c.number, t.lot.c.name).join(t.lot, t.find_record.c.lot_id == t.lot.c.id)
            rows = [*connection.execute(sherds), *connection.execute(records.where(t.find_record.c.is_active))]
        return {row[0]: row[1] for row in rows}

    def _record_shown(self, connection: Connection) -> ColumnElement[bool]:
        if self._sees_all or not gate.is_restricting(connection):
            return true()
        hidden = select(t.sherd.c.number).where(t.sherd.c.id.in_(gate.hidden_sherds(connection)))
        return and_(
            gate.is_lot_shown(connection, t.find_record.c.lot_id),
            t.find_record.c.number.not_in(hidden),
        )

    def _shown_query(self, connection: Connection) -> Select[Any]:
        return select(t.find_record.c.id).where(self._record_shown(connection))

    def _record_row(self, number: str) -> RowMapping | None:
        query = select(t.find_record).where(t.find_record.c.number == number, t.find_record.c.is_active)
        return self._work.connection.execute(query).mappings().one_or_none()

    def _refuse_other_lot(self, number: str, lot_id: int) -> None:
        sherd = select(t.sherd.c.lot_id).where(t.sherd.c.number == number, or_(t.sherd.c.state == "kept"))
        record = select(t.find_record.c.lot_id).where(t.find_record.c.number == number, t.find_record.c.is_active)
        for query in (sherd, record):
            found = self._work.connection.scalar(query)
            if found is not None and found != lot_id:
                name = self._work.connection.scalar(select(t.lot.c.name).where(t.lot.c.id == found))
                raise InputError(f"find '{number}' is in lot '{name}'; a catalogue number is one find's only")


def check_field(name: str) -> str:
    """Return the name of a field, or raise InputError."""
    if name not in RECORD_FIELDS:
        raise InputError(f"'{name}' is no field of a record; the fields are {', '.join(RECORD_FIELDS)}")
    return name


def _query() -> Select[Any]:
    source = t.find_record.join(t.lot, t.find_record.c.lot_id == t.lot.c.id).outerjoin(
        t.site, t.lot.c.site_id == t.site.c.id
    )
    columns = (t.lot.c.name.label("lot"), t.site.c.name.label("site"), t.lot.c.site_id)
    return (
        select(t.find_record, *columns)
        .select_from(source)
        .where(t.find_record.c.is_active)
        .order_by(t.find_record.c.id)
    )


def _record(row: RowMapping) -> RecordRow:
    return RecordRow(row["number"], row["lot"], row["site"], dict(row["fields"]), row["made_by"], row["made_at"])
