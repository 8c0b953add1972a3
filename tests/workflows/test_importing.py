"""Tables of finds: 5,000 rows with planted faults, each reported by row and column, nothing changed on the way.

The numbers that spreadsheets spoil (`11-4` to a date, `0012` to 12, `1E5` to 1.00E+05) are those of the trade's own warnings.
"""

from __future__ import annotations

import csv
import datetime
import random
from typing import TYPE_CHECKING

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motifs.errors import InputError
from motifs.workflows.cell_faults import cell_fault
from motifs.workflows.importing import carry_out, plan_import, propose_columns
from motifs.workflows.tables_in import TypedCell, read_sheet

if TYPE_CHECKING:
    from pathlib import Path

    from motifs.catalogue import Catalogue

HEAD = ["Cat. no.", "Bag", "Site", "Accession", "Context", "Form", "Weight g", "Date found", "Lat", "Long", "Notes"]
ROWS = 5000

# What is planted: name -> (column, what is written there, a word of the report).
PLANTED: dict[str, tuple[str, str, str]] = {
    "no number": ("Cat. no.", "", "is empty"),
    "space behind": ("Cat. no.", "K-77 ", "space"),
    "zero-width space": ("Cat. no.", "K\u200b-78", "invisible"),
    "no-break space": ("Context", "12\u00a0b", "invisible"),
    "shortened by a spreadsheet": ("Cat. no.", "1.00E+05", "shortened"),
    "made a date by a spreadsheet": ("Cat. no.", "11-Apr", "date"),
    "made a date the other way": ("Context", "Nov-04", "date"),
    "parent folder in a name": ("Bag", "B..3", "holds '..'"),
    "slash in a lot": ("Bag", "B/3", "holds '/'"),
    "no lot": ("Bag", "", "no lot"),
    "other site for the lot": ("Site", "Ashby Weir", "is of site"),
    "weight with a unit": ("Weight g", "12 g", "unit"),
    "decimal comma": ("Weight g", "12,5", "comma"),
    "weight below zero": ("Weight g", "-3", "out of range"),
    "weight in words": ("Weight g", "heavy", "not a number"),
    "weight not finite": ("Weight g", "inf", "not a number"),
    "impossible date": ("Date found", "2026-02-30", "no date"),
    "date by slashes": ("Date found", "03/04/2024", "no date"),
    "date to come": ("Date found", "2990-01-01", "future"),
    "latitude too far": ("Lat", "91", "out of range"),
    "longitude too far": ("Long", "-181", "out of range"),
    "half a coordinate": ("Long", "", "longitude is missing"),
    "spreadsheet error": ("Form", "#REF!", "error"),
    "control character": ("Notes", "a\x07b", "control"),
    "turned writing": ("Notes", "a\u202eb", "control"),
    "read in a wrong encoding": ("Notes", "caf\u00c3\u00a9", "encoding"),
    "too long": ("Notes", "x" * 20_001, "more than"),
}


def good_row(at: int) -> list[str]:
    number = ("{:04d}", "11-{}", "{}E5", "3/{}", "2026.014.{:04d}a")[at % 5].format(at)
    return [number, f"B-{at % 7}", "Kestrel Ford", f"2026.{at:05d}", f"{at % 90}-P-1", "jar", f"{at % 60}.5", "2026-03-05",
            "51.25", "-0.50", f'=rim, "worn" {at}']  # fmt: skip


def faulty_table() -> tuple[list[list[str]], dict[int, tuple[str, str]]]:
    """The rows, and by row number the column and a word of the report for every planted fault."""
    rng = random.Random(20)
    rows = [good_row(at) for at in range(ROWS)]
    rows[0][HEAD.index("Site")] = "Kestrel Ford"
    places = rng.sample(range(50, ROWS - 50), 3 * len(PLANTED))
    expected = {}
    for name, at in zip([*PLANTED] * 3, places, strict=True):
        column, written, word = PLANTED[name]
        rows[at][HEAD.index(column)] = written
        expected[at + 2] = (column, word)
    free = [at for at in range(50, ROWS - 50) if at not in places]
    first, second, short, long = rng.sample(free, 4)
    first, second = sorted((first, second))
    rows[second][0] = rows[first][0]
    expected[first + 2] = ("Cat. no.", "again")
    expected[second + 2] = ("Cat. no.", "already")
    rows[short] = rows[short][:-2]
    rows[long] = [*rows[long], "stray"]
    expected[short + 2] = ("", "fewer")
    expected[long + 2] = ("", "more")
    return rows, expected


