"""The mat's code set against what was typed, and the sheet itself as a file."""

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from shapely.geometry import Polygon

from motifs.cli.entry import main
from motifs.errors import InputError, NameRefused, UnknownName
from motifs.records import LightField, TrayReading
from motifs.workflows.intake import ReadPhoto
from motifs.workflows.mat import print_mat, settle_lot
from tests.imaging.mats import Shot, shoot
from tests.imaging.test_formats import exif_of_a_phone

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


def test_a_phone_photograph_of_a_mat_from_file_to_catalogue(tmp_path, capsys):
    """The whole way by the command: lot and site from the code, sizes with their sd, and no place in what is derived."""
    shot = shoot(Shot(size_px=(1300, 975), sherds=3, tilt_deg=20.0, lot="11-4"))
    path = tmp_path / "IMG_0001.JPG"
    path.write_bytes(shot.jpeg(exif=exif_of_a_phone()))
    assert main(["--collection", str(tmp_path / "c"), "intake", str(path), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    (taken,) = answer["photos"]
    assert (answer["lot"], answer["site"]) == ("11-4", "Kestrel Ford")
    assert (taken["scale_from"], taken["light_from"]) == ("mat", "mat")
    assert taken["mm_per_px_sd"] / taken["mm_per_px"] < 0.005
    true = sorted(Polygon(outline).buffer(0).area for outline in shot.outlines_mm)
    found = sorted(sherd["area_mm2"] for sherd in taken["sherds"])
    assert found == pytest.approx(true, rel=0.06)
    assert all(sherd["max_dimension_mm_sd"] > 0 for sherd in taken["sherds"])
    assert any("mm away" in line for line in taken["warnings"])
    derived = list((tmp_path / "c" / "derived").rglob("*.png"))
    assert derived
    for file in derived:
        with Image.open(file) as image:
            assert not image.getexif()


def test_the_command_refuses_half_an_order(tmp_path, capsys):
    for words in (["--mat", "A4"], ["--out", "m.pdf"], ["--mat", "A4", "--out", str(tmp_path / "m.pdf"), "a.jpg"]):
        assert main(["--collection", str(tmp_path / "c"), "intake", *words]) == 2
        assert len(capsys.readouterr().err.strip().splitlines()) == 1
    assert not list(tmp_path.iterdir())
