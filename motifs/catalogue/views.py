"""Further views of a sherd: interior, section, rim from above, other sides. The face itself is the sherd's own outline.

A view is a row of its own, never a sherd: what measures, encodes or sorts sherds cannot meet one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from sqlalchemy import ColumnElement, Connection, RowMapping, Select, and_, or_, select

from motifs.catalogue import tables as t
from motifs.catalogue.content import outline_list
from motifs.catalogue.lookup import find_kept_sherd, lot_id_of
from motifs.catalogue.photos import find_photo
from motifs.catalogue.store import Edit, Store
from motifs.errors import InputError, UnknownName

if TYPE_CHECKING:
    from numpy.typing import NDArray

VIEW_KINDS = ("exterior", "interior", "section", "rim", "other")
"""What a view can show; "rim" is the rim seen along the axis of the vessel."""

PAIRED, LOOK, CONFIRMED, LOOSE, DROPPED = "paired", "look", "confirmed", "loose", "dropped"
VIEW_VERBS = ("view added", "view paired", "view dropped")
"""Lines of the history that change nothing a sorting rests on."""


@dataclass(frozen=True, slots=True)
class ViewRow:
    """One view.

    outline_px: (N, 2) float32 on its own photograph. sherd: catalogue number, None where it is loose. distance_mm: how far
    its turned-over outline lies from the sherd's (root mean square); margin: that distance over the next best one's;
    turn_deg: clockwise turn of the mirrored view that lays it on the face. standing: "paired" by the program, "look" (a
    person should look), "confirmed" by a person, "loose".
    """

    view_id: int
    photo_id: int
    photo_name: str
    lot: str
    sherd: str | None
    kind: str
    outline_px: NDArray[np.float32] = field(compare=False)
    area_mm2: float | None
    max_dimension_mm: float | None
    distance_mm: float | None
    margin: float | None
    turn_deg: float | None
    standing: str
    by: str
    at: str


class Views(Store):
    """The views of a collection."""

    def add_view(
        self,
        photo_id: int,
        outline_px: NDArray[np.float32],
        kind: str,
        *,
        area_mm2: float | None = None,
        max_dimension_mm: float | None = None,
    ) -> ViewRow:
        """Keep a loose view. Undoable.

        Raises
        ------
        UnknownName, InputError
            No such photo; not a kind of view; not a polygon.
        """
        photo = find_photo(self._work.connection, photo_id)
        values = {
            "photo_id": photo["id"],
            "sherd_id": None,
            "kind": check_kind(kind),
            "outline_px": outline_list(outline_px),
            "area_mm2": area_mm2,
            "max_dimension_mm": max_dimension_mm,
            "standing": LOOSE,
        }
        edit = Edit(self._work)
        view_id = edit.insert(t.view, values)
        edit.log("view added", photo["lot_id"], f"{kind} on {photo['file_name']}", is_undoable=True)
        return self.view(view_id)

    def pair_view(
        self,
        view_id: int,
        number: str | None,
        *,
        standing: str = CONFIRMED,
        distance_mm: float | None = None,
        margin: float | None = None,
        turn_deg: float | None = None,
    ) -> ViewRow:
        """Say whose view it is, or (None) that nobody knows. Undoable.

        A sherd shows one side once in a photograph: another view of that photo paired with it becomes loose. The
        program's pairing ("paired", "look") never replaces a person's.

        Raises
        ------
        UnknownName, InputError
            No such view or kept sherd; the sherd is of another lot.
        """
        present, edit = self.view(view_id), Edit(self._work)
        photo = find_photo(self._work.connection, present.photo_id)
        if standing != CONFIRMED and CONFIRMED in self._standings(present, number):
            return present
        sherd_id = None if number is None else self._sherd_of_lot(number, photo)
        if sherd_id is not None:
            for other in self._others(present, sherd_id):
                edit.update(t.view, other, sherd_id=None, standing=LOOSE)
        values: dict[str, Any] = {"sherd_id": sherd_id, "standing": LOOSE if number is None else standing}
        if number is not None and standing != CONFIRMED:
            values |= {"distance_mm": distance_mm, "margin": margin, "turn_deg": turn_deg}
        edit.update(t.view, view_id, **values)
        edit.log("view paired", photo["lot_id"], f"{present.kind} {view_id}: {number or 'nobody'}", is_undoable=True)
        return self.view(view_id)

    def drop_view(self, view_id: int) -> None:
        """Take a view out; it stays in the history. Undoable. UnknownName for the view."""
        present, edit = self.view(view_id), Edit(self._work)
        edit.update(t.view, view_id, standing=DROPPED)
        lot_id = find_photo(self._work.connection, present.photo_id)["lot_id"]
        edit.log("view dropped", lot_id, f"{present.kind} {view_id}", is_undoable=True)

    def view(self, view_id: int) -> ViewRow:
        """Return the view of that id, or raise UnknownName."""
        with self._reading() as connection:
            query = _view_query().where(t.view.c.id == view_id, self._view_shown(connection))
            row = connection.execute(query).mappings().one_or_none()
        if row is None or row["standing"] == DROPPED:
            raise UnknownName(f"no view {view_id}; list the views of the lot to see which there are")
        return _view_row(row)

    def views(self, lot: str | None = None, *, sherd: str | None = None) -> tuple[ViewRow, ...]:
        """Return views in the order they came in: all, of a lot, or of a sherd. UnknownName for either."""
        query = _view_query().where(t.view.c.standing != DROPPED)
        with self._reading() as connection:
            if lot is not None:
                query = query.where(t.photo.c.lot_id == lot_id_of(connection, lot))
            if sherd is not None:
                query = query.where(t.view.c.sherd_id == find_kept_sherd(connection, sherd)["id"])
            query = query.where(self._view_shown(connection))
            return tuple(_view_row(row) for row in connection.execute(query).mappings())

    def _view_shown(self, connection: Connection) -> ColumnElement[bool]:
        is_loose = t.view.c.sherd_id.is_(None)
        return and_(or_(is_loose, self._shown(connection, t.view.c.sherd_id)), self._lot_shown(connection))

    def _sherd_of_lot(self, number: str, photo: RowMapping) -> int:
        sherd = find_kept_sherd(self._work.connection, number)
        if sherd["lot_id"] != photo["lot_id"]:
            raise InputError(
                f"sherd '{number}' is in lot '{sherd['lot']}', the view's photo '{photo['file_name']}' in lot "
                f"'{photo['lot']}'; name a sherd of that lot"
            )
        return int(sherd["id"])

    def _others(self, view: ViewRow, sherd_id: int) -> list[int]:
        here = (t.view.c.photo_id == view.photo_id, t.view.c.sherd_id == sherd_id, t.view.c.id != view.view_id)
        return list(self._work.connection.scalars(select(t.view.c.id).where(*here, t.view.c.standing != DROPPED)))

    def _standings(self, view: ViewRow, number: str | None) -> set[str]:
        """Return how this view and the sherd's other views on the same photo stand."""
        same = [one for one in self.views(view.lot) if one.photo_id == view.photo_id and one.sherd == number]
        return {view.standing, *(one.standing for one in same if number is not None)}


