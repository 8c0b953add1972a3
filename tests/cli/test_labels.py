"""Command `labels`: reads, proposes, numbers only what is accepted; one JSON document on stdout and nothing else."""

from __future__ import annotations

import io
import json
from typing import TYPE_CHECKING

import pytest
from PIL import Image

from motifs.catalogue import Catalogue
from motifs.cli import main
from tests.imaging.slips import numbered_tray

if TYPE_CHECKING:
    from pathlib import Path

LOT = "11-4"
TRAY = numbered_tray(5, sherds=3)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("labels") / "collection"
    content = io.BytesIO()
    Image.fromarray(TRAY.photo.rgb).save(content, "PNG")
    with Catalogue.open(made, create=True) as cat, cat.transaction(by="test"):
        cat.ensure_lot(LOT)
        photo = cat.add_photo(LOT, content.getvalue(), file_name="tray.png", width_px=1720, height_px=1300)
        for outline in TRAY.outlines:
            cat.add_sherd(photo.photo_id, outline)
    return made


def run(folder: Path, capsys: pytest.CaptureFixture[str], *arguments: object, code: int = 0) -> tuple[str, str]:
    capsys.readouterr()
    assert main(["--collection", str(folder), "labels", LOT, *map(str, arguments)]) == code
    printed = capsys.readouterr()
    return printed.out, printed.err


def test_read_accept_refuse(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out, _ = run(folder, capsys, "--read", "--json")
    (line,) = out.splitlines()
    labels = json.loads(line)["labels"]
    assert [label["reads"] for label in labels] == list(TRAY.numbers)
    assert [label["sherd"] for label in labels] == [f"{LOT}-00{n}" for n in (1, 2, 3)]
    out, _ = run(folder, capsys, "--accept", f"{LOT}-001", f"{LOT}-002=0012", "--refuse", f"{LOT}-003")
    lines = out.splitlines()
    assert lines[:2] == [f"{LOT}-001 is {TRAY.numbers[0]} now", f"{LOT}-002 is 0012 now"]
    assert lines[-1].startswith("0 of 3 sherds have a number proposed")
    with Catalogue.open(folder) as cat:
        assert [sherd.number for sherd in cat.sherds(LOT)] == [TRAY.numbers[0], "0012", f"{LOT}-003"]


def test_bad_input_is_one_line(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, err = run(folder, capsys, "--accept", "nothing-like-it", code=2)
    assert len(err.splitlines()) == 1
    assert "nothing is proposed" in err
