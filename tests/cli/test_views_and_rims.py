"""Commands on views and rims: what they print, and that bad input is one line and changes nothing."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest
from PIL import ImageOps

from motifs.cli import main
from tests.workflows.tray import save_tray, tray_image

if TYPE_CHECKING:
    from pathlib import Path

LOT = "11-4"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("made")
    save_tray(made / "faces.jpg", 1)
    ImageOps.mirror(tray_image(1)).save(made / "backs.jpg", quality=92)
    assert main(["--collection", str(made / "c"), "intake", str(made / "faces.jpg"), "--lot", LOT]) == 0
    return made


def run(folder: Path, capsys: pytest.CaptureFixture[str], *arguments: object, code: int = 0) -> tuple[str, str]:
    capsys.readouterr()
    assert main(["--collection", str(folder / "c"), *map(str, arguments)]) == code
    printed = capsys.readouterr()
    return printed.out, printed.err


def document(folder: Path, capsys: pytest.CaptureFixture[str], *arguments: object) -> dict:
    return json.loads(run(folder, capsys, *arguments, "--json")[0])


def test_backs_then_settled(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    taken = document(folder, capsys, "views", LOT, "--backs", folder / "backs.jpg")
    assert [view["shows"] for view in taken["views"]] == ["interior"] * 4
    assert taken["without"] == []
    assert {view["sherd"] for view in taken["views"]} == {f"{LOT}-00{n}" for n in (1, 2, 3, 4)}
    first, second = taken["views"][:2]
    settled = document(folder, capsys, "views", LOT, "--confirm", first["view"], "--loose", second["view"])
    assert settled["views"][0]["standing"] == "confirmed"
    assert settled["without"] == [second["sherd"]]
    lines = run(folder, capsys, "views", LOT, "--pair", second["view"], second["sherd"])[0].splitlines()
    assert lines[-1] == "4 views; 0 of 4 sherds without a view showing interior"
    assert "is no number of a view" in run(folder, capsys, "views", LOT, "--pair", "x", "y", code=2)[1]
    assert "catalogued as faces" in run(folder, capsys, "views", LOT, "--backs", folder / "faces.jpg", code=2)[1]


def test_rims_recorded_and_added_up(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    read = document(folder, capsys, "rim", f"{LOT}-001", "--chord", 60, "--sagitta", 6)
    assert read["rim"]["diameter_mm"] == pytest.approx(156.0)
    assert read["recorded"]
    document(folder, capsys, "rim", f"{LOT}-002", "--diameter", 200, "--percent", 12, "--note", "worn lip")
    assert "diameter unknown" in run(folder, capsys, "rim", f"{LOT}-003", "--unknown")[0]
    rims = document(folder, capsys, "rims", LOT)
    assert [rim["method"] for rim in rims["rims"]] == ["chord", "chart", "unknown"]
    assert rims["eve"] == pytest.approx((read["rim"]["percent"] + 12) / 100)
    assert run(folder, capsys, "rims", LOT)[0].splitlines()[-1].startswith("3 rims, 1 with diameter unknown; EVE 0.2")
    run(folder, capsys, "rim", f"{LOT}-003", "--withdraw")
    assert len(document(folder, capsys, "rims", LOT)["rims"]) == 2


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ([], "recorded in one way"),
        (["--unknown", "--diameter", 200], "not --diameter and --unknown together"),
        (["--chord", 60], "go together"),
        (["--percent", 12], "means nothing"),
        (["--accept", "--unknown"], "go with --stretch"),
        (["--chord", 60, "--sagitta", 0.5], "record the rim with diameter unknown"),
        (["--diameter", 200, "--percent", 120], "cannot be"),
    ],
)
def test_a_rim_that_cannot_be(
    folder: Path, capsys: pytest.CaptureFixture[str], arguments: list[object], told: str
) -> None:
    before = document(folder, capsys, "rims", LOT)
    printed = run(folder, capsys, "rim", f"{LOT}-004", *arguments, code=2)
    assert told in printed[1]
    assert len(printed[1].splitlines()) == 1
    assert document(folder, capsys, "rims", LOT) == before


def test_sherds_tells_units_and_uncertainties(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rows = document(folder, capsys, "sherds", "--measure")["sherds"]
    for row in rows:
        for name, figure in row["measurements"].items():
            if name not in {"area_mm2", "max_dimension_mm"}:
                assert {"value", "unit", "sd"} <= set(figure), name
    assert "not measured" not in run(folder, capsys, "sherds")[1]
