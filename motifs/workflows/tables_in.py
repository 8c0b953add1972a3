"""Tables that people made (CSV, Excel) as cells of text, each with what is wrong with it as a cell. Nothing is converted."""

from __future__ import annotations

import csv
import io
import struct
import warnings
import zipfile
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

import openpyxl
from openpyxl.utils.exceptions import InvalidFileException

from motifs.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from openpyxl.cell.cell import Cell, MergedCell
    from openpyxl.worksheet.worksheet import Worksheet

MAX_FILE_BYTES = 60_000_000
MAX_UNPACKED_BYTES = 400_000_000
MAX_ROWS = 200_000
DELIMITERS = (",", ";", "\t")
# What a damaged or forged workbook makes its reader raise; XML that does not parse is a SyntaxError.
_DAMAGE = (
    zipfile.BadZipFile,
    InvalidFileException,
    SyntaxError,
    OSError,
    EOFError,
    zlib.error,
    struct.error,
    LookupError,
    ValueError,
    TypeError,
    AttributeError,
    OverflowError,
    RuntimeError,
    MemoryError,
)


@dataclass(frozen=True, slots=True)
class TypedCell:
    """One cell. text: exactly what it holds, empty where it is a fault; kind: "text" or "number"; fault: what is wrong, or empty."""

    text: str
    kind: str = "text"
    fault: str = ""


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row. number: as a spreadsheet counts, the head is row 1; fault: what is wrong with it as a whole, or empty."""

    number: int
    cells: tuple[TypedCell, ...]
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A table: its head and its rows, without rows that are wholly empty."""

    name: str
    head: tuple[str, ...]
    rows: tuple[SheetRow, ...]


def read_sheet(path: Path) -> Sheet:
    """Read the first sheet of an .xlsx file, or a .csv or .tsv file in UTF-8 or UTF-16.

    Raises
    ------
    InputError
        No such file, another kind, too large, damaged, or without a head.
    """
    if not path.is_file():
        raise InputError(f"no table '{path}'; look at the name and the folder")
    if path.stat().st_size > MAX_FILE_BYTES:
        raise InputError(f"'{path.name}' is larger than {MAX_FILE_BYTES / 1e6:.0f} MB; split it into several tables")
    suffix = path.suffix.lower()
    if suffix not in {".xlsx", ".csv", ".tsv", ".txt"}:
        raise InputError(f"'{path.name}' is no .csv, .tsv or .xlsx file; save the table as one of these")
    head, rows = _excel(path) if suffix == ".xlsx" else _text_table(path)
    names = tuple(name.strip() for name in head)
    if not any(names):
        raise InputError(f"'{path.name}' has no head; its first row has to name the columns")
    return Sheet(path.name, names, tuple(row for row in rows if row.fault or any(c.text or c.fault for c in row.cells)))


def _text_table(path: Path) -> tuple[list[str], list[SheetRow]]:
    content = path.read_bytes()
    is_wide = content[:2] in {b"\xff\xfe", b"\xfe\xff"}
    # What is no UTF-8 is carried along in the cell where it stands, to be reported there.
    text = content.decode("utf-16" if is_wide else "utf-8-sig", errors="replace" if is_wide else "surrogateescape")
    first = text.splitlines()[0] if text else ""
    delimiter = max(DELIMITERS, key=first.count)
    csv.field_size_limit(MAX_FILE_BYTES)
    records = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    head = records[0] if records else []
    if len(records) > MAX_ROWS:
        raise InputError(f"'{path.name}' has more than {MAX_ROWS} rows; split it into several tables")
    return head, [_text_row(number, record, len(head)) for number, record in enumerate(records[1:], start=2) if record]


def _text_row(number: int, record: list[str], width: int) -> SheetRow:
    cells = tuple(_text_cell(text) for text in record)
    if len(record) == width:
        return SheetRow(number, cells)
    few = "fewer" if len(record) < width else "more"
    return SheetRow(
        number, cells, f"has {len(record)} cells, {few} than the head's {width}; a separator is missing or too many"
    )


def _text_cell(text: str) -> TypedCell:
    if any("\udc80" <= sign <= "\udcff" for sign in text) or "\ufffd" in text:
        return TypedCell("", fault="holds a letter that was lost in another encoding; save the table as UTF-8")
    return TypedCell(text)


def _excel(path: Path) -> tuple[list[str], list[SheetRow]]:
    try:
        with zipfile.ZipFile(path) as archive:
            if sum(entry.file_size for entry in archive.infolist()) > MAX_UNPACKED_BYTES:
                raise InputError(f"'{path.name}' unpacks to more than {MAX_UNPACKED_BYTES / 1e6:.0f} MB; split it")
        # The library leaves a damaged file open; so it gets one that is closed here.
        with path.open("rb") as stream, warnings.catch_warnings():
            # What the library does not keep (print areas, colours of cells) is nothing to a table of finds.
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(stream, data_only=False)
    except _DAMAGE as error:
        raise InputError(f"'{path.name}' cannot be read as an Excel file; save it again as .xlsx or .csv") from error
    sheet = book.worksheets[0] if book.worksheets else None
    if sheet is None or sheet.max_row > MAX_ROWS:
        raise InputError(f"'{path.name}' has no sheet, or more than {MAX_ROWS} rows; split it into several tables")
    rows = list(_excel_rows(sheet))
    head = [cell.text for cell in rows[0].cells] if rows else []
    while head and not head[-1]:
        head.pop()
    return head, [_cut(row, len(head)) for row in rows[1:]]


def _cut(row: SheetRow, width: int) -> SheetRow:
    beyond = any(cell.text or cell.fault for cell in row.cells[width:])
    return SheetRow(row.number, row.cells[:width], "has a cell beyond the last named column" if beyond else "")


def _excel_rows(sheet: Worksheet) -> Iterator[SheetRow]:
    for number, row in enumerate(sheet.iter_rows(), start=1):
        yield SheetRow(number, tuple(_excel_cell(cell) for cell in row))


def _excel_cell(cell: Cell | MergedCell) -> TypedCell:
    if type(cell).__name__ == "MergedCell":
        return TypedCell("", fault="is part of merged cells; take the merging off and fill in each cell")
    value = cell.value
    if value is None:
        return TypedCell("")
    faults = {
        "d": f"is a date cell ({value}), not text: the spreadsheet has read it as a date; format it as text and type it again",
        "b": "is a yes/no cell, not text; format it as text and type it again",
        "e": f"holds the spreadsheet's error {value}; mend it there",
        "f": "holds a formula, not what it gives; paste its value as text",
    }
    if cell.data_type in faults:
        return TypedCell("", fault=faults[cell.data_type])
    if cell.data_type == "n":
        return TypedCell(repr(value), "number")
    return _text_cell(str(value))
