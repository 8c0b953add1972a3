"""Every command on a small collection: the JSON that scripts rely on, the lines that people read."""

from __future__ import annotations

import json
import shutil
import socket
import zipfile
from functools import partial
from typing import TYPE_CHECKING, Any

import pytest

from motifs.cli import main
from motifs.workflows import practice
from tests.workflows.tray import PX_PER_MM, SIZE_PX, save_tray

if TYPE_CHECKING:
    from pathlib import Path

LOT, OTHER = "11-4", "1E5"


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    for seed in (1, 2, 3):
        save_tray(folder / f"tray_{seed}.jpg", seed)
    start = ["--collection", str(folder / "collection"), "intake"]
    assert (
        main([*start, str(folder / "tray_1.jpg"), str(folder / "tray_2.jpg"), "--lot", LOT, "--site", "Kestrel Ford"])
        == 0
    )
    assert main([*start, str(folder / "tray_3.jpg"), "--lot", OTHER, "--site", "Marl Hill"]) == 0
    return folder


@pytest.fixture
def folder(made_once: Path, tmp_path: Path) -> Path:
    shutil.copytree(made_once / "collection", tmp_path / "collection")
    return tmp_path / "collection"


class Caller:
    """Runs command lines on one collection."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder = folder
        self.capsys = capsys

    def lines(self, *arguments: object, code: int = 0) -> list[str]:
        self.capsys.readouterr()
        assert main(["--collection", str(self.folder), *map(str, arguments)]) == code
        return self.capsys.readouterr().out.splitlines()

    def json(self, *arguments: object, code: int = 0) -> dict[str, Any]:
        printed = self.lines(*arguments, "--json", code=code)
        assert len(printed) == 1
        document: dict[str, Any] = json.loads(printed[0])
        return document


@pytest.fixture
def call(folder: Path, capsys: pytest.CaptureFixture[str]) -> Caller:
    return Caller(folder, capsys)


def test_intake_tells_photo_scale_and_outlines(call: Caller, tmp_path: Path) -> None:
    tray = save_tray(tmp_path / "new.jpg", 7, sherds=3)
    photo = call.json("intake", tray, "--lot", "0012")["photos"][0]
    assert (photo["file"], photo["width_px"], photo["height_px"]) == (str(tray), *SIZE_PX)
    assert photo["mm_per_px"] == pytest.approx(1 / PX_PER_MM, rel=0.007)
    assert [sherd["sherd"] for sherd in photo["sherds"]] == ["0012-001", "0012-002", "0012-003"]
    for sherd in photo["sherds"]:
        assert all(0 <= x <= SIZE_PX[0] and 0 <= y <= SIZE_PX[1] for x, y in sherd["outline_px"])
        assert 0 < sherd["max_dimension_mm"] < 60
    assert len(photo["warnings"]) == 1
    assert (
        "5 blocks and no figures" in photo["warnings"][0]
    )  # the drawn bar has none: what was taken for granted is said


def test_intake_again_says_so(call: Caller, made_once: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--collection", str(call.folder), "intake", str(made_once / "tray_1.jpg"), "--lot", LOT]) == 0
    assert "already catalogued" in capsys.readouterr().err


def test_sherds_lists_everything_or_one_lot(call: Caller) -> None:
    everything = call.json("sherds")["sherds"]
    assert [row["sherd"] for row in everything] == [f"{LOT}-{n:03d}" for n in range(1, 9)] + [
        f"{OTHER}-{n:03d}" for n in range(1, 5)
    ]
    assert {row["site"] for row in everything} == {"Kestrel Ford", "Marl Hill"}
    assert all(row["measurements"]["area_mm2"] > 0 and row["tags"] == [] for row in everything)
    assert len(call.json("sherds", "--lot", OTHER)["sherds"]) == 4
    assert call.lines("sherds")[-1] == "12 sherds"


def test_tell_then_sort_obeys(call: Caller) -> None:
    a, b, c = (f"{LOT}-00{n}" for n in (1, 2, 3))
    assert call.json("tell", LOT, "--same", a, b, "--different", a, c)["links"] == 2
    sorted_lot = call.json("sort", LOT)
    vessel = {placed["sherd"]: placed["vessel"] for placed in sorted_lot["assignments"]}
    assert list(vessel) == [f"{LOT}-{n:03d}" for n in range(1, 9)]
    assert vessel[a] is not None
    assert vessel[a] == vessel[b]
    assert vessel[c] != vessel[a]


def test_sort_separates_two_pastes(call: Caller) -> None:
    """The trays' sherds are of two pastes by turns, far apart: anything but two clean vessels is wrong."""
    sorted_lot = call.json("sort", LOT)
    assert sorted_lot["vessels"] == 2
    low, high = sorted_lot["vessels_range"]
    assert low <= 2 <= high
    vessels = [placed["vessel"] for placed in sorted_lot["assignments"]]
    assert None not in vessels
    assert len(set(vessels)) == 2
    assert all(0 <= placed["support"] <= 1 and placed["why"] for placed in sorted_lot["assignments"])
    assert set(sorted_lot) >= {"lot", "question", "questions"}
    again = call.json("sort", LOT)
    assert again == sorted_lot