def write_csv(path: Path, rows: list[list[str]], head: list[str] = HEAD) -> Path:
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([head, *rows])
    return path


def planned(cat: Catalogue, path: Path, **options: object):
    sheet = read_sheet(path)
    return plan_import(cat, sheet, propose_columns(sheet.head), **options)


def test_five_thousand_rows_with_every_fault_reported_and_nothing_changed(cat: Catalogue, tmp_path: Path) -> None:
    rows, expected = faulty_table()
    assert len(PLANTED) + 3 >= 20
    plan = planned(cat, write_csv(tmp_path / "finds.csv", rows))
    found = {fault.row: fault for fault in plan.faults}
    assert found.keys() == expected.keys()
    for row, (column, word) in expected.items():
        assert (found[row].column, word in found[row].message) == (column, True), found[row]
    assert len(plan.faults) == len(expected)

    with pytest.raises(InputError, match="nothing was taken in"):
        carry_out(cat, plan, by="M. Oduya")
    assert cat.records() == ()

    assert carry_out(cat, plan, leave_out_faulty=True, by="M. Oduya") == ROWS - len(expected)
    kept = {record.number: record for record in cat.records()}
    for at, row in enumerate(rows):
        if at + 2 in expected:
            continue
        record = kept.pop(row[0])
        assert (record.lot, record.site) == (row[1], row[2])
        texts = dict(
            zip(
                ["accession number", "context", "form", "weight g", "date found", "latitude", "longitude", "note"],
                row[3:],
                strict=True,
            )
        )
        assert record.fields == texts  # to the letter
    assert kept == {}


