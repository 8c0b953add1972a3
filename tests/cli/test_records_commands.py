"""import, export, restrict and records as commands: JSON, plain lines, exit codes, nothing changed by a refusal."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING, Any

import pytest

from motifs.cli import main
from motifs.cli.options import UNLOCKING
from tests.workflows.tray import save_tray

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

LOT = "11-4"
FIRST = "11-4-001"


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    tray = save_tray(folder / "tray.jpg", 1)
    assert main(["--collection", str(folder / "c"), "intake", str(tray), "--lot", LOT, "--site", "Kestrel Ford"]) == 0
    return folder / "c"


@pytest.fixture
def folder(made_once: Path, tmp_path: Path) -> Iterator[Path]:
    yield shutil.copytree(made_once, tmp_path / "c")
    UNLOCKING.set(None)


def told(folder: Path, capsys: pytest.CaptureFixture[str], *words: object, code: int = 0) -> dict[str, Any]:
    capsys.readouterr()
    assert main(["--collection", str(folder), *map(str, words), "--json"]) == code
    return json.loads(capsys.readouterr().out)


def test_a_table_is_looked_at_refused_and_taken_in(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "finds.csv"
    table.write_text("Cat. no.,Shelf mark,Weight g\n0012,A1,1.5\n1.00E+05,A2,2\n", encoding="utf-8")
    words = ("import", table, "--lot", LOT, "--map", "Shelf mark=storage place")
    dry = told(folder, capsys, *words, "--dry-run", code=2)
    assert [(fault["row"], fault["column"]) for fault in dry["faults"]] == [(3, "Cat. no.")]
    assert told(folder, capsys, *words, code=2)["written"] == 0
    assert len(told(folder, capsys, "records", "--lot", LOT)["records"]) == 4
    assert told(folder, capsys, *words, "--leave-out-faulty")["written"] == 1
    assert told(folder, capsys, "records", "--find", "0012")["records"][0]["fields"] == {
        "storage place": "A1",
        "weight g": "1.5",
    }
    for wrong in (["import", str(tmp_path)], ["import", "absent.csv"], [*map(str, words), "--map", "x"]):
        try:
            code = main(["--collection", str(folder), *wrong])
        except SystemExit as ended:
            code = ended.code
        assert code == 2


def test_one_field_on_many(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert len(told(folder, capsys, "records", "--lot", LOT, "--set", "ware=grey")["changes"]) == 4
    assert all(not one["fields"] for one in told(folder, capsys, "records")["records"])
    assert told(folder, capsys, "records", "--lot", LOT, "--set", "ware=grey", "--keep")["kept"] == 4
    assert main(["--collection", str(folder), "records", "--keep"]) == 2


def test_export_and_back(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = told(folder, capsys, "export", tmp_path / "bag", "--no-plates")
    assert (made["sherds"], made["withheld"], made["plates"]) == (4, 0, 0)
    assert told(tmp_path / "back", capsys, "import", tmp_path / "bag") == {"lots": 1, "photos": 1, "sherds": 4}
    assert told(tmp_path / "back", capsys, "check")["is_sound"]
    assert main(["--collection", str(folder), "export", str(tmp_path / "bag")]) == 2
    assert main(["--collection", str(folder), "import", str(tmp_path / "bag")]) == 2


def test_restrict_unlock_and_lift(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    now = told(folder, capsys, "restrict", "--sherd", FIRST, "--ground", "burial")
    assert (now["withheld"], now["restrictions"][0]["name"]) == (1, "")
    assert "descendant communities" in now["notice"]
    assert FIRST not in json.dumps(told(folder, capsys, "sherds"))
    assert main(["--collection", str(folder), "symmetry", FIRST]) == 2
    assert "burial" in capsys.readouterr().err
    assert FIRST in json.dumps(told(folder, capsys, "sherds", "--unlock", "visit of the council"))
    assert FIRST not in json.dumps(told(folder, capsys, "sherds"))
    assert main(["--collection", str(folder), "sherds", "--unlock", ""]) == 2
    assert told(folder, capsys, "--unlock", "to see the list", "restrict")["restrictions"][0]["name"] == FIRST
    assert main(["--collection", str(folder), "restrict", "--sherd", FIRST, "--lift", ""]) == 2
    assert told(folder, capsys, "restrict", "--sherd", FIRST, "--lift", "a mistake of mine")["withheld"] == 0