def test_sort_reads_in_plain_lines(call: Caller) -> None:
    printed = call.lines("sort", LOT)
    assert printed[0].startswith(f"Lot {LOT}: 2 vessels proposed")
    assert any(line.startswith(f"{LOT}-001") for line in printed)
    sorted_lot = call.json("sort", LOT)
    assert sorted_lot["names"] == ["1", "2"]
    at = {placed["sherd"]: placed["vessel"] for placed in sorted_lot["assignments"]}
    shown = {line.split()[0]: line.split()[1] for line in printed if line.startswith(f"{LOT}-")}
    assert shown == {sherd: "-" if vessel is None else str(vessel + 1) for sherd, vessel in at.items()}


def test_comparanda_ranks_and_leaves_out(call: Caller) -> None:
    found = call.json("comparanda", f"{LOT}-001", "--top", 3, "--other-sites")
    assert found["query"] == f"{LOT}-001"
    assert [near["rank"] for near in found["neighbours"]] == [1, 2, 3]
    assert {near["site"] for near in found["neighbours"]} == {"Marl Hill"}
    # Most probable first; without fitted curves the order goes by similarity and agreement, which only both together show.
    probable = [near["probability_same_motif"] for near in found["neighbours"]]
    assert probable == sorted(probable, reverse=True) or probable == [None] * 3
    assert all(-1 <= near["similarity"] <= 1 and near["agreement"]["matches"] >= 0 for near in found["neighbours"])
    assert len(call.json("comparanda", f"{LOT}-001", "--box", "60,60,60,60", "--top", 99)["neighbours"]) == 11


def test_check_is_sound_then_names_what_is_lost_and_mends_what_is_derived(call: Caller) -> None:
    assert call.json("check")["is_sound"]
    crop = next((call.folder / "derived").rglob("*.png"))
    crop.unlink()
    report = call.json("check", code=2)
    assert not report["is_sound"]
    assert "missing derived" in {found["kind"] for found in report["findings"]}
    assert call.json("check", "--repair")["is_sound"]
    assert call.json("check")["findings"] == []


def test_check_names_an_altered_original_and_never_mends_it(call: Caller) -> None:
    original = next(path for path in (call.folder / "photos").rglob("*.jpg"))
    original.chmod(0o644)
    original.write_bytes(b"something else")
    report = call.json("check", "--repair", code=2)
    assert "altered original" in {found["kind"] for found in report["findings"] if not found["repaired"]}
    assert original.read_bytes() == b"something else"


def test_backup_holds_catalogue_and_originals(call: Caller, tmp_path: Path) -> None:
    written = call.json("backup", tmp_path / "copy.zip")
    with zipfile.ZipFile(written["file"]) as copy:
        assert copy.testzip() is None
        names = copy.namelist()
    assert sum(name.endswith(".jpg") for name in names) == 3
    assert any(name.endswith("catalogue.sqlite") for name in names)


def test_encoders_names_licence_and_use(call: Caller) -> None:
    listed = call.json("encoders")["encoders"]
    assert "comparanda" in listed[0]["used_for"]
    assert all(row["licence"] and row["tag"] for row in listed)


def test_practice_writes_photographs_and_a_sealed_answer(call: Caller, monkeypatch: pytest.MonkeyPatch) -> None:
    # The same exercise with fewer sherds, since drawing sixty takes long.
    monkeypatch.setattr(practice, "make_exercise", partial(practice.make_exercise, sherds=8))
    made = call.json("practice", "exercise", "--seed", 5)
    assert made["photos"]
    assert all(path.endswith(".jpg") for path in made["photos"])
    assert '"pot"' not in (call.folder / "exports" / "practice" / "exercise" / "answer.sealed.json").read_text()
    assert call.json("check")["is_sound"]
    assert main(["--collection", str(call.folder), "practice", "exercise"]) == 2


def test_serve_refuses_a_taken_port(call: Caller, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket() as holder:
        holder.bind(("localhost", 0))
        holder.listen()
        taken = holder.getsockname()[1]
        assert main(["--collection", str(call.folder), "serve", "--port", str(taken)]) == 2
    assert str(taken) in capsys.readouterr().err
