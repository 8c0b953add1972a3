"""Schema: where people laid sherds, what was decided and done to a vessel, and its form as recorded."""

from __future__ import annotations

from typing import TYPE_CHECKING

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

if TYPE_CHECKING:
    from typing import Any

NAMES = ("placement", "treatment", "vessel_form")


def build(metadata: MetaData) -> None:
    """Add the tables to the metadata, which has lot and sherd already."""
    placement = Table(
        "placement",
        metadata,
        Column("id", Integer, primary_key=True),
        Column("lot_id", ForeignKey("lot.id"), nullable=False, index=True),
        Column("sherd_id", ForeignKey("sherd.id"), nullable=False),
        # Where the middle of its outline lies in the layout, and how far its photograph is turned, clockwise.
        Column("x_mm", Float, nullable=False),
        Column("y_mm", Float, nullable=False),
        Column("turn_deg", Float, nullable=False),
        Column("is_locked", Boolean, nullable=False),
        *_standing(),
        sqlite_autoincrement=True,
    )
    treatment = Table(
        "treatment",
        metadata,
        Column("id", Integer, primary_key=True),
        Column("lot_id", ForeignKey("lot.id"), nullable=False, index=True),
        Column("vessel", Text, nullable=False),
        Column("kind", Text, nullable=False),
        Column("done_on", Text, nullable=False),
        Column("person", Text, nullable=False),
        Column("fields", JSON, nullable=False),
        Column("note", Text, nullable=False),
        *_standing(),
        CheckConstraint(
            "kind IN ('decision', 'condition', 'cleaning', 'marking', 'joining', 'fill', 'photographs', 'taking apart')",
            name="treatment_kind",
        ),
        sqlite_autoincrement=True,
    )
    form = Table(
        "vessel_form",
        metadata,
        Column("id", Integer, primary_key=True),
        Column("lot_id", ForeignKey("lot.id"), nullable=False),
        Column("vessel", Text, nullable=False),
        # Pairs of mm, rim first: drop below the rim, radius of the outside.
        Column("profile", JSON, nullable=False),
        Column("wall_mm", Float),
        Column("repeats", Integer),
        # Down to here (mm below the rim) the profile was measured; what lies below is conjecture.
        Column("sure_to_mm", Float),
        Column("note", Text, nullable=False),
        *_standing(),
        sqlite_autoincrement=True,
    )
    _one_active("one_placement_a_sherd", placement.c.sherd_id)
    _one_active("one_form_a_vessel", form.c.lot_id, form.c.vessel)
    Index("treatments_of_a_vessel", treatment.c.lot_id, treatment.c.vessel)


def _standing() -> tuple[Column[Any], ...]:
    return (
        Column("is_active", Boolean, nullable=False),
        Column("made_by", Text, nullable=False),
        Column("made_at", Text, nullable=False),
    )


def _one_active(name: str, *columns: Column[Any]) -> None:
    active = text("is_active")
    Index(name, *columns, unique=True, sqlite_where=active, postgresql_where=active)


def layouts_treatments_and_forms(connection: Connection) -> None:
    """Placements by hand, decisions and treatments, forms of vessels."""
    metadata = MetaData()
    # Only named here, so that the foreign keys find them; they were made long before.
    for name in ("lot", "sherd"):
        Table(name, metadata, Column("id", Integer, primary_key=True))
    build(metadata)
    metadata.create_all(connection, tables=[metadata.tables[name] for name in NAMES], checkfirst=False)
