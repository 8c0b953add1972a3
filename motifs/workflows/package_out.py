"""The tables of a collection as a Frictionless data package (CSV with a schema), and back."""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING, Any

from motifs.catalogue.whole import shapes
from motifs.errors import InputError
from motifs.workflows.cells_out import cell_of, csv_text, value_of
from motifs.workflows.places import rounded_fields

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from motifs.catalogue import ColumnShape, TableRows

TABLES, DESCRIPTOR = "tables", "datapackage.json"
HOW_TO_READ = (
    "UTF-8, comma, RFC 4180. An empty cell is no value. In text columns one apostrophe at the front is not part of the text: "
    "it keeps spreadsheets from taking text for a formula, and an apostrophe alone is an empty text. "
    "Columns described as JSON hold a JSON document each. Lengths and sizes carry their unit in the column's name."
)
_TYPES = {"text": "string", "integer": "integer", "number": "number", "boolean": "boolean", "json": "string"}


def write_tables(
    folder: Path,
    tables: Sequence[TableRows],
    *,
    schema: int,
    title: str,
    renamed: Mapping[str, str],
    exact_places: bool,
) -> None:
    """Write datapackage.json and tables/*.csv.

    Parameters
    ----------
    folder : of the package.
    tables : from `Catalogue.all_rows`.
    schema : version of the tables.
    renamed : hashes and keys that changed with an original that was cleared, old to new.
    exact_places : leave coordinates as they are; otherwise to about 10 km.
    """
    (folder / TABLES).mkdir(parents=True)
    for table in tables:
        rows = [_cells(table, row, renamed, exact_places=exact_places) for row in table.dicts()]
        text = csv_text([column.name for column in table.columns], rows)
        (folder / TABLES / f"{table.name}.csv").write_text(text, encoding="utf-8", newline="")
    descriptor = {
        "profile": "tabular-data-package",
        "name": "motifs-collection",
        "title": title,
        "description": HOW_TO_READ,
        "motifs_schema": schema,
        "resources": [_resource(table) for table in tables],
    }
    text = json.dumps(descriptor, ensure_ascii=False, indent=1)
    (folder / DESCRIPTOR).write_text(text, encoding="utf-8")


def _cells(table: TableRows, row: dict[str, Any], renamed: Mapping[str, str], *, exact_places: bool) -> list[str]:
    if not exact_places:
        row = _coarse(table.name, row)
    cells = [cell_of(row[column.name], column) for column in table.columns]
    if not renamed:
        return cells
    return [_renamed(cell, renamed) for cell in cells]


def _renamed(cell: str, renamed: Mapping[str, str]) -> str:
    for old, new in renamed.items():
        if old in cell:
            cell = cell.replace(old, new)
    return cell


def _coarse(table: str, row: dict[str, Any]) -> dict[str, Any]:
    if table == "find_record":
        return {**row, "fields": rounded_fields(row["fields"])}
    if table == "event":
        return {**row, "before": _coarse_changes(row["before"]), "after": _coarse_changes(row["after"])}
    return row


def _coarse_changes(changes: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [
        {**change, "row": {**change["row"], "fields": rounded_fields(change["row"]["fields"])}}
        if change["table"] == "find_record" and "fields" in change["row"]
        else change
        for change in changes
    ]


def _resource(table: TableRows) -> dict[str, Any]:
    fields = [_field(column) for column in table.columns]
    keys = [
        {
            "fields": column.name,
            "reference": {"resource": "" if column.target == table.name else column.target, "fields": "id"},
        }
        for column in table.columns
        if column.target is not None
    ]
    schema: dict[str, Any] = {"fields": fields, "missingValues": [""], "primaryKey": list(table.key)}
    if keys:
        schema["foreignKeys"] = keys
    return {
        "name": table.name,
        "path": f"{TABLES}/{table.name}.csv",
        "profile": "tabular-data-resource",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": schema,
    }


def _field(column: ColumnShape) -> dict[str, Any]:
    field: dict[str, Any] = {"name": column.name, "type": _TYPES[column.kind]}
    if column.kind == "json":
        field["description"] = "JSON"
    if column.is_needed:
        field["constraints"] = {"required": True}
    return field


def read_tables(folder: Path, *, newest: int) -> dict[str, list[dict[str, Any]]]:
    """Read what `write_tables` wrote, as rows by table.

    Parameters
    ----------
    folder : of the package.
    newest : the newest version of the tables that can be read.

    Raises
    ------
    InputError
        No such package, a newer one, or cells that cannot be what the table says.
    """
    try:
        descriptor = json.loads((folder / DESCRIPTOR).read_text(encoding="utf-8"))
        schema, named = int(descriptor["motifs_schema"]), [str(one["name"]) for one in descriptor["resources"]]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise InputError(
            f"'{folder}' holds no collection that was exported by this program; name another bag"
        ) from error
    if schema > newest:
        raise InputError(
            f"the bag was written by a newer version (tables {schema}, this one knows {newest}); update the program"
        )
    known = shapes()
    for name in named:
        if name not in known:
            raise InputError(f"the bag has a table '{name[:60]}' that this program does not know; update the program")
    return {name: _read_table(folder / TABLES / f"{name}.csv", known[name]) for name in named}


def _read_table(file: Path, columns: Sequence[ColumnShape]) -> list[dict[str, Any]]:
    csv.field_size_limit(1 << 30)
    try:
        with io.StringIO(file.read_bytes().decode("utf-8"), newline="") as stream:
            head, *records = csv.reader(stream)
    except (OSError, ValueError, csv.Error) as error:
        raise InputError(
            f"table '{file.name}' of the bag is missing or cannot be read; export the collection again"
        ) from error
    by_name = {column.name: column for column in columns}
    strange = [name for name in head if name not in by_name]
    if strange:
        raise InputError(
            f"table '{file.name}' has a column '{strange[0][:60]}' that this program does not know; update it"
        )
    return [_row(head, record, by_name, f"{file.name}, row {place}") for place, record in enumerate(records, start=2)]


def _row(head: Sequence[str], record: Sequence[str], by_name: Mapping[str, ColumnShape], where: str) -> dict[str, Any]:
    if len(record) != len(head):
        raise InputError(f"{where}: {len(record)} cells instead of {len(head)}; export the collection again")
    return {name: value_of(cell, by_name[name], where) for name, cell in zip(head, record, strict=True)}
