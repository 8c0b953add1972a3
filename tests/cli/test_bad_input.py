"""Bad input, through the real command: one clear line, exit code 2, and nothing changed."""

from __future__ import annotations

import hashlib
import os
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from motifs.cli import main
from tests.workflows.tray import SIZE_PX, save_tray

ROOT = Path(__file__).resolve().parents[2]
LOT = "B-03"


def command(*arguments: object, collection: Path) -> subprocess.CompletedProcess[str]:
    line = [sys.executable, "-m", "motifs", "--collection", str(collection), *map(str, arguments)]
    return subprocess.run(line, cwd=ROOT, capture_output=True, text=True, check=False, timeout=120)


def fingerprint(folder: Path) -> dict[str, str]:
    """Content of every file of a collection; of the catalogue what it holds, since its bytes may move on reading."""
    found = {}
    for path in sorted(folder.rglob("*")):
        if path.name.startswith("catalogue.sqlite"):
            continue
        found[str(path.relative_to(folder))] = (
            hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else "folder"
        )
    if (folder / "catalogue.sqlite").exists():
        with sqlite3.connect(folder / "catalogue.sqlite") as database:
            found["catalogue"] = hashlib.sha256("\n".join(database.iterdump()).encode()).hexdigest()
        database.close()
    return found


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of photographs, good and bad."""
    folder = tmp_path_factory.mktemp("photos")
    save_tray(folder / "good.jpg", 1)
    whole = save_tray(folder / "other.jpg", 2).read_bytes()
    (folder / "truncated.jpg").write_bytes(whole[: len(whole) // 2])
    (folder / "empty.jpg").write_bytes(b"")
    (folder / "letter.jpg").write_text("not a photograph", encoding="utf-8")
    Image.new("L", (20_000, 20)).save(folder / "long.png")
    blank = np.random.default_rng(0).normal(150, 2, (*SIZE_PX[::-1], 3)).clip(0, 255).astype(np.uint8)
    Image.fromarray(blank).save(folder / "blank.jpg", quality=95)
    return folder


@pytest.fixture(scope="module")
def collection(photos: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A collection of one lot, made by the real command."""
    folder = tmp_path_factory.mktemp("work") / "collection"
    done = command("intake", photos / "good.jpg", "--lot", LOT, "--site", "Kestrel Ford", collection=folder)
    assert done.returncode == 0, done.stderr
    return folder


def is_one_clear_line(done: subprocess.CompletedProcess[str]) -> bool:
    return done.returncode == 2 and done.stdout == "" and len(done.stderr.strip().splitlines()) == 1


REAL = {
    "no such file": (["intake", "PHOTOS/nowhere.jpg", "--lot", LOT], "nowhere.jpg"),
    "not an image": (["intake", "PHOTOS/letter.jpg", "--lot", LOT], "letter.jpg"),
    "truncated": (["intake", "PHOTOS/truncated.jpg", "--lot", LOT], "truncated.jpg"),
    "0 bytes": (["intake", "PHOTOS/empty.jpg", "--lot", LOT], "empty.jpg"),
    "20,000 px a side": (["intake", "PHOTOS/long.png", "--lot", LOT], "long.png"),
    "no sherd found": (["intake", "PHOTOS/blank.jpg", "--lot", LOT], "blank.jpg"),
    "lot name with ..": (["intake", "PHOTOS/other.jpg", "--lot", ".."], ".."),
    "unknown lot": (["sort", "B-30"], "B-30"),
    "unknown sherd": (["comparanda", "B-03-999"], "B-03-999"),
}
"""Run as a process of its own: what a user's terminal shows."""