def check_kind(kind: str) -> str:
    """Return the kind of view, or raise InputError."""
    if kind not in VIEW_KINDS:
        raise InputError(f"'{kind}' is no view of a sherd; the views are {', '.join(VIEW_KINDS)}")
    return kind


def _view_query() -> Select[Any]:
    source = t.view.join(t.photo, t.view.c.photo_id == t.photo.c.id).join(t.lot, t.photo.c.lot_id == t.lot.c.id)
    source = source.outerjoin(t.sherd, t.view.c.sherd_id == t.sherd.c.id)
    columns = (t.view, t.photo.c.file_name, t.lot.c.name.label("lot"), t.sherd.c.number, t.sherd.c.state)
    return select(*columns).select_from(source).order_by(t.view.c.id)


def _view_row(row: RowMapping) -> ViewRow:
    # A sherd that was dropped or merged since has no face any more that the view could belong to.
    is_kept = row["state"] == "kept"
    return ViewRow(
        view_id=row["id"],
        photo_id=row["photo_id"],
        photo_name=row["file_name"],
        lot=row["lot"],
        sherd=row["number"] if is_kept else None,
        kind=row["kind"],
        outline_px=np.asarray(row["outline_px"], dtype=np.float32),
        area_mm2=row["area_mm2"],
        max_dimension_mm=row["max_dimension_mm"],
        distance_mm=row["distance_mm"],
        margin=row["margin"],
        turn_deg=row["turn_deg"],
        standing=row["standing"] if is_kept or row["sherd_id"] is None else LOOSE,
        by=row["made_by"],
        at=row["made_at"],
    )
