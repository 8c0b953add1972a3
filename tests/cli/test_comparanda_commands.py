"""keep, lists and proposals on the command line: one way through, and what is refused changes nothing."""

from __future__ import annotations

import csv
import json
from typing import TYPE_CHECKING

import pytest

from motifs.catalogue import Catalogue
from motifs.cli import main
from motifs.workflows.intake import catalogue_photos, read_photos
from tests.workflows.tray import save_tray

if TYPE_CHECKING:
    from pathlib import Path

A, B = "B-03-001", "C-1-001"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A collection of two lots, four sherds each; the tests below follow each other on it."""
    place = tmp_path_factory.mktemp("lists")
    with Catalogue.open(place / "collection", create=True) as cat:
        for seed, lot, site in ((1, "B-03", "Kestrel Ford"), (2, "C-1", "Marl Hill")):
            photo = save_tray(place / f"{seed}.jpg", seed)
            catalogue_photos(cat, read_photos([photo]), lot=lot, site=site, by="test")
    return place


def call(folder: Path, capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, dict[str, object], str]:
    code = main(["--collection", str(folder / "collection"), *words, "--json"])
    out, err = capsys.readouterr()
    return code, json.loads(out) if out else {}, err


def test_kept_listed_written_and_taken_out(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, kept, _ = call(
        folder, capsys, "keep", "hooks", A, "--with", B, "--reason", "both turn left", "--by", "M. Oduya"
    )
    assert (code, kept["comparanda"]) == (0, 1)
    cite = ("--cite", "author=T. Hale", "--cite", "title=Hooked bowls", "--cite", "year=2004")
    assert call(folder, capsys, "keep", "hooks", A, "--reason", "the same hooks", *cite)[1]["comparanda"] == 2
    assert [row["name"] for row in call(folder, capsys, "lists")[1]["lists"]] == ["hooks"]  # type: ignore[attr-defined]
    table = folder / "hooks.csv"
    code, shown, _ = call(folder, capsys, "lists", "hooks", "--csv", str(table))
    assert code == 0
    with table.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [(row["comparandum"], row["author"]) for row in rows] == [(B, ""), ("", "T. Hale")]
    first = shown["entries"][0]["entry_id"]  # type: ignore[index]
    assert len(call(folder, capsys, "lists", "hooks", "--drop", str(first))[1]["entries"]) == 1  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("keep", "hooks", A, "--reason", "x"), "cite the piece"),
        (("keep", "hooks", A, "--with", A, "--reason", "x"), "its own comparandum"),
        (("keep", "hooks", A, "--with", "nobody", "--reason", "x"), "nobody"),
        (("keep", "hooks", A, "--reason", "x", "--cite", "isbn=1"), "isbn"),
        (("keep", "hooks", A, "--reason", "x", "--cite", "author"), "FIELD=TEXT"),
        (("lists", "nothing"), "nothing"),
        (("lists", "--csv", "x.csv"), "name it"),
        (("lists", "--drop", "99999"), "99999"),
        (("proposals", "nobody"), "nobody"),
        (("proposals", "--accept", A, "motif", "unheard of"), "not proposed"),
        (("proposals", "--refuse", A, "colour", "red"), "colour"),
        (("comparanda", A, "--site", "Nowhere"), "Nowhere"),
        (("comparanda", A, "--also", "nobody"), "nobody"),
    ],
)
def test_what_cannot_be_is_one_line_and_changes_nothing(
    words: tuple[str, ...], told: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Catalogue.open(folder / "collection") as cat:
        before = cat.version()
    code, document, err = call(folder, capsys, *words)
    assert (code, document) == (2, {})
    assert told in err
    assert len(err.strip().splitlines()) == 1
    with Catalogue.open(folder / "collection") as cat:
        assert cat.version() == before


def test_a_tag_is_proposed_accepted_and_refused(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Catalogue.open(folder / "collection") as cat, cat.transaction(by="M. Oduya"):
        cat.add_tag(B, "parallel lines", "motif")
    code, found, _ = call(folder, capsys, "proposals", "--lot", "B-03", "--least", "0")
    proposals = found["proposals"]
    assert code == 0
    assert {row["sherd"] for row in proposals} == {f"B-03-00{n}" for n in (1, 2, 3, 4)}  # type: ignore[attr-defined]
    assert proposals[0]["witnesses"][0]["sherd"] == B  # type: ignore[index]
    call(folder, capsys, "proposals", A, "--accept", A, "motif", "parallel lines", "--by", "T. Hale")
    call(folder, capsys, "proposals", A, "--refuse", "B-03-002", "motif", "parallel lines")
    left = call(folder, capsys, "proposals", "--lot", "B-03", "--least", "0")[1]["proposals"]
    assert {row["sherd"] for row in left} == {"B-03-003", "B-03-004"}  # type: ignore[attr-defined]
    with Catalogue.open(folder / "collection") as cat:
        assert [(tag.term, tag.by) for tag in cat.tags(A)] == [("parallel lines", "T. Hale")]
    teach = call(folder, capsys, "proposals", "--teach", "2")[1]["teach"]
    assert len(teach) == 2  # type: ignore[arg-type]