DIRECT = {
    "one bad among good": (["intake", "PHOTOS/other.jpg", "PHOTOS/empty.jpg", "--lot", LOT], "empty.jpg"),
    "lot name empty": (["intake", "PHOTOS/other.jpg", "--lot", ""], "lot"),
    "lot name with /": (["intake", "PHOTOS/other.jpg", "--lot", "a/b"], "a/b"),
    "site name with /": (["intake", "PHOTOS/other.jpg", "--lot", "x", "--site", "a/b"], "a/b"),
    "lot of another site": (["intake", "PHOTOS/other.jpg", "--lot", LOT, "--site", "Elsewhere"], LOT),
    "unknown lot listed": (["sherds", "--lot", "B-30"], "B-30"),
    "unknown sherd told": (["tell", LOT, "--same", "B-03-001", "B-03-999"], "B-03-999"),
    "a sherd with itself": (["tell", LOT, "--same", "B-03-001", "B-03-001"], "B-03-001"),
    "nothing told": (["tell", LOT], "--same"),
    "nothing to withdraw": (["tell", LOT, "--withdraw", "B-03-001", "B-03-002"], "B-03-00"),
    "links contradict": (
        ["tell", LOT, "--same", "B-03-001", "B-03-002", "--different", "B-03-001", "B-03-002"],
        "B-03-00",
    ),
    "more vessels than sherds": (["sort", LOT, "--vessels", "99"], "99"),
    "unknown encoder": (["comparanda", "B-03-001", "--encoder", "nobody.knows"], "nobody.knows"),
    "box beside the sherd": (["comparanda", "B-03-001", "--box", "9000,9000,5,5"], "9000"),
    "backup over a file": (["backup", "PHOTOS/good.jpg"], "good.jpg"),
    "exercise with a bad name": (["practice", "a/b"], "a/b"),
    "demo among real work": (["demo"], LOT),
}
"""Run in this process, through the same entry: quicker, and as good for what the command decides."""


@pytest.mark.parametrize("name", REAL)
def test_the_real_command_refuses_in_one_line(name: str, photos: Path, collection: Path) -> None:
    arguments, named = REAL[name]
    before = fingerprint(collection)
    done = command(*(text.replace("PHOTOS", str(photos)) for text in arguments), collection=collection)
    assert is_one_clear_line(done), done
    assert named in done.stderr
    assert fingerprint(collection) == before


@pytest.mark.parametrize("name", DIRECT)
def test_bad_input_is_refused_in_one_line(
    name: str, photos: Path, collection: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments, named = DIRECT[name]
    before = fingerprint(collection)
    line = [text.replace("PHOTOS", str(photos)) for text in arguments]
    assert main(["--collection", str(collection), *line]) == 2
    out, err = capsys.readouterr()
    assert (out, len(err.strip().splitlines())) == ("", 1)
    assert named in err
    assert fingerprint(collection) == before


def test_a_catalogue_of_a_newer_version_is_left_alone(photos: Path, collection: Path, tmp_path: Path) -> None:
    newer = tmp_path / "newer"
    shutil.copytree(collection, newer)
    with sqlite3.connect(newer / "catalogue.sqlite") as database:
        database.execute("INSERT INTO migration VALUES (9999, 'from the future', '2099-01-01T00:00:00+00:00', '99.0')")
    database.close()
    before = fingerprint(newer)
    done = command("intake", photos / "other.jpg", "--lot", LOT, collection=newer)
    assert is_one_clear_line(done), done
    assert "newer" in done.stderr
    assert fingerprint(newer) == before


def test_a_failed_first_intake_leaves_no_collection(photos: Path, tmp_path: Path) -> None:
    done = command("intake", photos / "empty.jpg", "--lot", LOT, collection=tmp_path / "new")
    assert is_one_clear_line(done), done
    assert not (tmp_path / "new").exists()


def test_a_command_without_a_collection_says_how_to_make_one(tmp_path: Path) -> None:
    done = command("sherds", collection=tmp_path / "none")
    assert is_one_clear_line(done), done
    assert not (tmp_path / "none").exists()


def test_a_sherd_at_the_frame_and_a_missing_bar_are_said_and_catalogued(photos: Path, tmp_path: Path) -> None:
    with Image.open(photos / "good.jpg") as tray:
        tray.crop((100, 0, *SIZE_PX)).crop((0, 0, 800, 560)).save(tmp_path / "cut.png")
    done = command("intake", tmp_path / "cut.png", "--lot", "cut", "--json", collection=tmp_path / "new")
    assert done.returncode == 0, done.stderr
    assert '"mm_per_px": null' in done.stdout
    assert "frame" in done.stdout
    assert "scale" in done.stderr


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere; the file-in-the-way test covers the message")
def test_a_folder_that_may_not_be_written(photos: Path, tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    done = command("intake", photos / "good.jpg", "--lot", LOT, collection=tmp_path / "new")
    tmp_path.chmod(0o700)
    assert is_one_clear_line(done), done


def test_a_file_where_the_folder_should_be(photos: Path, tmp_path: Path) -> None:
    (tmp_path / "new").write_text("in the way", encoding="utf-8")
    done = command("intake", photos / "good.jpg", "--lot", LOT, collection=tmp_path / "new")
    assert is_one_clear_line(done), done
    assert (tmp_path / "new").read_text(encoding="utf-8") == "in the way"
