"""Photographs: originals kept untouched under their content hash, and what was read off them."""

from __future__ import annotations

import hashlib
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any

from sqlalchemy import RowMapping, Select, select

from motifs.catalogue import gate
from motifs.catalogue import tables as t
from motifs.catalogue.content import content_key, light_field, light_json, scale_columns, scale_of
from motifs.catalogue.files import PHOTOS, original_path, sha256_of
from motifs.catalogue.lookup import lot_id_of
from motifs.catalogue.names import check_note
from motifs.catalogue.provenience import Provenience
from motifs.catalogue.rows import PhotoRow
from motifs.catalogue.store import Edit
from motifs.errors import CollectionDamaged, InputError, PhotoNotFound, PhotoUnreadable, Restricted, UnknownName

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sqlalchemy import Connection

    from motifs.records import LightField, Scale


class Photos(Provenience):
    """The photographs of a collection."""

    def add_photo(
        self,
        lot: str,
        content: bytes | Path,
        *,
        file_name: str,
        width_px: int,
        height_px: int,
        scale: Scale | None = None,
        light: LightField | None = None,
        crumbs: int = 0,
        warnings: Sequence[str] = (),
        sha256: str | None = None,
    ) -> PhotoRow:
        """Keep an original and the record of it.

        Parameters
        ----------
        lot
            Must be there.
        content
            The file's bytes, or its path.
        file_name
            As it was called when it came in.
        width_px, height_px
            Of the oriented photograph.
        scale, light, crumbs, warnings
            As read off the photograph.
        sha256
            Of the bytes that were read, if known.

        Returns
        -------
        PhotoRow
            The new row; or, where the same photo is in the lot already, the row that is there, unchanged
            (ask `photo_by_hash` first, and do not add its sherds again).

        Raises
        ------
        UnknownName
            No such lot.
        InputError
            The same photo is in another lot.
        PhotoNotFound, PhotoUnreadable
            No such file; empty, or changed since it was read.
        """
        original = _bytes_of(content, file_name, sha256)
        digest = hashlib.sha256(original).hexdigest()
        lot_id = lot_id_of(self._work.connection, lot)
        present = self.photo_by_hash(digest)
        if present is not None:
            _refuse_other_lot(present, lot, file_name)
            return present
        stored_as = f"{PHOTOS}/{digest[:2]}/{digest}{_suffix(file_name)}"
        self._keep_original(stored_as, original, digest)
        values = {
            "sha256": digest,
            "stored_as": stored_as,
            "size_bytes": len(original),
            "file_name": check_note(PurePath(file_name).name, "file name"),
            "lot_id": lot_id,
            "width_px": int(width_px),
            "height_px": int(height_px),
            "light": light_json(light),
            "crumbs": int(crumbs),
            "warnings": list(warnings),
            **scale_columns(scale),
        }
        edit = Edit(self._work)
        photo_id = edit.insert(t.photo, values)
        edit.log("photo added", lot_id, values["file_name"], is_undoable=False)
        return self.photo(photo_id)

    def photo(self, photo_id: int) -> PhotoRow:
        """Return the photo of that id; UnknownName for none, Restricted where its lot is kept back."""
        with self._reading() as connection:
            found = find_photo(connection, photo_id)
            shown = select(t.lot.c.id).where(t.lot.c.id == found["lot_id"], self._lot_shown(connection))
            if connection.scalar(shown) is None:
                site_id = connection.scalar(select(t.lot.c.site_id).where(t.lot.c.id == found["lot_id"]))
                raise gate.refusal(
                    connection, "photo", found["file_name"], {"lot_id": found["lot_id"], "site_id": site_id}
                )
            return _photo_row(found)

    def photo_by_hash(self, sha256: str) -> PhotoRow | None:
        """Return the photo with these bytes (64 hex digits), if the collection has it."""
        with self._reading() as connection:
            query = _photo_query().where(t.photo.c.sha256 == sha256.lower())
            found = connection.execute(query).mappings().one_or_none()
        return None if found is None else _photo_row(found)

    def photos(self, lot: str | None = None) -> tuple[PhotoRow, ...]:
        """Return all photos, or those of a lot, in the order they came in; UnknownName for the lot."""
        query = _photo_query()
        with self._reading() as connection:
            if lot is not None:
                query = query.where(t.photo.c.lot_id == lot_id_of(connection, lot))
            query = query.where(self._lot_shown(connection))
            return tuple(_photo_row(row) for row in connection.execute(query).mappings())

    def photo_file(self, photo: PhotoRow) -> Path:
        """Return the path of the original.

        Raises
        ------
        CollectionDamaged
            It is not there.
        """
        with self._reading() as connection:
            stored_as: str = find_photo(connection, photo.photo_id)["stored_as"]
        path = original_path(self.folder, stored_as)
        if not path.is_file():
            raise CollectionDamaged(
                f"the original of photo '{photo.file_name}' is missing ({path}); restore it from a backup"
            )
        return path

    def set_scale(
        self, photo_id: int, scale: Scale | None, measures: Mapping[str, tuple[float | None, float | None]]
    ) -> PhotoRow:
        """Change the scale of a photo, and with it the size of its sherds. Undoable.

        Parameters
        ----------
        photo_id
            Of the photo.
        scale
            The new one; None: there is none.
        measures
            (area_mm2, max_dimension_mm) under the new scale, of every kept sherd of the photo.

        Raises
        ------
        UnknownName
            No such photo.
        InputError
            The scale is not above zero, or `measures` names other sherds than those of the photo.
        """
        photo = find_photo(self._work.connection, photo_id)
        kept = (
            select(t.sherd.c.id, t.sherd.c.number, t.sherd.c.outline_px)
            .where(t.sherd.c.photo_id == photo_id, t.sherd.c.state == "kept")
            .order_by(t.sherd.c.id)
        )
        sherds = self._work.connection.execute(kept).all()
        self._refuse_with_hidden(photo)
        if {sherd.number for sherd in sherds} != set(measures):
            raise InputError(
                f"photo '{photo['file_name']}' has other sherds than the sizes that were given; look at it again"
            )
        columns = scale_columns(scale)
        edit = Edit(self._work)
        edit.update(t.photo, photo_id, **columns)
        for sherd in sherds:
            area, longest = measures[sherd.number]
            key = content_key({**photo, **columns}, sherd.outline_px)
            edit.update(t.sherd, sherd.id, area_mm2=area, max_dimension_mm=longest, content_key=key)
        edit.log("scale set", photo["lot_id"], photo["file_name"], is_undoable=True)
        return self.photo(photo_id)

    def move_photo(self, photo_id: int, lot: str) -> PhotoRow:
        """Give a photo and its sherds to another lot. Undoable, in the lot it came to.

        Catalogue numbers stay: they may be written on the sherds by now. Links to sherds that stay behind
        are withdrawn.

        Raises
        ------
        UnknownName
            No such photo or lot.
        """
        connection = self._work.connection
        photo, lot_id = find_photo(connection, photo_id), lot_id_of(connection, lot)
        self._refuse_with_hidden(photo)
        sherd_ids = set(connection.scalars(select(t.sherd.c.id).where(t.sherd.c.photo_id == photo_id)))
        edit = Edit(self._work)
        edit.update(t.photo, photo_id, lot_id=lot_id)
        for sherd_id in sorted(sherd_ids):
            edit.update(t.sherd, sherd_id, lot_id=lot_id)
        links = select(t.link).where(t.link.c.lot_id == photo["lot_id"], t.link.c.is_active)
        for link in connection.execute(links).all():
            ends = {link.a_id, link.b_id}
            if ends <= sherd_ids:
                edit.update(t.link, link.id, lot_id=lot_id)
            elif ends & sherd_ids:
                edit.update(t.link, link.id, is_active=False)
        moved = edit.log("photo moved", lot_id, photo["file_name"], is_undoable=True)
        if moved:
            self._note_departure(photo, lot)
        return self.photo(photo_id)

    def covered_outlines(self, photo_id: int) -> tuple[list[list[float]], ...]:
        """Return what has to be covered before a photograph is shown: outlines in px of sherds and views that are kept back."""
        if self._sees_all:
            return ()
        with self._reading() as connection:
            if not gate.is_restricting(connection):
                return ()
            hidden = gate.hidden_sherds(connection)
            faces = select(t.sherd.c.outline_px).where(t.sherd.c.photo_id == photo_id, t.sherd.c.id.in_(hidden))
            views = select(t.view.c.outline_px).where(t.view.c.photo_id == photo_id, t.view.c.sherd_id.in_(hidden))
            return (*connection.scalars(faces), *connection.scalars(views))

    def _refuse_with_hidden(self, photo: RowMapping) -> None:
        if self.covered_outlines(photo["id"]):
            raise Restricted(
                f"photo '{photo['file_name']}' shows restricted sherds, which would change with it; "
                "unlock them with a reason first (--unlock 'REASON')"
            )

    def _note_departure(self, photo: RowMapping, lot: str) -> None:
        """Let the history of the lot it left tell where the photo went."""
        edit = Edit(self._work)
        edit.mention(t.photo, photo["id"], {"lot": photo["lot"]}, {"lot": lot})
        edit.log("photo moved away", photo["lot_id"], photo["file_name"], is_undoable=False)

    def _keep_original(self, stored_as: str, original: bytes, digest: str) -> None:
        path = self.folder / stored_as
        # Write-once: a file of this hash that is whole is never written again.
        if not (path.is_file() and sha256_of(path) == digest):
            self._work.journal.write(path, original, is_lasting=True)


