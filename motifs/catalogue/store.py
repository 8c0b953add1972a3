"""The ground under a catalogue: opening a folder, transactions, and edits that the history keeps."""

from __future__ import annotations

import copy
import threading
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any, Self, cast

from sqlalchemy import ColumnElement, Connection, Engine, Table, func, insert, select, true, update

from motifs.catalogue import database, gate, tables
from motifs.catalogue.derived_files import is_wanted_derived
from motifs.catalogue.files import DERIVED, EXPORTS, PHOTOS, Journal, has_unfinished, recover
from motifs.catalogue.lookup import lot_id_of
from motifs.catalogue.migrations import migrate, now, refuse_newer, schema_version
from motifs.catalogue.names import check_note
from motifs.catalogue.queueing import WritersLine
from motifs.errors import CollectionDamaged, CollectionError, CollectionNotWritable, NameRefused

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping
    from types import TracebackType

CATALOGUE_FILE = "catalogue.sqlite"


class Work:
    """A running transaction."""

    def __init__(self, connection: Connection, by: str, journal: Journal) -> None:
        self.connection = connection
        self.by = by
        self.at = now()
        self.journal = journal
        latest = connection.scalar(select(func.max(tables.event.c.change)))
        self.change: int = (latest or 0) + 1
        self.is_broken = False

    def confirm_whole(self) -> None:
        """Refuse to keep half a transaction: a part of it failed, and somebody caught the error outside it."""
        if self.is_broken:
            raise RuntimeError("a transaction inside this one failed, so this one cannot be kept")

    def made(self) -> dict[str, Any]:
        """Return who and when, as columns."""
        return {"made_by": self.by, "made_at": self.at}


class Edit:
    """Row changes that belong together and make one line of the history."""

    def __init__(self, work: Work) -> None:
        self._work = work
        self._before: list[dict[str, Any]] = []
        self._after: list[dict[str, Any]] = []

    def insert(self, table: Table, values: Mapping[str, Any]) -> int:
        """Add a row, by this person and now unless the values say otherwise; return its id."""
        row = {**self._work.made(), **values}
        row_id = int(self._work.connection.execute(insert(table).values(row).returning(table.c.id)).scalar_one())
        shown = {name: value for name, value in values.items() if name not in tables.BULKY}
        self._note(table, row_id, tables.ABSENT.get(table.name, {}), shown)
        return row_id

    def update(self, table: Table, row_id: int, **values: Any) -> None:
        """Change columns of a row; columns that keep their value are left out of the history."""
        columns = [table.c[name] for name in values]
        current = self._work.connection.execute(select(*columns).where(table.c.id == row_id)).one()._mapping
        changed = {name: value for name, value in values.items() if current[name] != value}
        if changed:
            self._work.connection.execute(update(table).where(table.c.id == row_id).values(changed))
            self._note(table, row_id, {name: current[name] for name in changed}, changed)

    def mention(self, table: Table, row_id: int, before: Mapping[str, Any], after: Mapping[str, Any]) -> None:
        """Let the line tell of a change without making one (not for lines that can be undone)."""
        self._note(table, row_id, before, after)

    def _note(self, table: Table, row_id: int, before: Mapping[str, Any], after: Mapping[str, Any]) -> None:
        self._before.append({"table": table.name, "id": row_id, "row": dict(before)})
        self._after.append({"table": table.name, "id": row_id, "row": dict(after)})

    def log(self, verb: str, lot_id: int | None, subject: str, *, is_undoable: bool) -> int:
        """Write the line of the history; return its id, or 0 where nothing changed."""
        if not self._after:
            return 0
        line = {
            "change": self._work.change,
            "verb": verb,
            "lot_id": lot_id,
            "subject": subject,
            "before": self._before,
            "after": self._after,
            "is_undoable": is_undoable,
            **self._work.made(),
        }
        statement = insert(tables.event).values(line).returning(tables.event.c.id)
        return int(self._work.connection.execute(statement).scalar_one())


