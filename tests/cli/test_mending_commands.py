"""Commands layout, treatment and form: what they print, and that bad input is one line and changes nothing."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from motifs.catalogue import Catalogue
from motifs.cli import main
from motifs.workflows.moves import move_sherds
from tests.ui.conftest import propose
from tests.workflows.tray import save_tray

if TYPE_CHECKING:
    from pathlib import Path

LOT = "11-4"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("made")
    save_tray(made / "tray.jpg", 1)
    assert main(["--collection", str(made / "c"), "intake", str(made / "tray.jpg"), "--lot", LOT]) == 0
    with Catalogue.open(made / "c") as cat:
        numbers = [sherd.number for sherd in cat.sherds(LOT)]
        move_sherds(cat, LOT, numbers, "big jar", by="A. Reed")
    save_tray(made / "other.jpg", 2)
    assert main(["--collection", str(made / "c"), "intake", str(made / "other.jpg"), "--lot", "counted"]) == 0
    return made


def run(folder: Path, capsys: pytest.CaptureFixture[str], *arguments: object, code: int = 0) -> tuple[str, str]:
    capsys.readouterr()
    assert main(["--collection", str(folder / "c"), *map(str, arguments)]) == code
    printed = capsys.readouterr()
    return printed.out, printed.err


def document(folder: Path, capsys: pytest.CaptureFixture[str], *arguments: object) -> dict:
    return json.loads(run(folder, capsys, *arguments, "--json")[0])


def test_layout_has_the_shape_of_the_contract(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    laid = document(folder, capsys, "layout", LOT, "--vessel", "big jar")
    assert {one["by"] for one in laid["placements"]} <= {"joins", "band", "loose"}
    for one in laid["placements"]:
        assert {"sherd", "x_mm", "y_mm", "turn_deg", "residual_mm"} <= one.keys()
    assert all({"step", "add", "to", "warning"} <= step.keys() for step in laid["steps"])
    assert "conservator" in laid["caution"]
    assert "missing_share" in laid


def test_people_count_vessels_from_1_and_json_from_0(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Catalogue.open(folder / "c") as cat:
        propose(cat, "counted", [0, 1, 1, None])
    printed = run(folder, capsys, "layout", "counted", "--vessel", "2")[0]
    assert printed.startswith("Vessel 2 of lot counted")
    # What JSON prints as vessel 1 is the second one, and is given back as 1.
    laid = document(folder, capsys, "layout", "counted", "--vessel", "1")
    assert laid["vessel"] == "2"
    assert len(laid["placements"]) == 2
    assert document(folder, capsys, "form", "counted", "--vessel", "0")["vessel"] == "1"
    for command in ("layout", "form", "treatment"):
        told = run(folder, capsys, command, "counted", "--vessel", "0", code=2)[1]
        assert told.count("\n") == 1
        assert "no vessel '0' in lot 'counted'; it has 1, 2" in told


def test_layout_by_hand_and_on_paper(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sherd = f"{LOT}-001"
    files = {"--picture": "a.png", "--plan": "a.pdf", "--true-size": "b.pdf", "--sheet": "c.pdf"}
    asked = [part for option, name in files.items() for part in (option, folder / name)]
    laid = document(folder, capsys, "layout", LOT, "--vessel", "big jar", "--place", sherd, 40, 50, 10, *asked)
    (one,) = [p for p in laid["placements"] if p["sherd"] == sherd]
    assert one["locked"]
    assert all((folder / name).stat().st_size > 1000 for name in files.values())
    assert "locked" in run(folder, capsys, "layout", LOT, "--vessel", "big jar", "--release", sherd)[0]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["layout", LOT, "--vessel", "none"], "no vessel 'none'"),
        (["layout", "no lot", "--vessel", "1"], "no lot"),
        (["layout", LOT, "--vessel", "big jar", "--place", f"{LOT}-001", "x", 0, 0], "as numbers"),
        (["layout", LOT, "--vessel", "big jar", "--place", "no such", 1, 0, 0], "no sherd"),
        (["layout", LOT, "--vessel", "big jar", "--plan", "plan.gif"], "cannot be written"),
        (["treatment", LOT, "--vessel", "big jar", "--add", "joining"], "missing"),
        (["treatment", LOT, "--add", "joining"], "--vessel V"),
        (["treatment", LOT, "--withdraw", 99], "no treatment entry"),
        (["treatment", LOT, "--solution", "ten", "w/w"], "no number"),
        (["treatment", LOT, "--solution", 10, "%"], "basis"),
        (["form", LOT, "--vessel", "big jar", "--repeats", 12], "--profile"),
        (["form", LOT, "--vessel", "big jar", "--profile", "0,60"], "two points"),
        (["form", LOT, "--vessel", "big jar", "--draw", "x.svg"], "rim"),
    ],
)
def test_bad_input_is_one_line(
    folder: Path, capsys: pytest.CaptureFixture[str], arguments: list[object], told: str
) -> None:
    out, err = run(folder, capsys, *arguments, code=2)
    assert out == ""
    assert told in err
    assert len(err.strip().splitlines()) == 1 or err.strip().splitlines()[-1].count(told) == 1


def test_the_record_from_deciding_to_taking_apart(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    entry = ["treatment", LOT, "--vessel", "big jar", "--date", "2026-03-05", "--person", "A. Reed"]
    kept = document(
        folder, capsys, *entry, "--add", "decision", "--field", "answer=leave apart", "--field", "against=weak ware"
    )
    assert kept["entries"][0]["fields"] == {"answer": "leave apart", "against": "weak ware"}
    asked = ["adhesive=B-72", "solvent=acetone", "percent=40", "basis=w/w", "joins=001 to 002", "batch=0012"]
    kept = document(folder, capsys, *entry, "--add", "joining", *(part for f in asked for part in ("--field", f)))
    assert "taking apart" in kept["missing"]
    assert any("flash point" in warning for warning in kept["warnings"])
    lines = run(folder, capsys, "treatment", LOT, "--solution", 25, "w/w")[0].splitlines()
    # 25 % by mass is one part to three: 26.1 g to 100 mL of acetone (density 0.784, from memory).
    assert "26.13 g" in lines[0]
    assert any("conservator" in line for line in lines[1:])


def test_a_form_with_its_repeats_and_drawing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # 180 mm across and a repeat of 47 mm: 565.5 / 47 = 12.03, so 12 repeats (plane geometry).
    profile = ["0,90", "60,70", "100,40"]
    made = ["form", LOT, "--vessel", "big jar", "--profile", *profile, "--wall", 6, "--repeat-mm", 47, "--sure-to", 60]
    told = document(folder, capsys, *made, "--draw", folder / "form.svg", "--scale", 2)
    assert told["form"]["repeats"] == 12
    drawn = (folder / "form.svg").read_text()
    assert "rim diameter 180 mm" in drawn
    assert "conjecture" in drawn
    document(folder, capsys, "form", LOT, "--vessel", "big jar", "--draw", folder / "form.pdf", "--section-right")
    assert (folder / "form.pdf").read_bytes().startswith(b"%PDF")
    run(folder, capsys, "form", LOT, "--vessel", "big jar", "--draw", folder / "x.svg", "--scale", 7, code=2)