def find_photo(connection: Connection, photo_id: int) -> RowMapping:
    """Return a photo's row with the name of its lot, or raise UnknownName."""
    found = connection.execute(_photo_query().where(t.photo.c.id == photo_id)).mappings().one_or_none()
    if found is None:
        raise UnknownName(f"no photo {photo_id} in this collection; list the photos of the lot to see which there are")
    return found


def _photo_query() -> Select[Any]:
    return select(t.photo, t.lot.c.name.label("lot")).select_from(t.photo.join(t.lot)).order_by(t.photo.c.id)


def _photo_row(row: RowMapping) -> PhotoRow:
    return PhotoRow(
        photo_id=row["id"],
        sha256=row["sha256"],
        file_name=row["file_name"],
        lot=row["lot"],
        width_px=row["width_px"],
        height_px=row["height_px"],
        scale=scale_of(row),
        light=light_field(row["light"]),
        crumbs=row["crumbs"],
        warnings=tuple(row["warnings"]),
        added_at=row["made_at"],
    )


def _bytes_of(content: bytes | Path, file_name: str, sha256: str | None) -> bytes:
    try:
        original = content if isinstance(content, bytes) else content.read_bytes()
    except FileNotFoundError as error:
        raise PhotoNotFound(f"no photo '{file_name}'; look at the name and the folder") from error
    except OSError as error:
        raise PhotoUnreadable(f"photo '{file_name}' cannot be read ({error.strerror}); copy it again") from error
    if not original:
        raise PhotoUnreadable(f"photo '{file_name}' is empty (0 bytes); copy it again from the camera")
    if sha256 is not None and hashlib.sha256(original).hexdigest() != sha256.lower():
        raise PhotoUnreadable(f"photo '{file_name}' changed while it was being read; bring it in again")
    return original


def _suffix(file_name: str) -> str:
    """Return the file's own ending where it is a plain one, so that the original opens with a double click."""
    suffix = PurePath(file_name).suffix.lower()
    return suffix if suffix[1:].isascii() and suffix[1:].isalnum() and len(suffix) <= 6 else ""


def _refuse_other_lot(present: PhotoRow, lot: str, file_name: str) -> None:
    if present.lot != lot:
        raise InputError(
            f"photo '{file_name}' is in lot '{present.lot}' already (as '{present.file_name}'), not in '{lot}'; "
            "move it there, or leave it out"
        )
