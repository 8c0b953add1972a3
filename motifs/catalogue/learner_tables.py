"""Schema: what learners did: exercises they sorted, and the cards of their quizzes."""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Connection,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
)

NAMES = ("exercise_turn", "quiz_card", "quiz_answer")


def build(metadata: MetaData) -> None:
    """Add the tables to the metadata, which has sherd already."""
    _table(
        metadata,
        "exercise_turn",
        Column("learner", Text, nullable=False, index=True),
        Column("exercise", Text, nullable=False),
        Column("piles", JSON, nullable=False),
        Column("mark", JSON, nullable=False),
        Column("adjusted_rand", Float, nullable=False),
        Column("seconds", Float),  # NULL where nobody measured
        Column("hints", Integer, nullable=False),
    )
    card = _table(
        metadata,
        "quiz_card",
        Column("learner", Text, nullable=False),
        Column("sherd_id", ForeignKey("sherd.id"), nullable=False),
        Column("kind", Text, nullable=False),
        Column("box", Integer, nullable=False),
        Column("due_on", Text, nullable=False),  # ISO date
    )
    Index("one_card_a_learner", card.c.learner, card.c.sherd_id, card.c.kind, unique=True)
    _table(
        metadata,
        "quiz_answer",
        Column("learner", Text, nullable=False, index=True),
        Column("sherd_id", ForeignKey("sherd.id"), nullable=False),
        Column("kind", Text, nullable=False),
        Column("term", Text, nullable=False),
        Column("given", Text, nullable=False),
        Column("is_right", Boolean, nullable=False),
    )


def exercises_and_quizzes(connection: Connection) -> None:
    """What learners did: exercises sorted, and cards and answers of quizzes."""
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
