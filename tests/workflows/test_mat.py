"""The mat's code set against what was typed, and the sheet itself as a file."""

from pathlib import Path

import numpy as np
import pytest

from motifs.errors import InputError, NameRefused, UnknownName
from motifs.records import LightField, TrayReading
from motifs.workflows.intake import ReadPhoto
from motifs.workflows.mat import print_mat, settle_lot

LIGHT = LightField(np.ones((2, 2, 3), np.float32), "mat", (90.0, 0.0, 0.0), 0.1)


def photo(lot=None, site=None, name="a.jpg"):
    return ReadPhoto(Path(name), "0" * 64, 10, 10, TrayReading(None, LIGHT, (), 0, ("before",), lot=lot, site=site))


def test_what_is_typed_wins_and_the_other_is_told():
    (read,), lot, site = settle_lot([photo("K-12", "Kestrel Ford")], lot="Q7", site=None)
    assert (lot, site) == ("Q7", None)
    assert read.reading.warnings[0] == "before"
    assert "lot 'K-12'" in read.reading.warnings[1]
    assert "'Q7' was taken" in read.reading.warnings[1]


def test_a_code_proposes_what_is_not_typed():
    photos, lot, site = settle_lot([photo("0012", "Kestrel Ford"), photo("0012"), photo()], lot=None, site=None)
    assert (lot, site) == ("0012", "Kestrel Ford")
    assert [len(read.reading.warnings) for read in photos] == [3, 2, 1]


def test_agreement_says_nothing():
    (read,), *_ = settle_lot([photo("K-12", "Kestrel Ford")], lot="K-12", site="Kestrel Ford")
    assert read.reading.warnings == ("before",)


def test_no_lot_anywhere_or_two_of_them():
    for photos in ([], [photo()], [ReadPhoto(Path("known.jpg"), "0" * 64)]):
        with pytest.raises(InputError, match="give --lot"):
            settle_lot(photos, lot=None, site=None)
    with pytest.raises(InputError, match="one by one"):
        settle_lot([photo("A"), photo("B")], lot=None, site=None)
    with pytest.raises(NameRefused):
        settle_lot([photo("../A")], lot=None, site=None)


def test_the_sheet_is_written_once(tmp_path):
    print_mat("a3", tmp_path / "mat.pdf", lot="11-4", site="Kestrel Ford")
    first = (tmp_path / "mat.pdf").read_bytes()
    print_mat("A3", tmp_path / "again.pdf", lot="11-4", site="Kestrel Ford")
    assert (tmp_path / "again.pdf").read_bytes() == first
    with pytest.raises(InputError, match="there already"):
        print_mat("A3", tmp_path / "mat.pdf")
    with pytest.raises(InputError, match="cannot be written"):
        print_mat("A3", tmp_path / "none" / "mat.pdf")
    with pytest.raises(UnknownName, match="A4, A3"):
        print_mat("B5", tmp_path / "b5.pdf")
    with pytest.raises(InputError, match="too long"):
        print_mat("A4", tmp_path / "long.pdf", lot="L" * 150, site="S" * 60)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["again.pdf", "mat.pdf"]
