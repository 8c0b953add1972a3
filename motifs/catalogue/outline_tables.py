"""What corrections by hand add to a sherd: whose outline it is, and how it has to be turned to stand rim up."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Column, Connection, Float, MetaData, Text, text

BY_HAND = ("outline replaced", "sherds merged")
"""Lines of the history, before this version, that say a person drew the outline."""


def columns() -> tuple[Column[Any], ...]:
    """Return the two columns, fresh: a column belongs to one table only.

    rim_up_deg: how far the photograph has to be turned clockwise for the sherd to stand rim up, 0 to below 360; NULL where
    nobody said. outline_by: the person who drew the outline; NULL for an outline as the program found it.
    """
    return Column("rim_up_deg", Float), Column("outline_by", Text)


def append(metadata: MetaData) -> None:
    """Add the columns to the sherd table of this version's schema."""
    for column in columns():
        metadata.tables["sherd"].append_column(column)


def analysts_outlines(connection: Connection) -> None:
    """Whose outline it is, taken from the history for what was drawn before; the rim-up angle, which nobody said yet."""
    dialect = connection.dialect
    for column in columns():
        kind = column.type.compile(dialect=dialect)
        connection.execute(text(f"ALTER TABLE sherd ADD COLUMN {column.name} {kind}"))
    for verb in BY_HAND:
        connection.execute(
            text(
                "UPDATE sherd SET outline_by = (SELECT event.made_by FROM event WHERE event.subject = sherd.number"
                " AND event.verb = :verb AND event.undone_by IS NULL ORDER BY event.id DESC LIMIT 1)"
                " WHERE sherd.number IN (SELECT event.subject FROM event"
                " WHERE event.verb = :verb AND event.undone_by IS NULL)"
            ),
            {"verb": verb},
        )
