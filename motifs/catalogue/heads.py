"""Sherds without their outlines, for lists of all of a large collection: an outline is far longer than all else of a sherd."""

from __future__ import annotations

from dataclasses import dataclass
from operator import itemgetter
from typing import TYPE_CHECKING, Any, NamedTuple

from sqlalchemy import Text, cast, select

from motifs.catalogue import tables as t
from motifs.catalogue.content import scale_of
from motifs.catalogue.lookup import lot_id_of
from motifs.catalogue.store import Store

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlalchemy import Connection, Select

    from motifs.records import Scale


class SherdHead(NamedTuple):
    """A kept sherd as a list shows it; the fields are those of SherdRow. A tuple, since there are fifty thousand at a time."""

    number: str
    lot: str
    site: str | None
    photo_id: int
    photo_name: str
    area_mm2: float | None
    max_dimension_mm: float | None
    look: str | None
    content_key: str


class ListedTag(NamedTuple):
    """A tag as a list shows it: what was said, and by whom."""

    term: str
    kind: str
    by: str


@dataclass(frozen=True, slots=True)
class CatalogueList:
    """All that a list of sherds shows, in one consistent state.

    heads: in catalogue order. tags: by number; a sherd without is absent. measured: by number, then by name, the value and its
    uncertainty as JSON texts, as they are kept, for sherds as they are now.
    """

    heads: tuple[SherdHead, ...]
    tags: dict[str, list[ListedTag]]
    measured: dict[str, dict[str, tuple[str, str]]]


class Heads(Store):
    """Lists of sherds."""

    def sherd_heads(self, lot: str | None = None) -> tuple[SherdHead, ...]:
        """Return kept sherds in catalogue order, of all or of one lot; UnknownName for the lot."""
        with self._reading() as connection:
            return tuple(self._heads(connection, lot).values())

    def catalogue_list(self, lot: str | None = None) -> CatalogueList:
        """Return kept sherds with their tags and measurements, of all or of one lot; UnknownName for the lot."""
        with self._reading() as connection:
            heads = self._heads(connection, lot)
            tags = select(t.tag.c.sherd_id, t.tag.c.term, t.tag.c.kind, t.tag.c.made_by).where(t.tag.c.is_active)
            listed: dict[str, list[ListedTag]] = {}
            for sherd_id, term, kind, by in self._of_lot(connection, tags.order_by(t.tag.c.id), t.tag.c.sherd_id, lot):
                if sherd_id in heads:
                    listed.setdefault(heads[sherd_id].number, []).append(ListedTag(term, kind, by))
            return CatalogueList(tuple(heads.values()), listed, self._measured_texts(connection, heads, lot))

    def scales(self) -> dict[int, Scale | None]:
        """Return the scale of every photograph by its id, without reading its light."""
        columns = [column for column in t.photo.c if column.name == "id" or column.name.startswith("scale_")]
        with self._reading() as connection:
            rows = connection.execute(select(*columns)).mappings()
            return {row["id"]: scale_of(row) for row in rows}

    def _heads(self, connection: Connection, lot: str | None) -> dict[int, SherdHead]:
        sherd = t.sherd.c
        columns = (sherd.id, sherd.number, sherd.lot_id, sherd.photo_id, sherd.area_mm2, sherd.max_dimension_mm)
        query = select(*columns, sherd.content_key).where(sherd.state == "kept", self._shown(connection))
        looks = select(sherd.id, sherd.look).where(sherd.look.is_not(None))
        if lot is not None:
            lot_id = lot_id_of(connection, lot)
            query, looks = query.where(sherd.lot_id == lot_id), looks.where(sherd.lot_id == lot_id)
        lots = {row.id: (row.name, row.site) for row in connection.execute(_lots())}
        names = {row.id: row.file_name for row in connection.execute(select(t.photo.c.id, t.photo.c.file_name))}
        asked = {row.id: row.look for row in connection.execute(looks)}
        # Ordered here: asked to order them, the database would read every outline past.
        rows = sorted(connection.execute(query).all(), key=itemgetter(0))
        return {
            row_id: SherdHead(number, *lots[lot_id], photo_id, names[photo_id], area, size, asked.get(row_id), key)
            for row_id, number, lot_id, photo_id, area, size, key in rows
        }

    def _measured_texts(
        self, connection: Connection, heads: dict[int, SherdHead], lot: str | None
    ) -> dict[str, dict[str, tuple[str, str]]]:
        of = t.measurement.c
        query = select(of.sherd_id, of.content_key, of.name, cast(of.value, Text), cast(of.sd, Text))
        found: dict[str, dict[str, tuple[str, str]]] = {}
        # Not ordered: the database would sort by carrying all the texts about.
        for sherd_id, key, name, value, sd in self._of_lot(connection, query, of.sherd_id, lot):
            head = heads.get(sherd_id)
            if head is not None and head.content_key == key:
                found.setdefault(head.number, {})[name] = (value, sd)
        return found

    def _of_lot(self, connection: Connection, query: Select[Any], sherd_id: Any, lot: str | None) -> Sequence[Any]:
        if lot is not None:
            query = query.where(
                sherd_id.in_(select(t.sherd.c.id).where(t.sherd.c.lot_id == lot_id_of(connection, lot)))
            )
        return connection.execute(query).all()  # one call for all rows is a third quicker than one for each


def _lots() -> Select[Any]:
    return select(t.lot.c.id, t.lot.c.name, t.site.c.name.label("site")).select_from(t.lot.outerjoin(t.site))
