"""The tables of schema version 1, frozen: migration 1 makes exactly these, for ever.

Later versions are changed in `tables.py`, together with the migration that brings a catalogue there.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    text,
)


def build(metadata: MetaData) -> None:
    """Add the tables of version 1 to the metadata."""
    _provenience(metadata)
    _finds(metadata)
    _judgements(metadata)
    _record(metadata)


def _table(metadata: MetaData, name: str, *columns: Column[Any] | CheckConstraint) -> Table:
    """Build a table with a whole-number key that is never given twice."""
    return Table(name, metadata, Column("id", Integer, primary_key=True), *columns, sqlite_autoincrement=True)


def _made() -> tuple[Column[Any], Column[Any]]:
    """Who made the row, and when (UTC, ISO 8601)."""
    return Column("made_by", Text, nullable=False), Column("made_at", Text, nullable=False)


def _provenience(metadata: MetaData) -> None:
    _table(metadata, "site", Column("name", Text, nullable=False, unique=True), *_made())
    _table(
        metadata,
        "lot",
        Column("name", Text, nullable=False, unique=True),
        Column("site_id", ForeignKey("site.id"), index=True),
        Column("last_number", Integer, nullable=False),
        *_made(),
    )


def _finds(metadata: MetaData) -> None:
    _table(
        metadata,
        "photo",
        Column("sha256", Text, nullable=False, unique=True),
        Column("stored_as", Text, nullable=False),
        Column("size_bytes", Integer, nullable=False),
        Column("file_name", Text, nullable=False),
        Column("lot_id", ForeignKey("lot.id"), nullable=False, index=True),
        Column("width_px", Integer, nullable=False),
        Column("height_px", Integer, nullable=False),
        Column("scale_px_per_mm", Float),
        Column("scale_source", Text),
        Column("scale_relative_sd", Float),
        Column("light", JSON(none_as_null=True)),
        Column("crumbs", Integer, nullable=False),
        Column("warnings", JSON, nullable=False),
        *_made(),
    )
    _table(
        metadata,
        "sherd",
        Column("number", Text, nullable=False, unique=True),
        Column("lot_id", ForeignKey("lot.id"), nullable=False, index=True),
        Column("photo_id", ForeignKey("photo.id"), nullable=False, index=True),
        Column("outline_px", JSON, nullable=False),
        Column("area_mm2", Float),
        Column("max_dimension_mm", Float),
        Column("look", Text),
        Column("state", Text, nullable=False),
        Column("merged_into_id", ForeignKey("sherd.id")),
        Column("content_key", Text, nullable=False, index=True),
        *_made(),
        CheckConstraint("state IN ('kept', 'dropped', 'merged')", name="sherd_state"),
    )
    Table(
        "measurement",
        metadata,
        Column("sherd_id", ForeignKey("sherd.id"), primary_key=True),
        Column("content_key", Text, primary_key=True),
        Column("name", Text, primary_key=True),
        Column("value", JSON, nullable=False),
        Column("sd", JSON, nullable=False),
        *_made(),
    )


def _judgements(metadata: MetaData) -> None:
    _table(
        metadata,
        "link",
        Column("lot_id", ForeignKey("lot.id"), nullable=False, index=True),
        Column("a_id", ForeignKey("sherd.id"), nullable=False),
        Column("b_id", ForeignKey("sherd.id"), nullable=False),
        Column("relation", Text, nullable=False),
        Column("is_active", Boolean, nullable=False),
        *_made(),
        CheckConstraint("relation IN ('same', 'different')", name="link_relation"),
        CheckConstraint("a_id < b_id", name="link_order"),
    )
    _table(
        metadata,
        "attribution",
        Column("sherd_id", ForeignKey("sherd.id"), nullable=False),
        Column("vessel", Text),
        Column("note", Text, nullable=False),
        Column("is_active", Boolean, nullable=False),
        *_made(),
    )
    _table(
        metadata,
        "tag",
        Column("sherd_id", ForeignKey("sherd.id"), nullable=False, index=True),
        Column("term", Text, nullable=False),
        Column("kind", Text, nullable=False),
        Column("box_px", JSON(none_as_null=True)),
        Column("confidence", Float),
        Column("is_active", Boolean, nullable=False),
        *_made(),
    )
    link, attribution = metadata.tables["link"], metadata.tables["attribution"]
    active = text("is_active")
    # An index attaches itself to the table of its columns.
    Index("one_link_a_pair", link.c.a_id, link.c.b_id, unique=True, sqlite_where=active, postgresql_where=active)
    Index("one_attribution", attribution.c.sherd_id, unique=True, sqlite_where=active, postgresql_where=active)


def _record(metadata: MetaData) -> None:
    _table(
        metadata,
        "proposal",
        Column("lot_id", ForeignKey("lot.id"), nullable=False, index=True),
        Column("kind", Text, nullable=False),
        Column("encoder_tags", JSON, nullable=False),
        Column("parameters", JSON, nullable=False),
        Column("result", JSON, nullable=False),
        Column("lot_version", Integer, nullable=False),
        *_made(),
    )
    _table(
        metadata,
        "event",
        Column("change", Integer, nullable=False, index=True),
        Column("verb", Text, nullable=False),
        Column("lot_id", ForeignKey("lot.id"), index=True),
        Column("subject", Text, nullable=False),
        Column("before", JSON, nullable=False),
        Column("after", JSON, nullable=False),
        Column("is_undoable", Boolean, nullable=False),
        Column("undone_by", ForeignKey("event.id")),
        *_made(),
    )
