"""Sherds: numbered once, corrected freely, never deleted."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from motifs.catalogue import gate
from motifs.catalogue import tables as t
from motifs.catalogue.content import content_key, outline_list
from motifs.catalogue.lookup import find_kept_sherd, find_sherd, lot_id_of, sherd_query, sherd_row
from motifs.catalogue.names import check_note
from motifs.catalogue.photos import Photos, find_photo
from motifs.catalogue.store import Edit
from motifs.catalogue.takeover import take_over
from motifs.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray
    from sqlalchemy import Connection, RowMapping

    from motifs.catalogue.rows import SherdRow


RIM_UP_SET, OUTLINE_ACCEPTED = "rim up set", "outline accepted"


@dataclass(frozen=True, slots=True)
class SherdPiece:
    """One piece of an outline that is split. outline_px: (N, 2) polygon; sizes None where there is no scale."""

    outline_px: NDArray[np.float32]
    area_mm2: float | None = None
    max_dimension_mm: float | None = None

    def sizes(self) -> dict[str, float | None]:
        """Return the sizes as columns of a sherd's row."""
        return {"area_mm2": self.area_mm2, "max_dimension_mm": self.max_dimension_mm}


class Sherds(Photos):
    """The sherds of a collection."""

    def add_sherd(
        self,
        photo_id: int,
        outline_px: NDArray[np.float32],
        *,
        area_mm2: float | None = None,
        max_dimension_mm: float | None = None,
        look: str | None = None,
        is_by_hand: bool = False,
    ) -> SherdRow:
        """Catalogue a sherd of the photo's lot under the lot's next number. Undoable (it is dropped then).

        Parameters
        ----------
        photo_id
            Photograph it is on.
        outline_px
            (N, 2) closed polygon, N >= 3, on the oriented photograph; kept to 0.01 px.
        area_mm2, max_dimension_mm
            None where the photograph has no scale.
        look
            Why an analyst should look at this outline.
        is_by_hand
            The person of this transaction drew it; otherwise the program found it.

        Returns
        -------
        SherdRow
            Numbered ``<lot>-<NNN>``, unique in the collection and never given again.

        Raises
        ------
        UnknownName, InputError
            No such photo; not a polygon.
        """
        photo = find_photo(self._work.connection, photo_id)
        sizes = {"area_mm2": area_mm2, "max_dimension_mm": max_dimension_mm, "look": look}
        edit = Edit(self._work)
        drawn_by = self._work.by if is_by_hand else None
        number = self._insert_sherd(edit, photo, outline_list(outline_px), {**sizes, "outline_by": drawn_by})
        edit.log("sherd added", photo["lot_id"], number, is_undoable=True)
        return self.sherd(number)

    def sherd(self, number: str) -> SherdRow:
        """Return the sherd of that number, also a dropped or merged one (see its state).

        UnknownName for none, Restricted where it is kept back.
        """
        with self._reading() as connection:
            found = find_sherd(connection, number)
            self._refuse_hidden(connection, found)
            return sherd_row(found)

    def sherds(
        self, lot: str | None = None, *, photo_id: int | None = None, with_dropped: bool = False
    ) -> tuple[SherdRow, ...]:
        """Return sherds in catalogue order: the lot's order everywhere.

        Parameters
        ----------
        lot, photo_id
            Only of this lot, of this photo.
        with_dropped
            Also those dropped or merged.

        Raises
        ------
        UnknownName
            No such lot or photo.
        """
        query = sherd_query()
        with self._reading() as connection:
            if lot is not None:
                query = query.where(t.sherd.c.lot_id == lot_id_of(connection, lot))
            if photo_id is not None:
                query = query.where(t.sherd.c.photo_id == find_photo(connection, photo_id)["id"])
            if not with_dropped:
                query = query.where(t.sherd.c.state == "kept")
            query = query.where(self._shown(connection))
            return tuple(sherd_row(row) for row in connection.execute(query).mappings())

    def replace_outline(
        self,
        number: str,
        outline_px: NDArray[np.float32],
        *,
        area_mm2: float | None = None,
        max_dimension_mm: float | None = None,
        look: str | None = None,
    ) -> SherdRow:
        """Redraw a sherd (parameters as for `add_sherd`): the outline is this person's from now on. Undoable.

        Raises
        ------
        UnknownName, InputError
            No such kept sherd; not a polygon.
        """
        sherd = find_kept_sherd(self._work.connection, number)
        outline = outline_list(outline_px)
        edit = Edit(self._work)
        edit.update(
            t.sherd,
            sherd["id"],
            outline_px=outline,
            area_mm2=area_mm2,
            max_dimension_mm=max_dimension_mm,
            look=_checked(look),
            content_key=content_key(find_photo(self._work.connection, sherd["photo_id"]), outline),
            outline_by=self._work.by,
        )
        edit.log("outline replaced", sherd["lot_id"], number, is_undoable=True)
        return self.sherd(number)

    def drop_sherd(self, number: str) -> None:
        """Take out what is no sherd after all; it stays in the history, its number used up. Undoable.

        Raises
        ------
        UnknownName
            No such kept sherd.
        """
        sherd = find_kept_sherd(self._work.connection, number)
        edit = Edit(self._work)
        edit.update(t.sherd, sherd["id"], state="dropped")
        edit.log("sherd dropped", sherd["lot_id"], number, is_undoable=True)

    def merge_sherds(
        self,
        numbers: Sequence[str],
        outline_px: NDArray[np.float32],
        *,
        area_mm2: float | None = None,
        max_dimension_mm: float | None = None,
        look: str | None = None,
    ) -> SherdRow:
        """Make one sherd of two or more outlines of one photo. Undoable.

        Parameters
        ----------
        numbers
            Of the parts, which are kept in the history as merged.
        outline_px, area_mm2, max_dimension_mm, look
            Of the whole, as for `add_sherd`.

        Returns
        -------
        SherdRow
            A new sherd with a new number. It takes over the parts' links and tags (without their boxes), and
            their attribution where those that have one agree.

        Raises
        ------
        UnknownName
            No such kept sherd.
        InputError
            Fewer than two sherds, or of different photos, or not a polygon.
        LinksContradict
            The parts were told different, or their links cannot hold together.
        """
        connection = self._work.connection
        parts = [find_kept_sherd(connection, number) for number in dict.fromkeys(numbers)]
        if len(parts) < 2:
            raise InputError(f"merging takes two sherds or more, not {len(parts)}; name the others too")
        if len({part["photo_id"] for part in parts}) > 1:
            shown = ", ".join(f"'{part['number']}'" for part in parts)
            raise InputError(f"sherds {shown} are not on one photo; only outlines of one photo can be merged")
        photo = find_photo(connection, parts[0]["photo_id"])
        sizes = {"area_mm2": area_mm2, "max_dimension_mm": max_dimension_mm, "look": look}
        sizes |= {"outline_by": self._work.by, "rim_up_deg": _one_angle(parts)}
        outline = outline_list(outline_px)
        # A savepoint: links that contradict are found half-way, and nothing of the merging may stay.
        with connection.begin_nested():
            edit = Edit(self._work)
            number = self._insert_sherd(edit, photo, outline, sizes)
            whole = find_sherd(connection, number)
            for part in parts:
                edit.update(t.sherd, part["id"], state="merged", merged_into_id=whole["id"])
            take_over(connection, edit, parts, whole)
            edit.log("sherds merged", photo["lot_id"], number, is_undoable=True)
        return self.sherd(number)

    def split_sherd(self, number: str, pieces: Sequence[SherdPiece]) -> tuple[SherdRow, ...]:
        """Make several sherds of one outline. Undoable as one step.

        Parameters
        ----------
        number
            Of the sherd.
        pieces
            Two or more. The first keeps the number, and with it tags, links, attribution and the rim-up angle; the others
            get the lot's next numbers and start afresh, since nobody knows of which piece the rest was said.

        Returns
        -------
        tuple of SherdRow
            In the order of the pieces.

        Raises
        ------
        UnknownName, InputError
            No such kept sherd; fewer than two pieces, or not polygons.
        """
        if len(pieces) < 2:
            raise InputError(f"splitting '{number}' takes two pieces or more, not {len(pieces)}; draw the stroke again")
        connection = self._work.connection
        sherd = find_kept_sherd(connection, number)
        photo = find_photo(connection, sherd["photo_id"])
        first, *others = [(outline_list(piece.outline_px), piece) for piece in pieces]
        edit = Edit(self._work)
        edit.update(
            t.sherd,
            sherd["id"],
            outline_px=first[0],
            content_key=content_key(photo, first[0]),
            look=None,
            outline_by=self._work.by,
            **first[1].sizes(),
        )
        numbers = [number]
        for outline, piece in others:
            sizes = {**piece.sizes(), "look": None, "outline_by": self._work.by}
            numbers.append(self._insert_sherd(edit, photo, outline, sizes))
        edit.log("sherd split", sherd["lot_id"], number, is_undoable=True)
        return tuple(self.sherd(each) for each in numbers)

    def set_rim_up(self, number: str, rim_up_deg: float | None) -> SherdRow:
        """Say how the sherd stands. Undoable.

        Parameters
        ----------
        number
            Of the sherd.
        rim_up_deg
            How far the photograph has to be turned clockwise for the rim to be up, any finite angle; kept to 0.1 degree, 0
            to below 360. None: not known.

        Raises
        ------
        UnknownName, InputError
            No such kept sherd; the angle is not finite.
        """
        sherd = find_kept_sherd(self._work.connection, number)
        if rim_up_deg is not None and not math.isfinite(rim_up_deg):
            raise InputError(f"{rim_up_deg} is no angle for sherd '{number}'; give degrees, clockwise")
        kept = None if rim_up_deg is None else round(rim_up_deg % 360.0, 1) % 360.0
        edit = Edit(self._work)
        edit.update(t.sherd, sherd["id"], rim_up_deg=kept)
        edit.log(RIM_UP_SET, sherd["lot_id"], number, is_undoable=True)
        return self.sherd(number)

    def accept_outline(self, number: str) -> SherdRow:
        """Record that a person has looked at the outline and lets it stand: nothing asks for a look any more. Undoable.

        Raises
        ------
        UnknownName
            No such kept sherd.
        """
        sherd = find_kept_sherd(self._work.connection, number)
        edit = Edit(self._work)
        edit.update(t.sherd, sherd["id"], look=None)
        edit.log(OUTLINE_ACCEPTED, sherd["lot_id"], number, is_undoable=True)
        return self.sherd(number)

    def _refuse_hidden(self, connection: Connection, sherd: RowMapping) -> None:
        # Asked of one sherd at a time, thousands of times: never by a list of all that are kept back.
        if not self._sees_all and gate.is_sherd_hidden(connection, sherd["id"]):
            lot = connection.execute(select(t.lot).where(t.lot.c.id == sherd["lot_id"])).mappings().one()
            ids = {"sherd_id": sherd["id"], "lot_id": lot["id"], "site_id": lot["site_id"]}
            raise gate.refusal(connection, "sherd", sherd["number"], ids)

    def _insert_sherd(self, edit: Edit, photo: RowMapping, outline: list[list[float]], sizes: dict[str, Any]) -> str:
        number = self._next_number(photo)
        values = {
            "number": number,
            "lot_id": photo["lot_id"],
            "photo_id": photo["id"],
            "outline_px": outline,
            "state": "kept",
            "merged_into_id": None,
            "content_key": content_key(photo, outline),
            **sizes,
            "look": _checked(sizes["look"]),
        }
        edit.insert(t.sherd, values)
        return number

    def _next_number(self, photo: RowMapping) -> str:
        """Take the lot's next number; the counter only ever grows, and numbers that people gave are passed over."""
        connection = self._work.connection
        last = connection.scalars(select(t.lot.c.last_number).where(t.lot.c.id == photo["lot_id"])).one()
        number = ""
        while not number or connection.scalar(select(t.sherd.c.id).where(t.sherd.c.number == number)) is not None:
            last += 1
            number = f"{photo['lot']}-{last:03d}"
        connection.execute(t.lot.update().where(t.lot.c.id == photo["lot_id"]).values(last_number=last))
        return number


def _one_angle(parts: Sequence[RowMapping]) -> float | None:
    """Return the rim-up angle that the parts agree on; one that was said stands for those where nobody said."""
    said = {part["rim_up_deg"] for part in parts} - {None}
    return said.pop() if len(said) == 1 else None


def _checked(look: str | None) -> str | None:
    return None if look is None else check_note(look, "reason to look")
