"""Lists of comparanda: kept from an answer, written as a table that spreadsheets cannot take for formulas."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

import pytest

from motifs.catalogue import Citation
from motifs.errors import CollectionNotWritable, InputError, UnknownName
from motifs.workflows.comparanda import Comparanda, Neighbour
from motifs.workflows.comparanda_lists import (
    COLUMNS,
    citation_of,
    drop_comparandum,
    keep_comparandum,
    list_csv,
    write_list,
)
from tests.workflows.conftest import LOT, OTHER

if TYPE_CHECKING:
    from pathlib import Path

    from motifs.catalogue import Catalogue

A, B = f"{LOT}-001", f"{OTHER}-002"
FOUND = Comparanda(A, "motif.x", None, (Neighbour(1, B, OTHER, "Marl Hill", 0.81, 0.93),), 11, ())


def test_what_the_search_said_is_kept_and_written(cat: Catalogue) -> None:
    keep_comparandum(cat, "hooks", A, B, "both turn left", found=FOUND, by="M. Oduya")
    book = Citation(
        author="Tamsin Hale", year="2004", title="Hooked bowls", figure="3", holder="Wend museum", rights="CC BY 4.0"
    )
    keep_comparandum(cat, "hooks", A, None, "the same hooks", citation=book, by="M. Oduya")
    rows = list(csv.DictReader(io.StringIO(list_csv(cat, "hooks"))))
    assert list(rows[0]) == list(COLUMNS)
    first, second = rows
    assert (first["sherd"], first["comparandum"], first["comparandum_site"]) == (A, B, "Marl Hill")
    assert (first["similarity"], first["probability_same_motif"], first["encoder"]) == ("0.81", "0.93", "motif.x")
    assert (first["reason"], first["judged_by"]) == ("both turn left", "M. Oduya")
    assert (second["comparandum"], second["author"], second["figure"], second["rights"]) == (
        "",
        "Tamsin Hale",
        "3",
        "CC BY 4.0",
    )
    assert second["similarity"] == ""


def test_no_cell_begins_as_a_formula(cat: Catalogue) -> None:
    """OWASP, "CSV Injection": cells that begin with =, +, -, @, tab or carriage return are run by spreadsheets."""
    for start in ("=1+1", "+1", "-1", "@SUM(A1)"):
        keep_comparandum(cat, "hooks", A, None, start, citation=Citation(title=start), by="M. Oduya")
    for row in csv.reader(io.StringIO(list_csv(cat, "hooks"))):
        assert not any(cell.startswith(("=", "+", "-", "@")) for cell in row)


def test_a_table_is_never_written_over(cat: Catalogue, tmp_path: Path) -> None:
    keep_comparandum(cat, "hooks", A, B, "both turn left", by="M. Oduya")
    file = tmp_path / "hooks.csv"
    assert write_list(cat, "hooks", file) == 1
    kept = file.read_bytes()
    assert kept.startswith(b"\xef\xbb\xbf")
    with pytest.raises(InputError, match="not overwritten"):
        write_list(cat, "hooks", file)
    assert file.read_bytes() == kept
    with pytest.raises(CollectionNotWritable):
        write_list(cat, "hooks", tmp_path / "absent" / "hooks.csv")
    with pytest.raises(UnknownName):
        write_list(cat, "none", tmp_path / "none.csv")
    assert not (tmp_path / "none.csv").exists()


def test_taken_out_again(cat: Catalogue) -> None:
    kept = keep_comparandum(cat, "hooks", A, B, "both turn left", by="M. Oduya")
    assert kept.similarity is None
    drop_comparandum(cat, kept.entry_id, by="M. Oduya")
    assert cat.comparanda_lists() == ()


def test_fields_of_a_citation() -> None:
    assert citation_of({"author": " T. Hale ", "year": "2004"}) == Citation(author="T. Hale", year="2004")
    with pytest.raises(InputError, match="isbn"):
        citation_of({"isbn": "1"})
