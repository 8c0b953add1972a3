"""Restrictions: what is not to be shown, why, and who unlocked it for what reason."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Self

from sqlalchemy import Select, func, select

from motifs.catalogue import gate
from motifs.catalogue import tables as t
from motifs.catalogue.lookup import find_sherd, lot_id_of
from motifs.catalogue.names import check_name, check_note, composed, unknown
from motifs.catalogue.store import Edit, Store
from motifs.errors import InputError, UnknownName

if TYPE_CHECKING:
    from sqlalchemy import Connection, RowMapping

GROUNDS = ("burial", "sacred", "community request", "embargo")
"""Why something is not to be shown."""

SUBJECTS = ("site", "lot", "sherd", "motif")
UNLOCKED, RESTRICTED, LIFTED = "restricted things unlocked", "restricted", "restriction lifted"


@dataclass(frozen=True, slots=True)
class RestrictionRow:
    """One restriction. kind: one of SUBJECTS; name: of the site, lot or motif, or the sherd's number; ground: one of GROUNDS."""

    restriction_id: int
    kind: str
    name: str
    ground: str
    note: str
    by: str
    at: str


class Restrictions(Store):
    """What is kept back from every listing, picture, neighbour and export of this collection."""

    def restrict(self, kind: str, name: str, ground: str, *, note: str = "") -> RestrictionRow:
        """Keep a site, lot, sherd or motif from being shown. Not undoable by `undo`: it is lifted with a reason.

        Raises
        ------
        UnknownName, NameRefused
            No such site, lot or sherd; the motif cannot be a term.
        InputError
            Another kind or ground; it is restricted on that ground already.
        """
        if kind not in SUBJECTS or ground not in GROUNDS:
            raise InputError(
                f"'{kind}' on the ground '{ground}' cannot be restricted; restrict {', '.join(SUBJECTS)} "
                f"on one of the grounds {', '.join(GROUNDS)}"
            )
        connection = self._work.connection
        values, lot_id = _subject(connection, kind, name)
        for present in self.restrictions():
            if (present.kind, present.name, present.ground) == (kind, name, ground):
                raise InputError(
                    f"{kind} '{name}' is restricted already ({ground}, by {present.by}); nothing was changed"
                )
        edit = Edit(self._work)
        row = {**values, "ground": ground, "note": check_note(note.strip()), "is_active": True}
        row_id = edit.insert(t.restriction, row)
        edit.log(RESTRICTED, lot_id, f"{kind} {name}: {ground}", is_undoable=False)
        return next(one for one in self.restrictions() if one.restriction_id == row_id)

    def lift_restriction(self, kind: str, name: str, ground: str | None = None, *, reason: str) -> int:
        """Take restrictions back, all or those on one ground, with a reason that goes on record; return how many.

        Raises
        ------
        UnknownName
            It is not restricted (on that ground).
        InputError
            No reason.
        """
        _checked_reason(reason)
        found = [
            one for one in self.restrictions() if (one.kind, one.name) == (kind, name) and ground in (None, one.ground)
        ]
        if not found:
            raise UnknownName(f"{kind} '{name}' is not restricted; list the restrictions to see which there are")
        _, lot_id = _subject(self._work.connection, kind, name)
        edit = Edit(self._work)
        for one in found:
            edit.update(t.restriction, one.restriction_id, is_active=False)
        edit.log(LIFTED, lot_id, f"{kind} {name}: {reason.strip()}", is_undoable=False)
        return len(found)

    def restrictions(self) -> tuple[RestrictionRow, ...]:
        """Return what is restricted now, oldest first."""
        with self._reading() as connection:
            return tuple(_row(row) for row in connection.execute(_query()).mappings())

    def withheld(self, lot: str | None = None) -> int:
        """Return how many kept sherds (of a lot) are not shown; 0 where things are unlocked. UnknownName for the lot."""
        if self._sees_all:
            return 0
        with self._reading() as connection:
            if not gate.is_restricting(connection):
                return 0
            query = select(func.count()).select_from(t.sherd).where(t.sherd.c.state == "kept")
            query = query.where(t.sherd.c.id.in_(gate.hidden_sherds(connection)))
            if lot is not None:
                query = query.where(t.sherd.c.lot_id == lot_id_of(connection, lot))
            return connection.scalar(query) or 0

    def unlock(self, reason: str) -> Self:
        """Return this collection with nothing kept back; inside a transaction, which puts person and reason on record.

        The collection it is called on goes on keeping back. InputError without a reason.
        """
        line = {
            "change": self._work.change,
            "verb": UNLOCKED,
            "lot_id": None,
            "subject": _checked_reason(reason),
            "before": [],
            "after": [],
            "is_undoable": False,
            **self._work.made(),
        }
        self._work.connection.execute(t.event.insert().values(line))
        return self.seeing_all()


def _checked_reason(reason: str) -> str:
    if len(reason.strip()) < 3:
        raise InputError("restricted things are unlocked or freed with a reason that goes on record; write why")
    return check_note(reason.strip(), "reason")


def _subject(connection: Connection, kind: str, name: str) -> tuple[dict[str, Any], int | None]:
    """The columns that say what is restricted, and the lot whose history tells of it."""
    if kind == "site":
        found = connection.scalar(select(t.site.c.id).where(t.site.c.name == composed(name)))
        if found is None:
            raise unknown(
                "site",
                name,
                connection.scalars(
                    select(t.site.c.name).where(t.site.c.id.not_in(gate.hidden_sites())).order_by(t.site.c.id)
                ),
            )
        return {"site_id": found}, None
    if kind == "lot":
        lot_id = lot_id_of(connection, name)
        return {"lot_id": lot_id}, lot_id
    if kind == "sherd":
        sherd = find_sherd(connection, name)
        return {"sherd_id": sherd["id"]}, sherd["lot_id"]
    return {"motif": check_name(name, "motif")}, None


def _query() -> Select[Any]:
    source = (
        t.restriction.outerjoin(t.site, t.restriction.c.site_id == t.site.c.id)
        .outerjoin(t.lot, t.restriction.c.lot_id == t.lot.c.id)
        .outerjoin(t.sherd, t.restriction.c.sherd_id == t.sherd.c.id)
    )
    columns = (t.site.c.name.label("site"), t.lot.c.name.label("lot"), t.sherd.c.number.label("sherd"))
    query = select(t.restriction, *columns).select_from(source).where(t.restriction.c.is_active)
    return query.order_by(t.restriction.c.id)


def _row(row: RowMapping) -> RestrictionRow:
    kind = next(kind for kind in SUBJECTS if row[kind] is not None)
    return RestrictionRow(row["id"], kind, row[kind], row["ground"], row["note"], row["made_by"], row["made_at"])
