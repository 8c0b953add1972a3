"""The whole catalogue as plain rows, out and in again: what an archive keeps, and what a restricted reader may have of it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import JSON, Boolean, Float, Integer, Table, exc, func, insert, select, text, update

from motifs.catalogue import gate
from motifs.catalogue import tables as t
from motifs.catalogue.files import STORED_AS
from motifs.catalogue.migrations import MIGRATIONS
from motifs.catalogue.store import Store
from motifs.errors import CollectionError, InputError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from sqlalchemy import Connection

_SHERD_COLUMNS = ("sherd_id", "a_id", "b_id", "query_id", "merged_into_id")


@dataclass(frozen=True, slots=True)
class ColumnShape:
    """One column. kind: "text", "integer", "number", "boolean" or "json"; target: the table whose id it holds, or None."""

    name: str
    kind: str
    is_needed: bool
    target: str | None


@dataclass(frozen=True, slots=True)
class TableRows:
    """One table: its columns, the names of its key, and its rows in the order of the key."""

    name: str
    columns: tuple[ColumnShape, ...]
    key: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]

    def dicts(self) -> list[dict[str, Any]]:
        """The rows by name of the column."""
        names = [column.name for column in self.columns]
        return [dict(zip(names, row, strict=True)) for row in self.rows]


class Whole(Store):
    """Everything a collection holds, at once."""

    @property
    def schema(self) -> int:
        """How many migrations this program knows: the version of the tables it writes."""
        return len(MIGRATIONS)

    def all_rows(self) -> tuple[TableRows, ...]:
        """Return one consistent state of every table, tables that others name first.

        What is restricted is left out with everything that names it, unless this collection is unlocked.
        """
        with self._reading() as connection:
            found = {table.name: _rows_of(connection, table) for table in t.metadata.sorted_tables}
            if not self._sees_all and gate.is_restricting(connection):
                found = _without_hidden(connection, found)
        return tuple(_as_table(t.metadata.tables[name], rows) for name, rows in found.items())

    def is_empty(self) -> bool:
        """Whether nothing at all was ever kept here."""
        with self._reading() as connection:
            tables = t.metadata.sorted_tables
            return all(connection.scalar(select(func.count()).select_from(table)) == 0 for table in tables)

    def restore_rows(self, tables: Mapping[str, Sequence[Mapping[str, Any]]], original: Callable[[str], bytes]) -> None:
        """Fill an empty collection with rows that `all_rows` gave, ids and all; inside a transaction.

        Parameters
        ----------
        tables
            Rows by name of the table; columns left out are empty.
        original
            Gives the bytes of an original by its place (photos/..).

        Raises
        ------
        CollectionError
            The collection is not empty.
        InputError
            A table or column that this program does not know, or rows that do not belong together.
        """
        if not self.is_empty():
            raise CollectionError("the collection is not empty; take the bag into a new folder (--collection NEW)")
        connection = self._work.connection
        _refuse_unknown(tables)
        try:
            for table in t.metadata.sorted_tables:
                _fill(connection, table, tables.get(table.name, ()))
        except (exc.IntegrityError, exc.StatementError) as error:
            raise InputError("the tables of the bag do not belong together; export the collection again") from error
        for row in tables.get("photo", ()):
            self._restore_original(str(row["stored_as"]), str(row["sha256"]), original)

    def _restore_original(self, stored_as: str, sha256: str, original: Callable[[str], bytes]) -> None:
        place = STORED_AS.fullmatch(stored_as)
        if place is None or place[1] != sha256 or stored_as[7:9] != sha256[:2]:
            raise InputError(f"'{stored_as[:100]}' is no place of an original; export the collection again")
        self._work.journal.write(self.folder / stored_as, original(stored_as), is_lasting=True)


def shape_of(table: Table) -> tuple[ColumnShape, ...]:
    """The columns of a table."""
    kinds = ((JSON, "json"), (Boolean, "boolean"), (Integer, "integer"), (Float, "number"))
    return tuple(
        ColumnShape(
            column.name,
            next((kind for of_type, kind in kinds if isinstance(column.type, of_type)), "text"),
            not column.nullable,
            next((key.column.table.name for key in column.foreign_keys), None),
        )
        for column in table.columns
    )


def shapes() -> dict[str, tuple[ColumnShape, ...]]:
    """The columns of every table."""
    return {table.name: shape_of(table) for table in t.metadata.sorted_tables}


def _rows_of(connection: Connection, table: Table) -> list[dict[str, Any]]:
    query = select(table).order_by(*table.primary_key.columns)
    return [dict(row) for row in connection.execute(query).mappings()]


def _as_table(table: Table, rows: Iterable[Mapping[str, Any]]) -> TableRows:
    columns = shape_of(table)
    key = tuple(column.name for column in table.primary_key.columns)
    return TableRows(table.name, columns, key, tuple(tuple(row[c.name] for c in columns) for row in rows))


@dataclass(frozen=True, slots=True)
class _Hidden:
    sherds: frozenset[int]
    lots: frozenset[int]
    sites: frozenset[int]
    names: frozenset[str]
    terms: frozenset[str]

    def is_named_in(self, value: object) -> bool:
        """Whether a text or JSON names something that is kept back, in any case."""
        written = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
        folded = written.casefold()
        return any(name in folded for name in self.names)


def _hidden(connection: Connection, found: Mapping[str, list[dict[str, Any]]]) -> _Hidden:
    sherds = frozenset(connection.scalars(gate.hidden_sherds(connection)))
    lots = frozenset(connection.scalars(gate.hidden_lots()))
    sites = frozenset(connection.scalars(gate.hidden_sites()))
    terms = gate.hidden_terms(connection)
    names = {row["number"].casefold() for row in found["sherd"] if row["id"] in sherds}
    names |= {row["name"].casefold() for row in found["lot"] if row["id"] in lots}
    names |= {row["name"].casefold() for row in found["site"] if row["id"] in sites}
    return _Hidden(sherds, lots, sites, frozenset(names | terms), terms)


def _without_hidden(connection: Connection, found: dict[str, list[dict[str, Any]]]) -> dict[str, list[dict[str, Any]]]:
    hidden = _hidden(connection, found)
    kept = {name: [row for row in rows if _may_go_out(name, row, hidden)] for name, rows in found.items()}
    size = -1
    # What names a row that stays behind stays behind too, until nothing does.
    while size != (size := sum(map(len, kept.values()))):
        kept = _closed(kept)
    return kept


def _may_go_out(table: str, row: Mapping[str, Any], hidden: _Hidden) -> bool:
    if table in {"sherd", "lot", "site"}:
        return row["id"] not in getattr(hidden, f"{table}s")
    if any(row.get(column) in hidden.sherds for column in _SHERD_COLUMNS if row.get(column) is not None):
        return False
    special: dict[str, Callable[[], bool]] = {
        "restriction": lambda: False,
        "vessel_lock": lambda: hidden.sherds.isdisjoint(row["sherd_ids"]),
        "second_look": lambda: hidden.sherds.isdisjoint(one["sherd_id"] for one in row["sherds"]),
        "proposal": lambda: not hidden.is_named_in(row["result"]),
        "find_record": lambda: row["number"].casefold() not in hidden.names,
        "term": lambda: row["kind"] != gate.MOTIF or row["label"].casefold() not in hidden.terms,
        "event": lambda: _may_be_told(row, hidden),
    }
    return special[table]() if table in special else True


def _may_be_told(row: Mapping[str, Any], hidden: _Hidden) -> bool:
    if row["lot_id"] in hidden.lots or hidden.is_named_in(row["subject"]):
        return False
    changes = [*row["before"], *row["after"]]
    if any(change["table"] == "restriction" for change in changes) or hidden.is_named_in(changes):
        return False
    ids = {change["id"] for change in changes if change["table"] == "sherd"}
    ids |= {change["row"].get(column) for change in changes for column in _SHERD_COLUMNS}
    return hidden.sherds.isdisjoint(ids)


def _closed(kept: Mapping[str, list[dict[str, Any]]]) -> dict[str, list[dict[str, Any]]]:
    ids = {name: {row.get("id") for row in rows} for name, rows in kept.items()}
    closed = {}
    for table in t.metadata.sorted_tables:
        targets = {c.name: c.target for c in shape_of(table) if c.target is not None}
        rows = []
        for row in kept[table.name]:
            lost = [c for c, target in targets.items() if row[c] is not None and row[c] not in ids[target]]
            if lost == ["undone_by"]:
                rows.append({**row, "undone_by": None})
            elif not lost:
                rows.append(row)
        closed[table.name] = rows
    return closed


def _refuse_unknown(tables: Mapping[str, Sequence[Mapping[str, Any]]]) -> None:
    known = {name: {column.name for column in columns} for name, columns in shapes().items()}
    for name, rows in tables.items():
        if name not in known:
            raise InputError(f"the bag has a table '{name[:60]}' that this program does not know; update the program")
        strange = {column for row in rows for column in row} - known[name]
        if strange:
            raise InputError(f"table '{name}' has a column '{min(strange)[:60]}' that this program does not know")


def _fill(connection: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    """Put rows in, ids as they are; what a row says of later rows of its own table comes afterwards."""
    if not rows:
        return
    own = [column.name for column in shape_of(table) if column.target == table.name]
    first = [{name: None if name in own else value for name, value in row.items()} for row in rows]
    for start in range(0, len(first), 500):
        connection.execute(insert(table), first[start : start + 500])
    for row in rows:
        later = {name: row[name] for name in own if row.get(name) is not None}
        if later:
            connection.execute(update(table).where(table.c.id == row["id"]).values(later))
    if connection.dialect.name == "postgresql" and "id" in table.c:
        sequence = text("SELECT setval(pg_get_serial_sequence(:name, 'id'), :last)")
        connection.execute(sequence, {"name": table.name, "last": max(int(row["id"]) for row in rows)})
