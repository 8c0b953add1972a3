"""Schema: how the plane of the sherds lies in a photograph that was taken on the mat."""

from __future__ import annotations

from sqlalchemy import JSON, Column, Connection, MetaData, text


def columns() -> list[Column[object]]:
    """Return the columns that the table of photographs gains: the plane, as JSON, or nothing."""
    return [Column("scale_plane", JSON(none_as_null=True))]


def build(metadata: MetaData) -> None:
    """Add the columns to the tables as the program uses them."""
    for column in columns():
        metadata.tables["photo"].append_column(column)


def plane_of_the_photograph(connection: Connection) -> None:
    """Photographs keep the plane that the mat gave them."""
    connection.execute(text("ALTER TABLE photo ADD COLUMN scale_plane JSON"))
