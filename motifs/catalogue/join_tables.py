"""Schema: what people said of proposed joins."""

from __future__ import annotations

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

NAME = "join_word"


def build(metadata: MetaData) -> None:
    """Add the table to the metadata, which has lot and sherd already."""
    table = Table(
        NAME,
        metadata,
        Column("id", Integer, primary_key=True),
        Column("lot_id", ForeignKey("lot.id"), nullable=False, index=True),
        Column("a_id", ForeignKey("sherd.id"), nullable=False),
        Column("b_id", ForeignKey("sherd.id"), nullable=False),
        Column("answer", Text, nullable=False),
        # How they lay when the answer was given: three rows of three, b's outline into a's frame, mm.
        Column("transform", JSON(none_as_null=True)),
        Column("note", Text, nullable=False),
        Column("is_active", Boolean, nullable=False),
        Column("made_by", Text, nullable=False),
        Column("made_at", Text, nullable=False),
        CheckConstraint("answer IN ('accepted', 'refused')", name="join_answer"),
        CheckConstraint("a_id < b_id", name="join_order"),
        sqlite_autoincrement=True,
    )
    active = text("is_active")
    Index("one_join_word_a_pair", table.c.a_id, table.c.b_id, unique=True, sqlite_where=active, postgresql_where=active)


def analysts_joins(connection: Connection) -> None:
    """What people said of proposed joins: accepted or refused."""
    metadata = MetaData()
    # Only named here, so that the foreign keys find them; they were made long before.
    for name in ("lot", "sherd"):
        Table(name, metadata, Column("id", Integer, primary_key=True))
    build(metadata)
    metadata.create_all(connection, tables=[metadata.tables[NAME]], checkfirst=False)