def test_excel_keeps_text_and_reports_what_a_spreadsheet_has_turned(cat: Catalogue, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Number", "Lot", "Form", "Weight g", "Note"])
    for number in ("0012", "11-4", "1E5", "=1+1"):
        sheet.append([number, "B-9", "jar", 12.5, "as found"])
    sheet["A5"].data_type = "s"  # text that begins like a formula
    sheet.append([datetime.datetime(2026, 4, 11), "B-9", "jar", 1, ""])
    sheet.append([12, "B-9", "jar", 1, ""])
    sheet.append(["k-1", "B-9", True, 1, ""])
    sheet.append(["k-2", "B-9", "=B2", 1, ""])
    sheet.append(["k-3", "B-9", "#N/A", 1, ""])
    sheet.append(["k-4", "B-9", "jar", 1, "merged", "beyond"])
    sheet.append(["k-5", "B-9", "jar", 1, "both"])
    sheet.append(["k-6", "B-9", "jar", 1, "both"])
    sheet.merge_cells("C12:C13")
    book.save(tmp_path / "finds.xlsx")
    plan = planned(cat, tmp_path / "finds.xlsx")
    assert [(fault.row, fault.column) for fault in plan.faults] == [
        (6, "Number"), (7, "Number"), (8, "Form"), (9, "Form"), (10, "Form"), (11, ""), (13, "Form"),
    ]  # fmt: skip
    assert [
        word
        for word, fault in zip(
            ["date", "number cell", "yes/no", "formula", "error", "beyond", "merged"], plan.faults, strict=True
        )
        if word not in fault.message
    ] == []
    carry_out(cat, plan, leave_out_faulty=True, by="M. Oduya")
    assert [record.number for record in cat.records()] == ["0012", "11-4", "1E5", "=1+1", "k-5"]
    assert cat.record("0012").fields["weight g"] == "12.5"


def test_duplicates_are_found_and_an_update_changes_only_what_it_says(cat: Catalogue, tmp_path: Path) -> None:
    head = ["number", "lot", "form", "ware"]
    first = planned(
        cat, write_csv(tmp_path / "a.csv", [["0012", "B-9", "jar", "grey"], ["13", "B-9", "bowl", ""]], head)
    )
    assert carry_out(cat, first, by="M. Oduya") == 2
    again = planned(cat, tmp_path / "a.csv")
    assert (again.count("same"), again.faults) == (2, ())
    assert carry_out(cat, again, by="M. Oduya") == 0
    other = write_csv(
        tmp_path / "b.csv", [["0012", "B-9", "", "buff"], ["13", "C-1", "bowl", ""], ["B-03-001", "C-1", "", ""]], head
    )
    told = planned(cat, other)
    assert [fault.row for fault in told.faults] == [2, 3, 4]
    assert "--update" in told.faults[0].message
    assert "is in lot 'B-03'" in told.faults[2].message  # a catalogued sherd's number counts too
    assert carry_out(cat, planned(cat, other, is_update=True), leave_out_faulty=True, by="R. Vance") == 1
    assert cat.record("0012").fields == {"form": "jar", "ware": "buff"}
    with cat.transaction(by="R. Vance"):
        cat.undo("B-9")
    assert cat.record("0012").fields == {"form": "jar", "ware": "grey"}


def test_columns_are_proposed_and_chosen(tmp_path: Path) -> None:
    columns = propose_columns(("Cat. No.", "bag", "Colour", "WEIGHT"), {"Colour": "fabric", "bag": ""})
    assert columns == {"Cat. No.": "catalogue number", "Colour": "fabric", "WEIGHT": "weight g"}
    for head, chosen, why in [
        (("Colour",), {}, "catalogue number"),
        (("number", "number"), {}, "two columns are called"),
        (("number",), {"lot": "lot"}, "no column 'lot'"),
        (("number", "x"), {"x": "taste"}, "nothing a column can hold"),
        (("number", "x", "y"), {"x": "form", "y": "form"}, "same field"),
    ]:
        with pytest.raises(InputError, match=why):
            propose_columns(head, chosen)


@pytest.mark.parametrize(
    ("name", "content", "why"),
    [
        ("no.xlsx", b"PK\x03\x04 broken", "cannot be read"),
        ("no.ods", b"x", "no .csv"),
        ("empty.csv", b"", "no head"),
    ],
)
def test_a_file_that_is_no_table_is_refused(tmp_path: Path, name: str, content: bytes, why: str) -> None:
    (tmp_path / name).write_bytes(content)
    with pytest.raises(InputError, match=why):
        read_sheet(tmp_path / name)
    with pytest.raises(InputError, match="no table"):
        read_sheet(tmp_path / "absent.csv")


def test_other_encodings_are_read_or_reported_where_they_are(cat: Catalogue, tmp_path: Path) -> None:
    text = "number;lot;note\r\n0012;B-9;caf\u00e9\r\n"
    for name, encoding in (("a.csv", "utf-16"), ("b.csv", "utf-8-sig")):
        (tmp_path / name).write_text(text, encoding=encoding, newline="")
        plan = planned(cat, tmp_path / name)
        assert plan.records[0].fields == {"note": "caf\u00e9"}
    (tmp_path / "c.csv").write_text(text, encoding="latin-1", newline="")
    plan = planned(cat, tmp_path / "c.csv")
    assert [(fault.row, fault.column) for fault in plan.faults] == [(2, "note")]
    assert (planned(cat, write_csv(tmp_path / "none.csv", [], ["number", "lot"]))).records == ()


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=20))
def test_whatever_is_written_in_a_cell_is_judged_without_a_crash(text: str) -> None:
    for field in ("catalogue number", "lot", "weight g", "date found", "latitude", "note"):
        assert isinstance(cell_fault(field, TypedCell(text)), str)
