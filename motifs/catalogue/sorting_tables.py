"""Schema: pairs that a person could not tell, and vessels that a sort is to leave as they are."""

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

NAMES = ("open_pair", "vessel_lock")


def build(metadata: MetaData) -> None:
    """Add the two tables to the metadata, which has lot and sherd already."""
    pair = _table(
        metadata,
        "open_pair",
        Column("a_id", ForeignKey("sherd.id"), nullable=False),
        Column("b_id", ForeignKey("sherd.id"), nullable=False),
        CheckConstraint("a_id < b_id", name="open_pair_order"),
    )
    lock = _table(
        metadata,
        "vessel_lock",
        Column("vessel", Text, nullable=False),
        # Ids of its sherds; those that were dropped or merged since are passed over when it is read.
        Column("sherd_ids", JSON, nullable=False),
    )
    active = text("is_active")
    Index("one_open_pair", pair.c.a_id, pair.c.b_id, unique=True, sqlite_where=active, postgresql_where=active)
    Index("one_lock_a_vessel", lock.c.lot_id, lock.c.vessel, unique=True, sqlite_where=active, postgresql_where=active)


def open_pairs_and_locks(connection: Connection) -> None:
    """Pairs that a person could not tell, and vessels that a sort is to leave as they are."""
    metadata = MetaData()
    # Only named here, so that the foreign keys find them; they were made long before.
    for name in ("lot", "sherd"):
        Table(name, metadata, Column("id", Integer, primary_key=True))
    build(metadata)
    metadata.create_all(connection, tables=[metadata.tables[name] for name in NAMES], checkfirst=False)


def _table(metadata: MetaData, name: str, *columns: Column[Any] | CheckConstraint) -> Table:
    return Table(
        name,
        metadata,
        Column("id", Integer, primary_key=True),
        Column("lot_id", ForeignKey("lot.id"), nullable=False, index=True),
        *columns,
        Column("is_active", Boolean, nullable=False),
        Column("made_by", Text, nullable=False),
        Column("made_at", Text, nullable=False),
        sqlite_autoincrement=True,
    )
