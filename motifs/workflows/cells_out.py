"""Cells of exported tables: text that a spreadsheet cannot take for a formula, and that comes back to the letter.

A cell that begins with ``=``, ``+``, ``-``, ``@``, a tab, a line end or an apostrophe is written with one apostrophe before
it, and an empty text (which is not the same as nothing) as an apostrophe alone; reading takes exactly one away. So no
text is changed, none is lost, and no spreadsheet computes what somebody wrote. Numbers are numbers by the table's schema.
"""

from __future__ import annotations

import csv
import io
import json
import math
from typing import TYPE_CHECKING, Any

from motifs.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from motifs.catalogue import ColumnShape

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "'")
GUARD = "'"


def guarded(text: str) -> str:
    """A text as it is written in a cell."""
    return GUARD + text if not text or text.startswith(FORMULA_STARTS) else text


def unguarded(cell: str) -> str:
    """The text that `guarded` was given."""
    return cell.removeprefix(GUARD)


def cell_of(value: Any, column: ColumnShape) -> str:
    """A value of a column as a cell; nothing is an empty cell."""
    if column.kind == "json" and (value is not None or column.is_needed):
        return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    if value is None:
        return ""
    if column.kind == "boolean":
        return "true" if value else "false"
    return guarded(value) if column.kind == "text" else repr(value)


def value_of(cell: str, column: ColumnShape, where: str) -> Any:
    """The value that a cell of a column holds.

    Raises
    ------
    InputError
        It cannot be one; `where` says in which table and row.
    """
    if cell == "":
        if column.is_needed:
            raise InputError(f"{where}: '{column.name}' is empty; export the collection again")
        return None
    try:
        value = _read(cell, column.kind)
    except ValueError:
        raise InputError(
            f"{where}: '{column.name}' holds '{cell[:40]}', which is no {column.kind}; export the collection again"
        ) from None
    return value


def _read(cell: str, kind: str) -> Any:
    if kind == "json":
        return json.loads(cell, parse_constant=_refuse_constant)
    if kind == "integer":
        return int(cell)
    if kind == "number":
        number = float(cell)
        if not math.isfinite(number):
            raise ValueError(cell)
        return number
    if kind == "boolean":
        return {"true": True, "false": False}[cell] if cell in {"true", "false"} else _refuse_constant(cell)
    return unguarded(cell)


def _refuse_constant(name: str) -> None:
    raise ValueError(name)


def csv_text(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Cells as CSV (RFC 4180)."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows(rows)
    return stream.getvalue()
