"""Schema: further views of a sherd, its rim, and the numbers read beside it or on it."""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    Connection,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    text,
)

NAMES = ("view", "rim", "label")


def build(metadata: MetaData) -> None:
    """Add the three tables to the metadata, which has sherd and photo already."""
    _view(metadata)
    _rim(metadata)
    _label(metadata)


def views_rims_and_labels(connection: Connection) -> None:
    """Views of a sherd besides its face, rims, and proposed catalogue numbers."""
    metadata = MetaData()
    # Only named here, so that the foreign keys find them; both were made long before.
    for name in ("sherd", "photo"):
        Table(name, metadata, Column("id", Integer, primary_key=True))
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


def _view(metadata: MetaData) -> None:
    _table(
        metadata,
        "view",
        Column("photo_id", ForeignKey("photo.id"), nullable=False, index=True),
        Column("sherd_id", ForeignKey("sherd.id"), index=True),
        Column("kind", Text, nullable=False),
        Column("outline_px", JSON, nullable=False),
        Column("area_mm2", Float),
        Column("max_dimension_mm", Float),
        Column("distance_mm", Float),
        Column("margin", Float),
        Column("turn_deg", Float),
        Column("standing", Text, nullable=False),
        CheckConstraint("kind IN ('exterior', 'interior', 'section', 'rim', 'other')", name="view_kind"),
        CheckConstraint("standing IN ('paired', 'look', 'confirmed', 'loose', 'dropped')", name="view_standing"),
    )


def _rim(metadata: MetaData) -> None:
    rim = _table(
        metadata,
        "rim",
        Column("sherd_id", ForeignKey("sherd.id"), nullable=False, index=True),
        Column("method", Text, nullable=False),
        Column("diameter_mm", Float),
        Column("diameter_sd_mm", Float),
        Column("percent", Float),
        Column("percent_sd", Float),
        Column("chord_mm", Float),
        Column("sagitta_mm", Float),
        Column("note", Text, nullable=False),
        Column("is_active", Boolean, nullable=False),
        CheckConstraint("method IN ('chord', 'chart', 'outline', 'unknown')", name="rim_method"),
    )
    active = text("is_active")
    Index("one_rim_a_sherd", rim.c.sherd_id, unique=True, sqlite_where=active, postgresql_where=active)


def _label(metadata: MetaData) -> None:
    _table(
        metadata,
        "label",
        Column("sherd_id", ForeignKey("sherd.id"), nullable=False, index=True),
        Column("photo_id", ForeignKey("photo.id"), nullable=False),
        Column("text", Text, nullable=False),
        Column("confidence", Float, nullable=False),
        Column("place", Text, nullable=False),
        Column("rival", Text),
        Column("box_px", JSON, nullable=False),
        Column("state", Text, nullable=False),
        CheckConstraint("place IN ('slip', 'inked')", name="label_place"),
        CheckConstraint("state IN ('proposed', 'accepted', 'refused', 'dropped')", name="label_state"),
    )
