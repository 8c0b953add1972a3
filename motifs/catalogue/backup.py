"""One .zip with the catalogue (always as catalogue.sqlite), the originals and a manifest of sha256 sums.

Unpacked, it is a collection folder. What is derived is left out: it can be made again.
The manifest's lines are those of RFC 8493 (BagIt), section 2.1.3: checksum, white space, path.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
import tempfile
import zipfile
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Engine, insert, select, text

from motifs.catalogue import database
from motifs.catalogue import tables as t
from motifs.catalogue.files import PARTIAL_PREFIX, original_path, sha256_of, sync_folder
from motifs.catalogue.migrations import migrate
from motifs.errors import CollectionDamaged, CollectionNotWritable

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from sqlalchemy import Connection

MANIFEST = "manifest-sha256.txt"


def write_backup(engine: Engine, folder: Path, file: Path, catalogue_name: str) -> None:
    """Write a backup under a temporary name, then move it into place.

    Parameters
    ----------
    engine, folder
        Of the collection; others may go on writing to it.
    file
        Where the backup goes; must not be there yet.
    catalogue_name
        What the catalogue is called in the backup.

    Raises
    ------
    CollectionDamaged
        An original is missing or altered.
    CollectionNotWritable
        No permission or no space where the backup goes.
    """
    partial = file.with_name(PARTIAL_PREFIX + file.name)
    with database.writable(file):
        file.parent.mkdir(parents=True, exist_ok=True)
        try:
            with tempfile.TemporaryDirectory(prefix=PARTIAL_PREFIX, dir=file.parent) as work:
                snapshot = Path(work) / catalogue_name
                copy_catalogue(engine, snapshot)
                # The catalogue first, then its originals: they are write-once, so all it names are there.
                _write_zip(partial, snapshot, folder)
            with partial.open("rb") as stream:
                os.fsync(stream.fileno())
            partial.replace(file)
            sync_folder(file.parent)
        except BaseException:
            partial.unlink(missing_ok=True)
            raise


def copy_catalogue(engine: Engine, file: Path) -> None:
    """Copy one consistent state of the catalogue into a new SQLite file."""
    with database.translated(engine), _copied_to(file):
        if engine.dialect.name == "sqlite":
            _copy_sqlite(engine, file)
        else:
            _copy_rows(engine, file)
    with _copied_to(file), closing(sqlite3.connect(file)) as copy:
        # One file, with nothing left in a log beside it.
        copy.execute("PRAGMA journal_mode = DELETE")


@contextmanager
def _copied_to(file: Path) -> Iterator[None]:
    """Turn what the driver itself says of a disk that refuses the copy into one line."""
    try:
        yield
    except sqlite3.OperationalError as error:
        raise CollectionNotWritable(
            f"'{file.parent}' takes no copy of the catalogue ({error}); free some space and make the backup again"
        ) from error


def _copy_sqlite(engine: Engine, file: Path) -> None:
    with engine.connect() as connection, closing(sqlite3.connect(file)) as copy:
        database.driver(connection).backup(copy)


def _copy_rows(engine: Engine, file: Path) -> None:
    target = database.sqlite_engine(file)
    try:
        migrate(target, f"'{file.name}'")
        snapshot = engine.execution_options(isolation_level="REPEATABLE READ")
        with snapshot.connect() as source, database.writing(target) as copy:
            # Rows may name later rows of their own table (merged into); all is there at the end.
            copy.execute(text("PRAGMA defer_foreign_keys = ON"))
            _copy_tables(source, copy)
    finally:
        target.dispose()


def _copy_tables(source: Connection, copy: Connection) -> None:
    for table in t.metadata.sorted_tables:
        for rows in source.execute(select(table)).mappings().partitions(500):
            copy.execute(insert(table), [dict(row) for row in rows])


def _write_zip(partial: Path, snapshot: Path, folder: Path) -> None:
    with zipfile.ZipFile(partial, "w", zipfile.ZIP_STORED) as archive:
        lines = [f"{sha256_of(snapshot)}  {snapshot.name}"]
        archive.write(snapshot, snapshot.name, zipfile.ZIP_DEFLATED)
        for sha256, stored_as, file_name in _originals(snapshot):
            archive.writestr(stored_as, _original(original_path(folder, stored_as), sha256, file_name))
            lines.append(f"{sha256}  {stored_as}")
        archive.writestr(MANIFEST, "\n".join(lines) + "\n")


def _originals(snapshot: Path) -> Iterable[tuple[str, str, str]]:
    with closing(sqlite3.connect(snapshot)) as connection:
        return connection.execute("SELECT sha256, stored_as, file_name FROM photo ORDER BY id").fetchall()


def _original(path: Path, sha256: str, file_name: str) -> bytes:
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        content = b""
    if hashlib.sha256(content).hexdigest() != sha256:
        raise CollectionDamaged(
            f"no backup was made: the original of photo '{file_name}' is missing or altered ({path}); "
            "run check, and bring the photograph back from an older backup"
        )
    return content
