"""Schema: what is written of a find beyond its photographs, and what is kept from being shown."""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    Connection,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    text,
)

NAMES = ("find_record", "restriction")


def build(metadata: MetaData) -> None:
    """Add the two tables to the metadata, which has site, lot and sherd already."""
    record = _table(
        metadata,
        "find_record",
        Column("number", Text, nullable=False),
        Column("lot_id", ForeignKey("lot.id"), nullable=False, index=True),
        # Texts by the name of the field, each exactly as it was written.
        Column("fields", JSON, nullable=False),
    )
    _table(
        metadata,
        "restriction",
        Column("site_id", ForeignKey("site.id")),
        Column("lot_id", ForeignKey("lot.id")),
        Column("sherd_id", ForeignKey("sherd.id")),
        Column("motif", Text),
        Column("ground", Text, nullable=False),
        Column("note", Text, nullable=False),
        CheckConstraint(
            "(CASE WHEN site_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN lot_id IS NULL THEN 0 ELSE 1 END) + "
            "(CASE WHEN sherd_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN motif IS NULL THEN 0 ELSE 1 END) = 1",
            name="restriction_of_one_thing",
        ),
    )
    active = text("is_active")
    Index("one_record_a_number", record.c.number, unique=True, sqlite_where=active, postgresql_where=active)


def records_and_restrictions(connection: Connection) -> None:
    """Written records by catalogue number, and restrictions of sites, lots, sherds and motifs."""
    metadata = MetaData()
    # Only named here, so that the foreign keys find them; they were made long before.
    for name in ("site", "lot", "sherd"):
        Table(name, metadata, Column("id", Integer, primary_key=True))
    build(metadata)
    metadata.create_all(connection, tables=[metadata.tables[name] for name in NAMES], checkfirst=False)


def _table(metadata: MetaData, name: str, *columns: Column[Any] | CheckConstraint) -> Table:
    return Table(
        name,
        metadata,
        Column("id", Integer, primary_key=True),
        *columns,
        Column("is_active", Boolean, nullable=False),
        Column("made_by", Text, nullable=False),
        Column("made_at", Text, nullable=False),
        sqlite_autoincrement=True,
    )