class Store:
    """An open collection folder and its database."""

    _sees_all = False  # what is restricted is kept back, unless it was unlocked with a reason

    def __init__(self, folder: Path, engine: Engine) -> None:
        self.folder = folder
        self.photos_folder = folder / PHOTOS
        self.derived_folder = folder / DERIVED
        self.exports_folder = folder / EXPORTS
        self._engine = engine
        self._local = threading.local()
        self._line = WritersLine()

    @classmethod
    def open(cls, folder: Path | str, *, create: bool = False, url: str | None = None) -> Self:
        """Open a collection, bringing its catalogue to this program's schema.

        Parameters
        ----------
        folder
            Of the collection.
        create
            Make it if it is not there.
        url
            PostgreSQL URL of the catalogue of a shared lab; photographs and derived files stay in the folder.

        Raises
        ------
        CollectionError
            No collection there and create is False; or something else lies there.
        CollectionNotWritable
            No permission, no space, or the server does not answer.
        CollectionTooNew
            Written by a newer version; left untouched.
        CollectionDamaged
            The catalogue is not one, or is gone while its photographs are there.
        """
        folder = Path(folder).expanduser().absolute()
        is_new = _look_at(folder, create=create, has_file=url is None)
        with database.writable(folder):
            if create:
                for part in (folder, folder / PHOTOS, folder / DERIVED, folder / EXPORTS):
                    part.mkdir(parents=True, exist_ok=True)
        engine = database.sqlite_engine(folder / CATALOGUE_FILE) if url is None else database.server_engine(url)
        try:
            _bring_up(engine, f"collection '{folder}'", is_new=is_new)
            store = cls(folder, engine)
            store._recover()
        except BaseException:
            engine.dispose()
            raise
        return store

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def transaction(self, by: str) -> Iterator[None]:
        """Everything or nothing, rows and files; one change in the history and one step of undo.

        A transaction inside a transaction joins it.

        Parameters
        ----------
        by
            The person who does it, as the history will show.

        Raises
        ------
        NameRefused
            `by` is empty.
        CollectionNotWritable
            No permission or space, or another program has been writing for long.
        """
        outer = self._current()
        if outer is not None:
            with _joined(outer):
                yield
            return
        if not by.strip():
            raise NameRefused("the person who makes the change has no name; say who with a name or initials")
        check_note(by, "the name of the person")
        journal = Journal(self.folder)
        with self._turn(), database.writing(self._engine) as connection:
            self._recover_with(connection)
            self._local.work = Work(connection, by, journal)
            try:
                yield
                self._work.confirm_whole()
            except BaseException:
                # Before the lock goes: nobody else can have begun to use these files.
                journal.discard()
                raise
            finally:
                self._local.work = None
        journal.settle()

    @property
    def is_unlocked(self) -> bool:
        """Whether what is restricted is seen here."""
        return self._sees_all

    def version(self, lot: str | None = None, *, without: Collection[str] = ()) -> int:
        """Return a number that grows with every change, of the lot or of all: a key for caches.

        without: verbs of the history that do not count as a change.

        Raises
        ------
        UnknownName
            No such lot.
        """
        statement = select(func.max(tables.event.c.id))
        if without:
            statement = statement.where(tables.event.c.verb.not_in(list(without)))
        with self._reading() as connection:
            if lot is not None:
                statement = statement.where(tables.event.c.lot_id == lot_id_of(connection, lot))
            return connection.scalar(statement) or 0

    @contextmanager
    def _turn(self) -> Iterator[None]:
        with self._line.turn(database.BUSY_TIMEOUT_S) as has_turn:
            if not has_turn:
                raise CollectionNotWritable(
                    f"{database.shown_name(self._engine)}: somebody else has been writing to it for long; "
                    "see to that and try again, nothing was changed"
                )
            yield

    def _current(self) -> Work | None:
        return cast("Work | None", getattr(self._local, "work", None))

    @property
    def _work(self) -> Work:
        work = self._current()
        if work is None:
            raise RuntimeError("a catalogue is written to inside `with catalogue.transaction(by=...)` only")
        return work

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        work = self._current()
        if work is not None:
            yield work.connection
            return
        with database.reading(self._engine) as connection:
            yield connection

    def _shown(self, connection: Connection, sherd_id: ColumnElement[Any] | None = None) -> ColumnElement[bool]:
        """The condition that a sherd may be shown; every reading of sherds has it. sherd_id: the column, sherd.id by default."""
        column = tables.sherd.c.id if sherd_id is None else sherd_id
        return true() if self._sees_all else gate.is_shown(connection, column)

    def _lot_shown(self, connection: Connection) -> ColumnElement[bool]:
        """The condition that a lot may be shown."""
        return true() if self._sees_all else gate.is_lot_shown(connection, tables.lot.c.id)

    def seeing_all(self) -> Self:
        """Return the same collection with nothing kept back, for upkeep: what it gives is never shown to anybody."""
        wide = copy.copy(self)
        wide._sees_all = True
        return wide

    def _recover(self) -> None:
        if has_unfinished(self.folder):
            with database.writing(self._engine) as connection:
                self._recover_with(connection)

    def _recover_with(self, connection: Connection) -> None:
        if has_unfinished(self.folder):
            recover(self.folder, lambda relative: _is_wanted(connection, self.folder, relative))


@contextmanager
def _joined(outer: Work) -> Iterator[None]:
    try:
        yield
    except BaseException:
        outer.is_broken = True
        raise


def _look_at(folder: Path, *, create: bool, has_file: bool) -> bool:
    """Say whether a new collection is to be made here; refuse what is not a collection."""
    if folder.exists() and not folder.is_dir():
        raise CollectionError(f"'{folder}' is a file; name a collection folder with --collection")
    with database.writable(folder):
        entries = {entry.name for entry in folder.iterdir()} if folder.is_dir() else set()
    if has_file and CATALOGUE_FILE in entries:
        return False
    parts = {name for name in (PHOTOS, DERIVED, EXPORTS) if name in entries and any((folder / name).iterdir())}
    if has_file and parts:
        raise CollectionDamaged(
            f"'{folder}' holds {' and '.join(sorted(parts))} but no {CATALOGUE_FILE}; "
            "restore that from a backup, or name another collection folder"
        )
    if not create and (has_file or not folder.is_dir()):
        raise CollectionError(f"no collection in '{folder}'; bring photographs in first, or name another folder")
    return True


def _bring_up(engine: Engine, name: str, *, is_new: bool) -> None:
    if not is_new:
        # Looked at before anything is written, so that a newer catalogue stays as it is to the byte.
        with database.reading(engine) as connection:
            refuse_newer(schema_version(connection), name)
    with database.translated(engine):
        if engine.dialect.name == "sqlite":
            database.use_wal(engine)
    migrate(engine, name)


def _is_wanted(connection: Connection, folder: Path, relative: PurePosixPath) -> bool:
    if relative.parts[0] == PHOTOS:
        stored = select(tables.photo.c.id).where(tables.photo.c.stored_as == relative.as_posix())
        return connection.scalar(stored) is not None
    return is_wanted_derived(connection, folder / relative)
