"""`counts` and `tell --cannot-tell` from the command line: what is printed, and one line for what cannot be."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from motifs.catalogue import Catalogue
from motifs.cli.entry import main
from motifs.workflows.intake import catalogue_photos, read_photos
from motifs.workflows.rims import record_rim, rim_by_chart
from tests.workflows.tray import save_tray

if TYPE_CHECKING:
    from pathlib import Path

LOT, BY = "B-03", "M. Oduya"
A, B = f"{LOT}-001", f"{LOT}-002"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """One lot of four sherds with two rims."""
    with Catalogue.open(tmp_path / "collection", create=True) as cat:
        catalogue_photos(cat, read_photos([save_tray(tmp_path / "tray.jpg", 1)]), lot=LOT, by="test")
        record_rim(cat, A, rim_by_chart(200.0, 40.0), by=BY)
        record_rim(cat, B, rim_by_chart(240.0, 20.0), by=BY)
    return tmp_path / "collection"


def answer(capsys: pytest.CaptureFixture[str], folder: Path, *line: str) -> dict[str, object]:
    assert main(["--collection", str(folder), *line, "--json"]) == 0
    told: dict[str, object] = json.loads(capsys.readouterr().out)
    return told


def test_every_number_has_its_method(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = answer(capsys, folder, "counts", LOT)
    assert (told["lot"], told["sherds"], told["rims"]) == (LOT, 4, 2)
    lines = [*told["vessels"], *told["measures"]]  # type: ignore[misc]
    assert all(line["method"] for line in lines)
    assert next(line["low"] for line in lines if line["what"] == "EVE") == pytest.approx(0.6)
    assert main(["--collection", str(folder), "counts", LOT]) == 0
    assert "rim EVE rounded up by type and diameter" in capsys.readouterr().out


def test_a_lot_that_is_not_there_is_one_line(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--collection", str(folder), "counts", "never"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.splitlines()) == 1


def test_what_cannot_be_told_is_kept_and_taken_back(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = answer(capsys, folder, "tell", LOT, "--cannot-tell", A, B, "--by", BY)
    assert told == {"lot": LOT, "links": 0, "open_pairs": 1}
    with Catalogue.open(folder) as cat:
        assert [(pair.a, pair.b, pair.by) for pair in cat.open_pairs(LOT)] == [(A, B, BY)]
    assert answer(capsys, folder, "tell", LOT, "--withdraw", A, B, "--by", BY)["open_pairs"] == 0
    assert main(["--collection", str(folder), "tell", LOT, "--cannot-tell", A, "never", "--by", BY]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1
