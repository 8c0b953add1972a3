"""Schema: indexes that large collections need; not a row is changed.

A sherd's outline is thousands of characters and stands before its state in the row, so that counting or listing sherds would
read all outlines past; the index by lot holds what lists and counts ask for.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import Column, Connection, Index, MetaData, Table, text
from sqlalchemy.types import Boolean, Float, Integer, Text

NAMES = ("sherds_of_a_lot", "sherds_to_look_at", "terms_in_use", "judged_sherds")


def append(metadata: MetaData) -> None:
    """Attach the indexes to the tables of this version's schema."""
    sherd, tag, judged = (metadata.tables[name] for name in ("sherd", "tag", "attribution"))
    listed = ("lot_id", "state", "number", "photo_id", "area_mm2", "max_dimension_mm", "content_key")
    Index("sherds_of_a_lot", *(sherd.c[name] for name in listed))
    # Written as the queries are ("IS NOT NULL"; "= 1" in SQLite): a partial index is used for the same words only.
    sought = sherd.c.look.is_not(None)
    Index("sherds_to_look_at", sherd.c.lot_id, sqlite_where=sought, postgresql_where=sought)
    Index("terms_in_use", tag.c.kind, tag.c.term, tag.c.sherd_id, **_active())
    Index("judged_sherds", judged.c.sherd_id, **_active())


def indexes_of_large_collections(connection: Connection) -> None:
    """Indexes for lists, counts and filters over many sherds."""
    metadata = MetaData()
    # Only named here, so that the indexes find their columns; the tables were made long before.
    _named(metadata, "sherd", lot_id=Integer, state=Text, number=Text, photo_id=Integer, area_mm2=Float,
           max_dimension_mm=Float, content_key=Text, look=Text)  # fmt: skip
    _named(metadata, "tag", kind=Text, term=Text, sherd_id=Integer, is_active=Boolean)
    _named(metadata, "attribution", sherd_id=Integer, is_active=Boolean)
    append(metadata)
    for table in metadata.sorted_tables:
        for index in table.indexes:
            index.create(connection)


def _named(metadata: MetaData, name: str, **columns: type) -> None:
    Table(
        name, metadata, Column("id", Integer, primary_key=True), *(Column(one, kind) for one, kind in columns.items())
    )


def _active() -> dict[str, Any]:
    return {"sqlite_where": text("is_active = 1"), "postgresql_where": text("is_active")}
