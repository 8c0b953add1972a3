"""Ordered migrations, each in one transaction together with the record of having run."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import TypeAlias

from sqlalchemy import Connection, Engine, MetaData, insert, inspect, select

import motifs
from motifs.catalogue import first_tables, tables
from motifs.catalogue.comparanda_tables import comparanda_lists_and_refusals
from motifs.catalogue.database import writing
from motifs.catalogue.index_tables import indexes_of_large_collections
from motifs.catalogue.join_tables import analysts_joins
from motifs.catalogue.learner_tables import exercises_and_quizzes
from motifs.catalogue.mending_tables import layouts_treatments_and_forms
from motifs.catalogue.outline_tables import analysts_outlines
from motifs.catalogue.plane_tables import plane_of_the_photograph
from motifs.catalogue.record_tables import records_and_restrictions
from motifs.catalogue.sorting_tables import open_pairs_and_locks
from motifs.catalogue.view_tables import views_rims_and_labels
from motifs.catalogue.vocabulary_tables import vocabulary_and_second_looks
from motifs.errors import CollectionDamaged, CollectionTooNew

Migration: TypeAlias = Callable[[Connection], None]


def first_schema(connection: Connection) -> None:
    """Sites, lots, photos, sherds, measurements, links, attributions, tags, proposals, history."""
    metadata = MetaData()
    first_tables.build(metadata)
    metadata.create_all(connection, checkfirst=False)


MIGRATIONS: tuple[Migration, ...] = (
    first_schema,
    plane_of_the_photograph,
    analysts_outlines,
    views_rims_and_labels,
    comparanda_lists_and_refusals,
    analysts_joins,
    vocabulary_and_second_looks,
    open_pairs_and_locks,
    records_and_restrictions,
    layouts_treatments_and_forms,
    exercises_and_quizzes,
    indexes_of_large_collections,
)
"""In order; the version of a catalogue is how many of them have run. Only ever append."""


def now() -> str:
    """Return the time in UTC, ISO 8601, to the microsecond."""
    return datetime.now(UTC).isoformat(timespec="microseconds")


def schema_version(connection: Connection) -> int:
    """Return how many migrations have run; 0 for an empty database.

    Raises
    ------
    CollectionDamaged
        The database holds tables, but none of ours.
    """
    names = set(inspect(connection).get_table_names())
    if tables.migration.name in names:
        versions = connection.scalars(select(tables.migration.c.version)).all()
        return max(versions, default=0)
    if names:
        raise CollectionDamaged(
            f"the database holds other tables ({', '.join(sorted(names)[:3])}) and no catalogue; "
            "name another collection folder or database"
        )
    return 0


def refuse_newer(version: int, name: str, migrations: tuple[Migration, ...] = MIGRATIONS) -> None:
    """Raise CollectionTooNew where a catalogue has seen more migrations than this program knows."""
    if version > len(migrations):
        raise CollectionTooNew(
            f"{name} was written by a newer version of this program (schema {version}, this one knows "
            f"{len(migrations)}); update the program, nothing was changed"
        )


def migrate(engine: Engine, name: str, migrations: tuple[Migration, ...] = MIGRATIONS) -> None:
    """Bring the catalogue to the newest schema, one transaction a migration.

    Parameters
    ----------
    engine
        Of the catalogue's database.
    name
        What to call the collection in a message.
    migrations
        The ordered migrations; the program's own unless a test says otherwise.

    Raises
    ------
    CollectionTooNew
        Written by a newer version; nothing was changed.
    """
    while True:
        with writing(engine) as connection:
            # Read inside the write lock: another program may have migrated while this one waited.
            version = schema_version(connection)
            refuse_newer(version, name, migrations)
            if version == len(migrations):
                return
            if version == 0:
                tables.migration.create(connection, checkfirst=True)
            step = migrations[version]
            step(connection)
            ran = {"version": version + 1, "name": step.__name__, "made_at": now(), "program": motifs.__version__}
            connection.execute(insert(tables.migration).values(ran))
