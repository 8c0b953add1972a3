"""What can be wrong with what is written in a table of finds: said cell by cell, mended by nobody but its writer."""

from __future__ import annotations

import math
import re
import unicodedata
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

from motifs.catalogue import NUMBER_FIELDS, check_name
from motifs.catalogue.labels import check_number
from motifs.catalogue.names import check_note
from motifs.errors import InputError

if TYPE_CHECKING:
    from motifs.workflows.tables_in import TypedCell

NUMBER, LOT, SITE = "catalogue number", "lot", "site"
IDENTIFIERS = frozenset({NUMBER, LOT, SITE, "accession number", "find number", "context"})
MAX_TEXT = 20_000
LIMITS = {
    "latitude": (-90.0, 90.0),
    "longitude": (-180.0, 180.0),
    "weight g": (0.0, 100_000.0),
    "thickness mm": (0.0, 300.0),
    "length mm": (0.0, 3_000.0),
    "rim diameter mm": (0.0, 3_000.0),
}

_PLAIN_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)")
_NUMBER_WITH_UNIT = re.compile(r"[+-]?\d+([.,]\d+)?\s*[a-zA-Z%\"]+")
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+")
_EXPONENT = re.compile(r"\d(\.\d+)?E\+\d+", re.IGNORECASE)
_MONTHS = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec"
_MONTH_DATE = re.compile(rf"(\d{{1,2}}-({_MONTHS})|({_MONTHS})-\d{{2}})", re.IGNORECASE)
_SPREADSHEET_ERROR = re.compile(r"#(REF|N/A|VALUE|NAME|DIV/0|NULL|NUM)[!?]?")
_TWICE_DECODED = re.compile("\u00c3[\u0080-\u00bf]|\u00e2\u20ac")


def cell_fault(field: str, cell: TypedCell) -> str:
    """Say what is wrong with a cell of a column, beginning with a verb; empty for nothing.

    Numbers are only read to be judged: what is kept is the text as written.
    """
    if cell.fault:
        return cell.fault
    if not cell.text:
        return "is empty" if field == NUMBER else ""
    if cell.kind == "number" and field not in NUMBER_FIELDS:
        return f"is a number cell ({cell.text}), not text: zeros in front of it may be lost; format it as text and type it again"
    return _text_fault(cell.text) or _field_fault(field, cell.text)


def _text_fault(text: str) -> str:
    if len(text) > MAX_TEXT:
        return f"holds more than {MAX_TEXT} characters"
    if _SPREADSHEET_ERROR.fullmatch(text.strip()):
        return f"holds the spreadsheet's error {text.strip()}; mend it there"
    if _TWICE_DECODED.search(text):
        return "holds letters that were read in a wrong encoding; save the table again as UTF-8"
    try:
        check_note(text)
    except InputError:
        return "holds a control character"
    return ""


def _field_fault(field: str, text: str) -> str:
    if field in IDENTIFIERS:
        return _identifier_fault(field, text)
    if field in NUMBER_FIELDS:
        return _number_fault(field, text)
    return _date_fault(text) if field == "date found" else ""


def _identifier_fault(field: str, text: str) -> str:
    if text != text.strip():
        return "begins or ends with a space"
    if any(unicodedata.category(sign) in {"Cf", "Zs"} and sign != " " for sign in text):
        return "holds an invisible character"
    if _EXPONENT.fullmatch(text):
        return f"reads like a number that a spreadsheet shortened ({text}); type it as it is on the sherd"
    if _MONTH_DATE.fullmatch(text):
        return f"reads like a date that a spreadsheet made of a number ({text}); type it as it is on the sherd"
    try:
        check_number(text) if field in {NUMBER, "accession number", "find number", "context"} else check_name(
            text, field
        )
    except InputError as refused:
        return f"cannot be a {field}: {str(refused).split('; ')[0]}"
    return ""


def _number_fault(field: str, text: str) -> str:
    if _DECIMAL_COMMA.fullmatch(text.strip()):
        return f"has a decimal comma ({text.strip()}); write a point"
    if _NUMBER_WITH_UNIT.fullmatch(text.strip()):
        return f"holds a unit ({text.strip()}); write the number only, the column's name says the unit"
    if not _PLAIN_NUMBER.fullmatch(text):
        return f"is not a number ({text[:40]})"
    low, high = LIMITS.get(field, (-math.inf, math.inf))
    if not low <= float(text) <= high:
        return f"is out of range ({text}); it goes from {low:g} to {high:g}"
    return ""


def _date_fault(text: str) -> str:
    try:
        found = date.fromisoformat(text)
    except ValueError:
        return f"is no date ({text[:40]}); write it as year-month-day, such as 2026-03-05"
    return f"lies in the future ({text})" if found > datetime.now(UTC).date() else ""
