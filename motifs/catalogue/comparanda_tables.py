"""Schema: lists of comparanda with reasons, and tags that a person refused."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import JSON, Boolean, Column, Connection, Float, ForeignKey, Index, Integer, MetaData, Table, Text, text

if TYPE_CHECKING:
    from sqlalchemy import CheckConstraint

NAMES = ("comparanda_list", "comparanda_entry", "tag_refusal")


def build(metadata: MetaData) -> None:
    """Add the three tables to the metadata, which has sherd already."""
    _table(metadata, "comparanda_list", Column("name", Text, nullable=False, unique=True))
    _table(
        metadata,
        "comparanda_entry",
        Column("list_id", ForeignKey("comparanda_list.id"), nullable=False, index=True),
        Column("query_id", ForeignKey("sherd.id"), nullable=False, index=True),
        Column("sherd_id", ForeignKey("sherd.id"), index=True),  # NULL for a piece that is not in the collection
        Column("reason", Text, nullable=False),
        Column("citation", JSON, nullable=False),
        Column("similarity", Float),
        Column("probability", Float),
        Column("encoder", Text),
        Column("is_active", Boolean, nullable=False),
    )
    _table(
        metadata,
        "tag_refusal",
        Column("sherd_id", ForeignKey("sherd.id"), nullable=False),
        Column("term", Text, nullable=False),
        Column("kind", Text, nullable=False),
        Column("is_active", Boolean, nullable=False),
    )
    refusal, active = metadata.tables["tag_refusal"], text("is_active")
    columns = (refusal.c.sherd_id, refusal.c.kind, refusal.c.term)
    Index("one_refusal", *columns, unique=True, sqlite_where=active, postgresql_where=active)


def comparanda_lists_and_refusals(connection: Connection) -> None:
    """Lists of comparanda with reasons and citations, and tags that a person refused."""
    metadata = MetaData()
    # Only named here, so that the foreign keys find it; it was made long before.
    Table("sherd", metadata, Column("id", Integer, primary_key=True))
    build(metadata)
    metadata.create_all(connection, tables=[metadata.tables[name] for name in NAMES], checkfirst=False)


def _table(metadata: MetaData, name: str, *columns: Column[Any] | CheckConstraint) -> Table:
    return Table(
        name,
        metadata,
        Column("id", Integer, primary_key=True),
        *columns,
        Column("made_by", Text, nullable=False),
        Column("made_at", Text, nullable=False),
        sqlite_autoincrement=True,
    )
