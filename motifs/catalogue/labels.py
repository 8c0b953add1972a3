"""Numbers read beside a sherd or on it: proposals, until a person settles them; and giving a sherd its own number."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import RowMapping, Select, select

from motifs.catalogue import tables as t
from motifs.catalogue.lookup import find_kept_sherd, lot_id_of
from motifs.catalogue.names import check_name
from motifs.catalogue.photos import find_photo
from motifs.catalogue.store import Edit, Store
from motifs.errors import InputError, NameRefused, UnknownName

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

PROPOSED, ACCEPTED, REFUSED, DROPPED = "proposed", "accepted", "refused", "dropped"
SLIP, INKED = "slip", "inked"
LABEL_VERBS = tuple(f"label {state}" for state in (PROPOSED, ACCEPTED, REFUSED))
"""Lines of the history that change nothing a sorting rests on."""


@dataclass(frozen=True, slots=True)
class LabelRow:
    """A number that was read.

    place: "slip" beside the sherd or "inked" on it. rival: the same label read upside down, where that makes sense as
    well. box_px: four corners (x, y) on the photo. state: "proposed", "accepted", "refused".
    """

    label_id: int
    sherd: str
    lot: str
    photo_id: int
    text: str
    confidence: float
    place: str
    rival: str | None
    box_px: tuple[tuple[float, float], ...]
    state: str
    by: str
    at: str


class Labels(Store):
    """What was read, and the numbers sherds go by."""

    def propose_label(
        self,
        number: str,
        photo_id: int,
        text: str,
        *,
        confidence: float,
        place: str,
        box_px: Sequence[tuple[float, float]],
        rival: str | None = None,
    ) -> LabelRow | None:
        """Keep a number read for a sherd as a proposal, in place of an earlier proposal.

        Returns
        -------
        LabelRow or None
            None where a person has accepted or refused this very text for the sherd: that is not asked again.

        Raises
        ------
        UnknownName, NameRefused
            No such kept sherd or photo; the text cannot be a number.
        """
        connection = self._work.connection
        sherd, photo = find_kept_sherd(connection, number), find_photo(connection, photo_id)
        text = check_number(text)
        edit = Edit(self._work)
        for row in connection.execute(_label_query().where(t.label.c.sherd_id == sherd["id"])).mappings().all():
            if row["state"] in {ACCEPTED, REFUSED} and row["text"] == text:
                return None
            if row["state"] == PROPOSED:
                edit.update(t.label, row["id"], state=DROPPED)
        values = {"sherd_id": sherd["id"], "photo_id": photo["id"], "text": text, "confidence": float(confidence)}
        corners = [[float(x), float(y)] for x, y in box_px]
        values |= {"place": place, "rival": rival, "box_px": corners, "state": PROPOSED}
        label_id = edit.insert(t.label, values)
        edit.log("label proposed", sherd["lot_id"], f"{number}: {text}", is_undoable=False)
        return self.label(label_id)

    def settle_label(self, label_id: int, state: str) -> LabelRow:
        """Record a person's yes ("accepted") or no ("refused"); the number itself is given by `renumber`. Undoable.

        Raises
        ------
        UnknownName
            No such label.
        """
        present, edit = self.label(label_id), Edit(self._work)
        edit.update(t.label, label_id, state=state)
        lot_id = find_kept_sherd(self._work.connection, present.sherd)["lot_id"]
        edit.log(f"label {state}", lot_id, f"{present.sherd}: {present.text}", is_undoable=True)
        return self.label(label_id)

    def label(self, label_id: int) -> LabelRow:
        """Return the label of that id, or raise UnknownName."""
        with self._reading() as connection:
            row = connection.execute(_label_query().where(t.label.c.id == label_id)).mappings().one_or_none()
        if row is None:
            raise UnknownName(f"no label {label_id}; list the labels of the lot to see which there are")
        return _label_row(row)

    def labels(self, lot: str | None = None, *, state: str | None = None) -> tuple[LabelRow, ...]:
        """Return labels of kept sherds in catalogue order, without those replaced; UnknownName for the lot."""
        query = _label_query().where(t.label.c.state != DROPPED, t.sherd.c.state == "kept")
        with self._reading() as connection:
            if lot is not None:
                query = query.where(t.sherd.c.lot_id == lot_id_of(connection, lot))
            if state is not None:
                query = query.where(t.label.c.state == state)
            query = query.where(self._shown(connection))
            return tuple(_label_row(row) for row in connection.execute(query).mappings())

    def renumber(self, numbers: Mapping[str, str]) -> None:
        """Give sherds the numbers that a person confirmed, all in one step (two may change places). Undoable.

        Parameters
        ----------
        numbers
            New catalogue number by present one. Text, kept as typed.

        Raises
        ------
        UnknownName, NameRefused
            No such kept sherd; the text cannot be a number.
        InputError
            A number is given twice, or is another sherd's.
        """
        connection = self._work.connection
        sherds = {old: find_kept_sherd(connection, old) for old in numbers}
        wanted = {old: check_number(new) for old, new in numbers.items() if old != new}
        self._refuse_taken(wanted)
        edits = {sherds[old]["lot_id"]: Edit(self._work) for old in wanted}
        # Out of the way first: a number may be waiting for one that changes as well.
        for old in wanted:
            edits[sherds[old]["lot_id"]].update(t.sherd, sherds[old]["id"], number=f"\u2026{sherds[old]['id']}")
        for old, new in wanted.items():
            edits[sherds[old]["lot_id"]].update(t.sherd, sherds[old]["id"], number=new)
        self._renumber_records(edits, sherds, wanted)
        for lot_id, edit in edits.items():
            told = (f"{old} is {new}" for old, new in wanted.items() if sherds[old]["lot_id"] == lot_id)
            edit.log("numbered", lot_id, ", ".join(told), is_undoable=True)

    def _renumber_records(
        self, edits: Mapping[int, Edit], sherds: Mapping[str, RowMapping], wanted: Mapping[str, str]
    ) -> None:
        """What is written of a sherd follows its number; what was written under the new one before stays where it is."""
        query = select(t.find_record.c.id, t.find_record.c.number).where(t.find_record.c.is_active)
        rows = {row.number: row.id for row in self._work.connection.execute(query) if row.number in wanted}
        waiting = set(wanted.values()) - set(wanted)
        taken = set(self._work.connection.scalars(select(t.find_record.c.number).where(t.find_record.c.is_active)))
        moving = {old: row_id for old, row_id in rows.items() if wanted[old] not in waiting & taken}
        for old, row_id in moving.items():
            edits[sherds[old]["lot_id"]].update(t.find_record, row_id, number=f"\u2026{row_id}")
        for old, row_id in moving.items():
            edits[sherds[old]["lot_id"]].update(t.find_record, row_id, number=wanted[old])

    def _refuse_taken(self, wanted: Mapping[str, str]) -> None:
        twice = [new for new in wanted.values() if list(wanted.values()).count(new) > 1]
        if twice:
            raise InputError(f"number '{twice[0]}' is given to two sherds; a catalogue number is one sherd's only")
        taken = select(t.sherd.c.number, t.lot.c.name).select_from(t.sherd.join(t.lot))
        for number, lot in self._work.connection.execute(taken.where(t.sherd.c.number.in_(list(wanted.values())))):
            if number not in wanted:
                raise NameRefused(
                    f"number '{number}' is another sherd's already (lot '{lot}'); give that one its own number first"
                )


def check_number(text: str) -> str:
    """Return a catalogue number as typed; unlike other names it may hold a slash (``3/12``), but not begin or end so.

    Raises
    ------
    NameRefused
        It cannot be a number.
    """
    if text.startswith("/") or text.endswith("/"):
        raise NameRefused(f"catalogue number '{text}' begins or ends with a slash; type it without")
    check_name(text.replace("/", "-"), "catalogue number")
    return unicodedata.normalize("NFC", text)


def _label_query() -> Select[Any]:
    source = t.label.join(t.sherd, t.label.c.sherd_id == t.sherd.c.id).join(t.lot, t.sherd.c.lot_id == t.lot.c.id)
    columns = (t.label, t.sherd.c.number, t.lot.c.name.label("lot"))
    return select(*columns).select_from(source).order_by(t.sherd.c.id, t.label.c.id)


def _label_row(row: RowMapping) -> LabelRow:
    corners = cast("list[tuple[float, float]]", row["box_px"])
    return LabelRow(
        label_id=row["id"],
        sherd=row["number"],
        lot=row["lot"],
        photo_id=row["photo_id"],
        text=row["text"],
        confidence=row["confidence"],
        place=row["place"],
        rival=row["rival"],
        box_px=tuple((x, y) for x, y in corners),
        state=row["state"],
        by=row["made_by"],
        at=row["made_at"],
    )
