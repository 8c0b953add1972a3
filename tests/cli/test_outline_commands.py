"""`outline`, `undo`, `redo`: what the page can do to an outline, as a script does it."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING, Any

import pytest

from motifs.cli import main
from tests.workflows.tray import save_tray

if TYPE_CHECKING:
    from pathlib import Path

LOT = "11-4"
A, B, C, D = (f"{LOT}-00{number}" for number in (1, 2, 3, 4))
FREE = [[620, 420], [700, 420], [700, 500], [620, 500]]


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    save_tray(folder / "tray.jpg", 1)
    line = ["--collection", str(folder / "collection"), "intake", str(folder / "tray.jpg"), "--lot", LOT]
    assert main(line) == 0
    return folder


@pytest.fixture
def folder(made_once: Path, tmp_path: Path) -> Path:
    shutil.copytree(made_once / "collection", tmp_path / "collection")
    return tmp_path / "collection"


class Caller:
    """Runs command lines on one collection."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder, self.capsys = folder, capsys

    def __call__(self, *arguments: object) -> dict[str, Any]:
        self.capsys.readouterr()
        assert main(["--collection", str(self.folder), *map(str, arguments), "--by", "M. Oduya", "--json"]) == 0
        document: dict[str, Any] = json.loads(self.capsys.readouterr().out)
        return document

    def refused(self, *arguments: object) -> str:
        self.capsys.readouterr()
        try:
            code = main(["--collection", str(self.folder), *map(str, arguments)])
        except SystemExit as end:
            code = end.code
        out, err = self.capsys.readouterr()
        assert (code, out, len(err.strip().splitlines())) == (2, "", 1)
        return err

    def outlines(self, *numbers: str) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = self("outline", *numbers)["outlines"]
        return found


@pytest.fixture
def call(folder: Path, capsys: pytest.CaptureFixture[str]) -> Caller:
    return Caller(folder, capsys)


def stroke_over(outline: list[list[float]]) -> list[str]:
    """From left to right through the middle of its box."""
    xs, ys = zip(*outline, strict=True)
    y = (min(ys) + max(ys)) / 2
    return [f"{min(xs) - 10:.1f},{y}", f"{max(xs) + 10:.1f},{y}"]


def test_outlines_are_shown(call: Caller) -> None:
    first, second = call.outlines(A, B)
    assert (first["sherd"], second["sherd"]) == (A, B)
    assert (first["drawn_by"], first["rim_up_deg"], first["state"]) == (None, None, "kept")
    assert len(first["outline_px"]) >= 3


def test_a_shown_outline_can_be_edited_and_given_back(call: Caller, tmp_path: Path) -> None:
    shown = call.outlines(A)[0]
    lowered = {"outline_px": [[x, y + 2] for x, y in shown["outline_px"]]}
    (tmp_path / "a.json").write_text(json.dumps(lowered))
    redrawn = call("outline", A, "--redraw", tmp_path / "a.json")["outlines"][0]
    assert redrawn["drawn_by"] == "M. Oduya"
    assert redrawn["area_mm2"] == pytest.approx(shown["area_mm2"], rel=0.01)
    assert min(y for _, y in redrawn["outline_px"]) == pytest.approx(
        min(y for _, y in shown["outline_px"]) + 2, abs=0.3
    )


def test_split_merge_drop_turn_and_back(call: Caller) -> None:
    whole = call.outlines(A)[0]
    pieces = call("outline", A, "--split", *stroke_over(whole["outline_px"]))["outlines"]
    assert [piece["sherd"] for piece in pieces] == [A, f"{LOT}-005"]
    assert sum(piece["area_mm2"] for piece in pieces) == pytest.approx(whole["area_mm2"], rel=1e-3)
    assert call("undo", LOT)["taken_back"] == [f"sherd split {A}"]
    assert call.outlines(A)[0]["outline_px"] == whole["outline_px"]
    assert call("redo", LOT) == {"lot": LOT, "done_again": f"sherd split {A}"}
    merged = call("outline", A, f"{LOT}-005", "--merge")["outlines"][0]
    assert merged["area_mm2"] == pytest.approx(whole["area_mm2"], rel=0.01)
    assert call("outline", B, C, "--rim-up", -90)["outlines"][0]["rim_up_deg"] == 270.0
    assert call("outline", B, "--rim-up", "unknown")["outlines"][0]["rim_up_deg"] is None
    assert call("outline", D, "--looked-over")["outlines"][0]["look"] is None
    assert {row["state"] for row in call("outline", B, C, "--drop")["outlines"]} == {"dropped"}
    assert [
        row["sherd"] for row in call("intake", call.folder.parent / "tray.jpg", "--lot", LOT)["photos"][0]["sherds"]
    ] == [
        D,
        f"{LOT}-006",
    ]


