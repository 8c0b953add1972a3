"""A table of finds into the catalogue: which column is what, what is wrong in which cell, and what would change.

Nothing is written before everything was looked at, and no cell is mended or converted on the way. Rows that are wrong
are reported by row and column; they are left out only where a person says so.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.catalogue import RECORD_FIELDS
from motifs.errors import InputError
from motifs.workflows.cell_faults import LOT, NUMBER, SITE, cell_fault

if TYPE_CHECKING:
    from collections.abc import Mapping

    from motifs.catalogue import Catalogue
    from motifs.workflows import Progress
    from motifs.workflows.tables_in import Sheet, SheetRow

FIELDS = (NUMBER, LOT, SITE, *RECORD_FIELDS)
"""What a column can hold."""

ALSO_CALLED = {
    NUMBER: (
        "number",
        "catalogue no",
        "cat no",
        "catalog number",
        "catalog no",
        "sherd",
        "sherd number",
        "sherd no",
        "id",
    ),
    LOT: ("bag", "lot number", "lot no", "fs", "field specimen"),
    "accession number": ("accession", "accession no", "acc no"),
    "find number": ("find", "find no", "small find", "sf"),
    "context": ("locus", "stratum", "unit"),
    "position": ("part", "sherd type"),
    "form": ("vessel form", "vessel class", "shape"),
    "weight g": ("weight", "mass", "mass g"),
    "thickness mm": ("thickness", "wall thickness"),
    "length mm": ("length", "maximum dimension"),
    "rim diameter mm": ("rim diameter", "diameter"),
    "storage place": ("storage", "shelf", "box"),
    "latitude": ("lat",),
    "longitude": ("lon", "long", "lng"),
    "note": ("notes", "remarks", "comment", "comments"),
    "date found": ("date", "found"),
}


AT_ONCE = 2000
"""Records written between two steps of progress."""

_TWIN = re.compile(r"stands in row (\d+) already$")


@dataclass(frozen=True, slots=True)
class CellFault:
    """What is wrong where. row: as a spreadsheet counts; column: its name in the head, empty for the whole row."""

    row: int
    column: str
    message: str

    def __str__(self) -> str:
        """The fault in one line."""
        return f"row {self.row}{', ' + self.column if self.column else ''}: {self.message}"


@dataclass(frozen=True, slots=True)
class PlannedRecord:
    """One row that can be taken in. action: "add", "change" or "same"; fields: texts as written."""

    row: int
    number: str
    lot: str
    site: str | None
    fields: dict[str, str]
    action: str


@dataclass(frozen=True, slots=True)
class ImportPlan:
    """What an import would do. columns: field by column; unused: columns that are not taken in."""

    name: str
    columns: dict[str, str]
    unused: tuple[str, ...]
    records: tuple[PlannedRecord, ...]
    faults: tuple[CellFault, ...]

    def count(self, action: str) -> int:
        """How many rows would be added, changed or left the same."""
        return sum(record.action == action for record in self.records)


def propose_columns(head: tuple[str, ...], chosen: Mapping[str, str] | None = None) -> dict[str, str]:
    """Say which column holds what: as chosen ({column: field}, an empty field leaves it out), else by its name.

    Raises
    ------
    InputError
        A chosen column or field that is not there, or one field from two columns, or two columns of one name.
    """
    chosen = dict(chosen or {})
    _check_choice(head, chosen)
    names = {_plain(name): field for field in FIELDS for name in (field, *ALSO_CALLED.get(field, ()))}
    columns: dict[str, str] = {column: field for column, field in chosen.items() if field}
    for column in head:
        field = names.get(_plain(column))
        if column and column not in chosen and field is not None and field not in columns.values():
            columns[column] = field
    if NUMBER not in columns.values():
        raise InputError(f"no column holds the catalogue number; say which one does, as in --map '{head[0]}={NUMBER}'")
    return {column: columns[column] for column in head if column in columns}


def plan_import(
    cat: Catalogue,
    sheet: Sheet,
    columns: Mapping[str, str],
    *,
    lot: str | None = None,
    site: str | None = None,
    is_update: bool = False,
) -> ImportPlan:
    """Look at every cell; change nothing.

    Parameters
    ----------
    columns : field by column, from `propose_columns`.
    lot, site : of rows that name none.
    is_update : let rows change records that are there; otherwise such rows are faults.
    """
    places = {column: sheet.head.index(column) for column in columns}
    faults: list[CellFault] = []
    records: list[PlannedRecord] = []
    known, sites = cat.known_numbers(), {one.name: one.site for one in cat.seeing_all().lots()}
    present = {record.number: record.fields for record in cat.seeing_all().records()}
    first_row: dict[str, int] = {}
    for row in sheet.rows:
        found = _cell_faults(row, columns, places)
        texts = {} if row.fault else {columns[name]: row.cells[at].text for name, at in places.items()}
        if not found:
            planned = PlannedRecord(
                row.number,
                texts[NUMBER],
                texts.pop(LOT, "") or lot or "",
                texts.pop(SITE, "") or site or None,
                {},
                "add",
            )
            fields = {name: text for name, text in texts.items() if name != NUMBER and text}
            action = _action(fields, present.get(planned.number))
            found = _row_faults(planned, action, columns, first_row, known, sites, is_update=is_update)
            planned = PlannedRecord(planned.row, planned.number, planned.lot, planned.site, fields, action)
            found += _place_faults(planned, columns)
            first_row.setdefault(planned.number, row.number)
            if not found:
                records.append(planned)
                if planned.site:
                    sites.setdefault(planned.lot, planned.site)
        faults += found
    records, faults = _without_twins(records, faults, {field: name for name, field in columns.items()}[NUMBER])
    unused = tuple(column for column in sheet.head if column and column not in columns)
    return ImportPlan(sheet.name, dict(columns), unused, tuple(records), tuple(faults))


def carry_out(
    cat: Catalogue,
    plan: ImportPlan,
    *,
    leave_out_faulty: bool = False,
    by: str,
    progress: Progress | None = None,
) -> int:
    """Write what was planned, all in one transaction; return how many records were added or changed.

    progress is told after every AT_ONCE records; what is stopped there leaves nothing.

    Raises
    ------
    InputError
        The plan has faults and they are not to be left out; or the catalogue has changed in a way that forbids it.
    """
    if plan.faults and not leave_out_faulty:
        raise InputError(
            f"'{plan.name}' has {len(plan.faults)} faults (the first: {plan.faults[0]}); nothing was taken in. "
            "Mend them in the table, or leave those rows out (--leave-out-faulty)"
        )
    wanted = [record for record in plan.records if record.action != "same"]
    with cat.transaction(by=by):
        whole = cat.seeing_all()
        for lot, site in dict.fromkeys((record.lot, record.site) for record in wanted):
            whole.ensure_lot(lot, site=site)
        for done in range(0, len(wanted), AT_ONCE):
            part = wanted[done : done + AT_ONCE]
            whole.save_records([(record.number, record.lot, record.fields) for record in part])
            if progress is not None:
                progress("writing records", done + len(part), len(wanted))
    return len(wanted)


def _without_twins(
    records: list[PlannedRecord], faults: list[CellFault], column: str
) -> tuple[list[PlannedRecord], list[CellFault]]:
    """Of rows with one number none is taken in, the first as little as the others: nobody knows which is right."""
    twins = {int(found[1]): fault.row for fault in faults if (found := _TWIN.search(fault.message))}
    also = [
        CellFault(one.row, column, f"'{one.number}' stands again in row {twins[one.row]}")
        for one in records
        if one.row in twins
    ]
    kept = [one for one in records if one.row not in twins]
    return kept, sorted([*faults, *also], key=lambda fault: fault.row)


def _check_choice(head: tuple[str, ...], chosen: Mapping[str, str]) -> None:
    named = [column for column in head if column]
    twice = next((column for column in named if named.count(column) > 1), None)
    if twice is not None:
        raise InputError(f"two columns are called '{twice}'; give each a name of its own")
    for column, field in chosen.items():
        if column not in head:
            raise InputError(f"no column '{column}'; the columns are {', '.join(named)}")
        if field and field not in FIELDS:
            raise InputError(f"'{field}' is nothing a column can hold; the fields are {', '.join(FIELDS)}")
    fields = [field for field in chosen.values() if field]
    if len(set(fields)) < len(fields):
        raise InputError("two columns are to hold the same field; choose one of them")


def _plain(name: str) -> str:
    return " ".join(re.findall(r"[a-z0-9]+", name.casefold()))


def _cell_faults(row: SheetRow, columns: Mapping[str, str], places: Mapping[str, int]) -> list[CellFault]:
    if row.fault:
        return [CellFault(row.number, "", row.fault)]
    found = []
    for column, field in columns.items():
        message = cell_fault(field, row.cells[places[column]])
        if message:
            found.append(CellFault(row.number, column, message))
    return found


def _action(fields: Mapping[str, str], present: Mapping[str, str] | None) -> str:
    if present is None:
        return "add"
    return "same" if all(present.get(name) == text for name, text in fields.items()) else "change"


def _row_faults(
    planned: PlannedRecord,
    action: str,
    columns: Mapping[str, str],
    first_row: Mapping[str, int],
    known: Mapping[str, str],
    sites: Mapping[str, str | None],
    *,
    is_update: bool,
) -> list[CellFault]:
    column = {field: name for name, field in columns.items()}
    at_number, at_lot = column[NUMBER], column.get(LOT, "")
    found = []
    if planned.number in first_row:
        found.append((at_number, f"'{planned.number}' stands in row {first_row[planned.number]} already"))
    if not planned.lot:
        found.append((at_lot, "no lot; fill it in, or name one for all rows (--lot)"))
    elif known.get(planned.number, planned.lot) != planned.lot:
        found.append(
            (
                at_number,
                f"'{planned.number}' is in lot '{known[planned.number]}' of the collection, not '{planned.lot}'",
            )
        )
    elif action == "change" and not is_update:
        found.append(
            (
                at_number,
                f"'{planned.number}' has a record already that says otherwise; --update lets the table change it",
            )
        )
    has_site = sites.get(planned.lot)
    if planned.site and has_site and has_site != planned.site:
        found.append((column.get(SITE, ""), f"lot '{planned.lot}' is of site '{has_site}', not '{planned.site}'"))
    return [CellFault(planned.row, where, message) for where, message in found]


def _place_faults(planned: PlannedRecord, columns: Mapping[str, str]) -> list[CellFault]:
    one, other = ("latitude" in planned.fields), ("longitude" in planned.fields)
    if one == other:
        return []
    column = {field: name for name, field in columns.items()}
    missing = "longitude" if one else "latitude"
    return [CellFault(planned.row, column.get(missing, ""), f"a {missing} is missing beside the other coordinate")]
