"""The engine: SQLite in WAL mode beside the photographs, or PostgreSQL by URL, behind the same few functions."""

from __future__ import annotations

import json
from contextlib import contextmanager
from typing import TYPE_CHECKING, cast

from sqlalchemy import URL, Connection, Engine, create_engine, event, exc, make_url, text

from motifs.errors import DISK_REFUSES, CollectionDamaged, CollectionError, CollectionNotWritable

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator
    from pathlib import Path

BUSY_TIMEOUT_S = 30.0
"""How long a writer waits for another writer before it gives up."""

# Any fixed number: everybody who writes to one PostgreSQL catalogue takes the advisory lock of this number.
_POSTGRES_LOCK = 7_306_651

_WRITE = "catalogue_write"

_REASONS = {
    "SQLITE_READONLY": "it may not be written to",
    "SQLITE_CANTOPEN": "it may not be opened for writing",
    "SQLITE_PERM": "there is no permission",
    "SQLITE_FULL": "there is no space left",
    "SQLITE_IOERR": "the disk refused",
    "SQLITE_BUSY": "another program has been writing to it for long",
    "SQLITE_LOCKED": "another program has been writing to it for long",
}
_DAMAGE = ("SQLITE_CORRUPT", "SQLITE_NOTADB")


def _to_json(value: object) -> str:
    # allow_nan=False: NaN is no JSON (RFC 8259), and PostgreSQL refuses what SQLite would keep.
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def sqlite_engine(file: Path) -> Engine:
    """Make an engine for a SQLite file (made on first use)."""
    engine = create_engine(
        URL.create("sqlite", database=str(file)), json_serializer=_to_json, connect_args={"timeout": BUSY_TIMEOUT_S}
    )
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def server_engine(url: str) -> Engine:
    """Make an engine for a PostgreSQL URL (driver psycopg).

    Raises
    ------
    CollectionError
        Not a URL, or of another kind of database.
    """
    try:
        parsed = make_url(url)
    except exc.ArgumentError as error:
        raise CollectionError("the database URL cannot be read; write postgresql://USER@HOST/DATABASE") from error
    if parsed.get_backend_name() != "postgresql":
        raise CollectionError(
            f"'{parsed.get_backend_name()}' is not a database this program keeps a catalogue in; "
            "write postgresql://USER@HOST/DATABASE"
        )
    engine = create_engine(parsed.set(drivername="postgresql+psycopg"), json_serializer=_to_json, pool_pre_ping=True)
    event.listen(engine, "begin", _begin_server)
    return engine


def _prepare_sqlite(connection: sqlite3.Connection, _record: object) -> None:
    # The driver's own idea of when to begin is switched off; _begin_sqlite does it, DDL included.
    connection.isolation_level = None
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA synchronous = FULL")


def _begin_sqlite(connection: Connection) -> None:
    # IMMEDIATE: a writer takes the lock before it reads, so it never decides on rows that change under it.
    is_write = connection.get_execution_options().get(_WRITE, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if is_write else "BEGIN")


def _begin_server(connection: Connection) -> None:
    if connection.get_execution_options().get(_WRITE, False):
        connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _POSTGRES_LOCK})


def driver(connection: Connection) -> sqlite3.Connection:
    """Return the driver's own connection under a SQLite connection."""
    return cast("sqlite3.Connection", connection.connection.dbapi_connection)


def use_wal(engine: Engine) -> None:
    """Switch a SQLite file to write-ahead logging, which lasts: readers never wait for the writer."""
    with engine.connect() as connection:
        driver(connection).execute("PRAGMA journal_mode = WAL")


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Open a connection on one consistent state of the catalogue."""
    with translated(engine), engine.connect() as connection:
        yield connection


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Open the one connection that may write; commit at the end, or roll back."""
    with translated(engine), engine.connect().execution_options(**{_WRITE: True}) as connection, connection.begin():
        yield connection


@contextmanager
def translated(engine: Engine) -> Iterator[None]:
    """Turn the database's refusals into this project's errors; a defect passes through."""
    try:
        yield
    except exc.DBAPIError as error:
        known = _known_error(error, shown_name(engine))
        if known is None:
            raise
        raise known from error


def _known_error(error: exc.DBAPIError, name: str) -> CollectionError | None:
    code = getattr(error.orig, "sqlite_errorname", None)
    if code is None:
        if isinstance(error, exc.OperationalError):
            return CollectionNotWritable(
                f"{name} cannot be reached or written to; is the server running? Nothing changed"
            )
        return None
    for start, reason in _REASONS.items():
        if code.startswith(start):
            return CollectionNotWritable(f"{name}: {reason}; see to that and try again, nothing was changed")
    if code.startswith(_DAMAGE):
        return CollectionDamaged(f"{name} is not a readable catalogue; restore it from a backup")
    return None


def shown_name(engine: Engine) -> str:
    """Name the database for a message: the file, or the URL without its password."""
    if engine.dialect.name == "sqlite":
        return f"'{engine.url.database}'"
    return f"'{engine.url.render_as_string(hide_password=True)}'"


@contextmanager
def writable(path: Path) -> Iterator[None]:
    """Turn a refusal of the file system into CollectionNotWritable."""
    try:
        yield
    except OSError as error:
        if error.errno not in DISK_REFUSES:
            raise
        reason = (error.strerror or "refused").lower()
        raise CollectionNotWritable(
            f"'{path}' cannot be written to ({reason}); free it or choose another folder with --collection"
        ) from error
