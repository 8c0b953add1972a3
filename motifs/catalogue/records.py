"""Written records of finds, by catalogue number: texts exactly as they were written, photographed or not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import RowMapping, Select, and_, select, true

from motifs.catalogue import gate
from motifs.catalogue import tables as t
from motifs.catalogue.labels import check_number
from motifs.catalogue.lookup import lot_id_of
from motifs.catalogue.names import check_note, composed
from motifs.catalogue.store import Edit, Store
from motifs.errors import InputError, UnknownName

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sqlalchemy import ColumnElement, Connection

RECORD_FIELDS = (
    "accession number", "find number", "context", "position", "form", "fabric", "ware", "surface treatment", "weight g",
    "thickness mm", "length mm", "rim diameter mm", "measurements", "condition", "photographs", "drawings", "comparanda",
    "treatment", "storage place", "bibliography", "rights", "date found", "period", "latitude", "longitude", "note",
)  # fmt: skip
"""What can be written of a find, each as text. Measured figures of photographs are not here: they carry an uncertainty."""

NUMBER_FIELDS = frozenset({"weight g", "thickness mm", "length mm", "rim diameter mm", "latitude", "longitude"})
"""Fields that have to read as a number; the text stays as it was written."""

RECORD_VERBS = ("written record", "record withdrawn")


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
        """Write the record of one find; as `save_records`."""
        self.save_records([(number, lot, fields)])
        return self.record(number)

    def save_records(self, written: Sequence[tuple[str, str, Mapping[str, str]]]) -> None:
        """Write records of finds, or change those that are there: the fields given, the others stay. Undoable lot by lot.

        Parameters
        ----------
        written
            (catalogue number, lot, texts by field) each; an empty text takes a field out.

        Raises
        ------
        NameRefused, UnknownName, InputError
            A number that cannot be one; no such lot; another field, a control character, or a find of another lot.
        """
        lots = {lot: lot_id_of(self._work.connection, lot) for lot in dict.fromkeys(lot for _, lot, _ in written)}
        known, present = self.known_numbers(), self._active_rows()
        edits = {lot: Edit(self._work) for lot in lots}
        subjects: dict[str, list[str]] = {lot: [] for lot in lots}
        for typed, lot, texts in written:
            number = check_number(typed)
            if known.setdefault(number, lot) != lot:
                raise InputError(f"find '{number}' is in lot '{known[number]}'; a catalogue number is one find's only")
            told = {check_field(name): check_note(text, name) for name, text in texts.items()}
            row_id, before = present.get(number, (None, {}))
            kept = {name: text for name, text in {**before, **told}.items() if text}
            if row_id is None:
                values = {"number": number, "lot_id": lots[lot], "fields": kept, "is_active": True}
                row_id = edits[lot].insert(t.find_record, values)
            elif kept != before:
                edits[lot].update(t.find_record, row_id, fields=kept)
            present[number] = (row_id, kept)
            subjects[lot].append(number)
        for lot, edit in edits.items():
            told_of = subjects[lot][0] if len(subjects[lot]) == 1 else f"{len(subjects[lot])} finds"
            edit.log(RECORD_VERBS[0], lots[lot], told_of, is_undoable=True)

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
            row = (
                connection.execute(_query().where(t.find_record.c.number == composed(number))).mappings().one_or_none()
            )
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
        query = select(t.find_record).where(t.find_record.c.number == composed(number), t.find_record.c.is_active)
        return self._work.connection.execute(query).mappings().one_or_none()

    def _active_rows(self) -> dict[str, tuple[int | None, dict[str, str]]]:
        query = select(t.find_record).where(t.find_record.c.is_active)
        rows = self._work.connection.execute(query).mappings()
        return {row["number"]: (row["id"], dict(row["fields"])) for row in rows}


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