@pytest.fixture(autouse=True)
def _tray_beside(made_once: Path, tmp_path: Path) -> None:
    shutil.copy(made_once / "tray.jpg", tmp_path / "tray.jpg")


def test_a_missed_sherd_is_added(call: Caller, tmp_path: Path) -> None:
    (tmp_path / "new.json").write_text(json.dumps(FREE))
    added = call("outline", "--add", tmp_path / "new.json", "--photo", call.outlines(A)[0]["photo"])["outlines"][0]
    assert (added["sherd"], added["drawn_by"]) == (f"{LOT}-005", "M. Oduya")
    assert sorted(added["outline_px"]) == sorted(FREE)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (["outline"], "no sherd is named"),
        (["outline", "11-4-099"], "11-4-099"),
        (["outline", A, "--redraw", "FOLDER/none.json"], "none.json"),
        (["outline", A, "--redraw", "FOLDER/bad.json"], "not JSON"),
        (["outline", A, "--redraw", "FOLDER/empty.json"], "not JSON"),
        (["outline", A, "--redraw", "FOLDER/object.json"], "holds no outline"),
        (["outline", A, "--redraw", "FOLDER/eight.json"], "crosses itself"),
        (["outline", A, "--redraw", "FOLDER/words.json"], "not a list of points"),
        (["outline", A, "--redraw", "FOLDER/tiny.json"], "too small"),
        (["outline", A, "--redraw", "FOLDER/beyond.json"], "leaves the photograph"),
        (["outline", A, B, "--redraw", "FOLDER/tiny.json"], "one sherd at a time"),
        (["outline", A, B, "--split", "1,1", "2,2"], "one sherd at a time"),
        (["outline", A, "--split", "1,1"], "at least two points"),
        (["outline", A, "--split", "1,1", "2,2"], "does not cut"),
        (["outline", A, "--split", "1,1", "nan,2"], "not a list of points"),
        (["outline", A, "--split", "1;1"], "X,Y"),
        (["outline", A, "--merge"], "two"),
        (["outline", A, "--merge", "--drop"], "not allowed with"),
        (["outline", A, A, "--merge"], "two"),
        (["outline", A, "--rim-up", "north"], "angle"),
        (["outline", A, "--rim-up", "inf"], "angle"),
        (["outline", A, "--add", "FOLDER/tiny.json", "--photo", "1"], "no sherd"),
        (["outline", "--add", "FOLDER/tiny.json"], "--photo"),
        (["outline", "--add", "FOLDER/tiny.json", "--photo", "77"], "77"),
        (["outline", A, "11-4-099", "--drop"], "11-4-099"),
        (["undo", LOT], "nothing to undo"),
        (["redo", LOT], "nothing to do again"),
        (["undo", "11-5"], "11-5"),
        (["redo", "11-5"], "11-5"),
    ],
)
def test_what_cannot_be_done_is_one_line_and_changes_nothing(
    line: list[str], told: str, call: Caller, tmp_path: Path
) -> None:
    files = {
        "bad": "{[",
        "empty": "",
        "object": '{"points": []}',
        "eight": json.dumps([[100, 100], [200, 200], [200, 100], [100, 200]]),
        "words": '["a", "b", "c"]',
        "tiny": "[[10, 10], [12, 10], [12, 12]]",
        "beyond": "[[10, 10], [5000, 10], [12, 12]]",
    }
    for name, text in files.items():
        (tmp_path / f"{name}.json").write_text(text)
    before = call.outlines(A, B, C, D)
    assert told in call.refused(*(part.replace("FOLDER", str(tmp_path)) for part in line))
    assert call.outlines(A, B, C, D) == before
