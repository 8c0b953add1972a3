"""Schema: the vocabulary, and second looks with their blind answers."""

from __future__ import annotations

from typing import Any

from sqlalchemy import JSON, Boolean, Column, Connection, Float, ForeignKey, Index, Integer, MetaData, Table, Text, text

NAMES = ("term", "second_look", "second_answer")


def build(metadata: MetaData) -> None:
    """Add the three tables to the metadata, which has sherd already."""
    _term(metadata)
    _table(
        metadata,
        "second_look",
        Column("name", Text, nullable=False, unique=True),
        Column("kind", Text, nullable=False),
        Column("seed", Integer, nullable=False),
        Column("sherds", JSON, nullable=False),
        Column("first_before", Text, nullable=False),
    )
    _table(
        metadata,
        "second_answer",
        Column("look_id", ForeignKey("second_look.id"), nullable=False, index=True),
        Column("sherd_id", ForeignKey("sherd.id"), nullable=False),
        Column("term", Text, nullable=False),
        Column("confidence", Float),
        Column("is_active", Boolean, nullable=False),
    )
    answer, active = metadata.tables["second_answer"], text("is_active")
    columns = (answer.c.look_id, answer.c.sherd_id, answer.c.made_by)
    Index("one_second_answer", *columns, unique=True, sqlite_where=active, postgresql_where=active)


def vocabulary_and_second_looks(connection: Connection) -> None:
    """Terms with what is known of them, and blind second answers that never meet the tags."""
    metadata = MetaData()
    # Only named here, so that the foreign keys find it; it was made long before.
    Table("sherd", metadata, Column("id", Integer, primary_key=True))
    build(metadata)
    metadata.create_all(connection, tables=[metadata.tables[name] for name in NAMES], checkfirst=False)


def _table(metadata: MetaData, name: str, *columns: Column[Any]) -> Table:
    return Table(
        name,
        metadata,
        Column("id", Integer, primary_key=True),
        *columns,
        Column("made_by", Text, nullable=False),
        Column("made_at", Text, nullable=False),
        sqlite_autoincrement=True,
    )


def _term(metadata: MetaData) -> None:
    texts = ("definition", "period_note", "region_note", "drawing", "exact_match")
    descriptors = ("style_type", "style_element", "symmetry")
    term = _table(
        metadata,
        "term",
        Column("kind", Text, nullable=False),
        Column("label", Text, nullable=False),
        *(Column(name, JSON, nullable=False) for name in ("synonyms", "broader", "examples")),
        *(Column(name, Text, nullable=False) for name in (*texts, *descriptors)),
        Column("is_active", Boolean, nullable=False),
    )
    active = text("is_active")
    Index("one_term", term.c.kind, term.c.label, unique=True, sqlite_where=active, postgresql_where=active)
