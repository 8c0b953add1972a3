"""The history of a collection, and taking changes back."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import RowMapping, Select, exists, select, update

from motifs.catalogue import gate
from motifs.catalogue import tables as t
from motifs.catalogue.lookup import lot_id_of
from motifs.catalogue.rows import EventRow
from motifs.catalogue.store import Edit
from motifs.catalogue.tags import Tags
from motifs.catalogue.takeover import check_lot
from motifs.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlalchemy import Connection

UNDONE, REDONE = "undone", "redone"
KEPT_BACK = "something that is kept back"


class History(Tags):
    """Every change: who, when, what, from what to what."""

    def history(self, lot: str | None = None, *, limit: int | None = None) -> tuple[EventRow, ...]:
        """Return the lines of the history, newest first.

        Parameters
        ----------
        lot
            Only of this lot; UnknownName if it is not there.
        limit
            At most so many.
        """
        query = _event_query().order_by(t.event.c.id.desc())
        with self._reading() as connection:
            if lot is not None:
                query = query.where(t.event.c.lot_id == lot_id_of(connection, lot))
            if limit is not None:
                query = query.limit(limit)
            return self._told(connection, [_event_row(row) for row in connection.execute(query).mappings()])

    def _told(self, connection: Connection, events: Sequence[EventRow]) -> tuple[EventRow, ...]:
        """Lines of the history as they may be read: what names something that is kept back says only that."""
        if self._sees_all or not gate.is_restricting(connection):
            return tuple(events)
        names = {
            *connection.scalars(select(t.sherd.c.number).where(t.sherd.c.id.in_(gate.hidden_sherds(connection)))),
            *connection.scalars(select(t.lot.c.name).where(t.lot.c.id.in_(gate.hidden_lots()))),
            *connection.scalars(select(t.site.c.name).where(t.site.c.id.in_(gate.hidden_sites()))),
        }
        terms = gate.hidden_terms(connection)

        def is_kept_back(event: EventRow) -> bool:
            folded = event.subject.casefold()
            is_named = any(name in event.subject for name in names) or any(term in folded for term in terms)
            return is_named or event.lot in names

        return tuple(
            replace(event, subject=KEPT_BACK, lot=None, before=None, after=None) if is_kept_back(event) else event
            for event in events
        )

    def undo(self, lot: str) -> tuple[EventRow, ...]:
        """Take back the lot's latest change that can be and has not been; the history keeps both.

        A change is all that one transaction did. Bringing photographs in is not taken back (drop sherds
        instead).

        Returns
        -------
        tuple of EventRow
            What was taken back, newest first.

        Raises
        ------
        UnknownName
            No such lot.
        InputError
            Nothing to take back, or what it changed has been changed again from another lot.
        LinksContradict
            What comes back cannot hold with what was told since.
        """
        connection = self._work.connection
        lot_id = lot_id_of(connection, lot)
        change = connection.scalar(_latest_undoable(lot_id))
        if change is None:
            raise InputError(f"nothing to undo in lot '{lot}'; its history shows what was done")
        lines = connection.execute(
            _event_query().where(t.event.c.change == change, t.event.c.is_undoable).order_by(t.event.c.id.desc())
        ).mappings()
        events = [_event_row(row) for row in lines]
        with connection.begin_nested():
            self._take_back(lot_id, events)
        return self._told(connection, events)

    def redo(self, lot: str) -> tuple[EventRow, ...]:
        """Do again what was taken back last, as long as nothing new was done in the lot since; the history keeps all.

        Returns
        -------
        tuple of EventRow
            The line of the undoing that was reverted.

        Raises
        ------
        UnknownName
            No such lot.
        InputError
            Nothing to do again, or what it changed has been changed again from another lot.
        LinksContradict
            What comes back cannot hold with what was told since.
        """
        connection = self._work.connection
        lot_id = lot_id_of(connection, lot)
        undoing = self._latest_undoing(lot_id)
        if undoing is None:
            raise InputError(f"nothing to do again in lot '{lot}'; only what was taken back last can be")
        with connection.begin_nested():
            edit = Edit(self._work)
            _revert(connection, edit, undoing)
            check_lot(connection, lot_id)
            redone = edit.log(REDONE, lot_id, undoing.subject, is_undoable=True)
            statement = update(t.event).where(t.event.c.id == undoing.event_id).values(undone_by=redone)
            connection.execute(statement)
        return self._told(connection, [undoing])

    def next_undo(self, lot: str) -> tuple[EventRow, ...]:
        """Return what `undo` would take back, newest first; empty for nothing. UnknownName for the lot."""
        with self._reading() as connection:
            change = connection.scalar(_latest_undoable(lot_id_of(connection, lot)))
            if change is None:
                return ()
            query = _event_query().where(t.event.c.change == change, t.event.c.is_undoable)
            rows = connection.execute(query.order_by(t.event.c.id.desc())).mappings()
            return self._told(connection, [_event_row(row) for row in rows])

    def next_redo(self, lot: str) -> str | None:
        """Return in words what `redo` would do again, or None for nothing. UnknownName for the lot."""
        with self._reading() as connection:
            undoing = self._latest_undoing(lot_id_of(connection, lot))
            return None if undoing is None else self._told(connection, [undoing])[0].subject

    def _latest_undoing(self, lot_id: int) -> EventRow | None:
        """Return the newest undoing that was not reverted, if nothing but redoing came after it."""
        of_lot = t.event.c.lot_id == lot_id
        query = _event_query().where(of_lot, t.event.c.verb == UNDONE, t.event.c.undone_by.is_(None))
        with self._reading() as connection:
            row = connection.execute(query.order_by(t.event.c.id.desc()).limit(1)).mappings().one_or_none()
            if row is None:
                return None
            newer = select(t.event.c.id).where(
                of_lot, t.event.c.id > row["id"], t.event.c.is_undoable, t.event.c.verb != REDONE
            )
            return None if connection.scalar(newer.limit(1)) is not None else _event_row(row)

    def _take_back(self, lot_id: int, events: list[EventRow]) -> None:
        connection = self._work.connection
        edit = Edit(self._work)
        for event in events:
            _revert(connection, edit, event)
        check_lot(connection, lot_id)
        undoing = edit.log(UNDONE, lot_id, "; ".join(_in_words(event) for event in events), is_undoable=False)
        taken_back = [event.event_id for event in events]
        connection.execute(update(t.event).where(t.event.c.id.in_(taken_back)).values(undone_by=undoing))


def _in_words(event: EventRow) -> str:
    """What was done; a line of redoing tells that in its subject already."""
    return event.subject if event.verb == REDONE else f"{event.verb} {event.subject}"


def _latest_undoable(lot_id: int) -> Select[Any]:
    """Select the change to undo: the newest with an undoable line that did not bring in a photograph."""
    same = t.event.alias("same")
    intake = exists().where(same.c.change == t.event.c.change, same.c.verb == "photo added")
    return (
        select(t.event.c.change)
        .where(t.event.c.lot_id == lot_id, t.event.c.is_undoable, t.event.c.undone_by.is_(None), ~intake)
        .order_by(t.event.c.change.desc())
        .limit(1)
    )


def _revert(connection: Connection, edit: Edit, event: EventRow) -> None:
    """Set the rows back, last change first; refuse where they are no longer as the event left them."""
    pairs = zip(cast("list[Any]", event.before), cast("list[Any]", event.after), strict=True)
    for before, after in reversed(list(pairs)):
        columns = before["row"]
        if not columns:
            continue
        table = t.metadata.tables[before["table"]]
        query = select(*(table.c[name] for name in columns)).where(table.c.id == before["id"])
        current = connection.execute(query).one()._mapping
        if any(name in after["row"] and current[name] != after["row"][name] for name in columns):
            raise InputError(
                f"'{event.verb} {event.subject}' cannot be undone: it was changed again since, from another lot; "
                "undo that first"
            )
        edit.update(table, before["id"], **columns)


def _event_query() -> Select[Any]:
    return select(t.event, t.lot.c.name.label("lot")).select_from(t.event.outerjoin(t.lot))


def _event_row(row: RowMapping) -> EventRow:
    return EventRow(
        event_id=row["id"],
        change=row["change"],
        at=row["made_at"],
        by=row["made_by"],
        verb=row["verb"],
        lot=row["lot"],
        subject=row["subject"],
        before=row["before"],
        after=row["after"],
        is_undoable=row["is_undoable"],
        is_undone=row["undone_by"] is not None,
    )
