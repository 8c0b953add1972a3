"""One hostile text as lot, site, number, term, vessel, note and person, through every page, report and export: shown, never run.

Formula injection: the signs that make a spreadsheet compute are those of the OWASP page "CSV Injection" (=, +, -, @, tab, carriage
return). Scripts in markup: OWASP's cheat sheet on cross site scripting. Both retyped from memory.
"""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import pypdfium2 as pdfium
import pytest
import rdflib
import streamlit as st
from PIL import ExifTags, Image
from streamlit.testing.v1 import AppTest

from motifs.catalogue import Catalogue
from motifs.ui.session import COLLECTION_VARIABLE
from motifs.workflows.comparanda_lists import list_csv
from motifs.workflows.exercise import read_piles, write_piles
from motifs.workflows.exporting import export_collection, take_in_bag
from motifs.workflows.importing import carry_out, plan_import, propose_columns
from motifs.workflows.pictures import photo_copies, small_pictures
from motifs.workflows.places import has_place
from motifs.workflows.report import write_report
from motifs.workflows.tables_in import read_sheet
from tests.safety.hostile import CAMERA, LOT, NAME, NOTE, NUMBER, RUNS, SITE, TERM, VESSEL, dangers, hostile_collection
from tests.ui.conftest import APP, TIMEOUT_S

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")
PAGES = sorted(path.stem for path in (APP.parent / "motifs" / "ui" / "pages").glob("[a-z]*.py"))


@pytest.fixture(scope="session")
def hostile_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The hostile collection, what was exported of it, and its report."""
    folder = tmp_path_factory.mktemp("hostile")
    hostile_collection(folder)
    with Catalogue.open(folder / "collection") as cat:
        export_collection(cat, folder / "bag", by=NAME)
        write_report(cat, folder / "report", lot=LOT, by=NAME)
        write_report(cat, folder / "report", site=SITE, by=NAME)
    return folder


@pytest.fixture
def cat(hostile_once: Path, tmp_path: Path) -> Iterator[Catalogue]:
    shutil.copytree(hostile_once / "collection", tmp_path / "collection")
    with Catalogue.open(tmp_path / "collection") as opened:
        yield opened


def test_the_reader_finds_what_would_run() -> None:
    assert dangers(NAME)
    assert dangers(NOTE)
    assert dangers('<a href="java\nscript:x()">')
    assert dangers("<svg onload=x>")
    assert not dangers("&lt;img src=x onerror=y&gt; <b>bold</b> <a href='#s1'>x</a>")


def files_of(folder: Path, *suffixes: str) -> list[Path]:
    return [path for path in sorted(folder.rglob("*")) if path.suffix in suffixes]


def test_no_page_or_drawing_that_goes_out_runs_anything(hostile_once: Path) -> None:
    files = [*files_of(hostile_once / "bag", ".html", ".svg"), *files_of(hostile_once / "report", ".html", ".svg")]
    assert len(files) >= 6
    for file in files:
        text = file.read_text(encoding="utf-8")
        assert dangers(text) == [], file.name
        if file.suffix == ".svg":
            ElementTree.fromstring(text)  # noqa: S314 - our own, and well formed or the test fails
    whole = (hostile_once / "bag" / "data" / "index.html").read_text(encoding="utf-8")
    assert "&lt;img src=x onerror=window.hit=1&gt;" in whole
    report = next(iter(files_of(hostile_once / "report", ".html"))).read_text(encoding="utf-8")
    assert "&lt;img src=x onerror=window.hit=1&gt;" in report


def test_the_pdf_shows_it_letter_for_letter_and_runs_nothing(hostile_once: Path) -> None:
    """Actions of a PDF file: ISO 32000-1, 12.6.4 (URI, Launch, JavaScript, SubmitForm...); a report needs none of them."""
    for file in [*files_of(hostile_once / "report", ".pdf"), *files_of(hostile_once / "bag", ".pdf")]:
        content = file.read_bytes()
        for word in (b"/JavaScript", b"/JS", b"/Launch", b"/URI", b"/SubmitForm", b"/OpenAction", b"/EmbeddedFile"):
            assert not re.search(re.escape(word) + rb"\b", content), (file.name, word)
    with pdfium.PdfDocument(next(iter(files_of(hostile_once / "report", ".pdf")))) as document:
        text = "".join(page.get_textpage().get_text_range() for page in document)
    shown = re.sub(r"\s", "", text)
    assert re.sub(r"\s", "", RUNS) in shown
    assert ":red[y]" in shown
    assert "<b>" in shown


def test_no_cell_that_goes_out_is_a_formula(hostile_once: Path, cat: Catalogue) -> None:
    files = files_of(hostile_once / "bag", ".csv")
    tables = [file.read_text(encoding="utf-8-sig") for file in files] + [list_csv(cat, f"list {NAME}")]
    seen = 0
    for table in tables:
        for row in csv.reader(io.StringIO(table, newline="")):
            for cell in row:
                if cell.startswith(FORMULA_SIGNS):
                    assert float(cell) < 0, cell  # a number below nothing is no formula
                seen += NAME in cell
    assert len(tables) > 20
    assert seen > 20


def test_piles_that_a_learner_names_are_no_formulas_and_come_back(tmp_path: Path) -> None:
    piles = {
        "1-001": "=cmd|' /C calc'!A0",
        "1-002": "+1",
        "1-003": "'quoted",
        "1-004": None,
        "1-005": "A",
        "1-006": "''",
    }
    write_piles(tmp_path / "piles.csv", piles)
    with (tmp_path / "piles.csv").open(encoding="utf-8-sig", newline="") as stream:
        cells = [cell for row in csv.reader(stream) for cell in row]
    assert not [cell for cell in cells if cell.startswith(FORMULA_SIGNS)]
    assert read_piles(tmp_path / "piles.csv") == piles


def test_a_hostile_collection_comes_back_as_it_was(hostile_once: Path, tmp_path: Path) -> None:
    with Catalogue.open(tmp_path / "back", create=True) as back:
        take_in_bag(back, hostile_once / "bag", by="test")
        assert back.check() == ()
        assert {lot.name for lot in back.lots()} == {LOT, "other"}
        assert back.record(NUMBER).fields["note"] == NOTE
        assert TERM in {tag.term for tag in back.tags(NUMBER)}


def test_a_table_that_holds_formulas_is_taken_as_text(cat: Catalogue, tmp_path: Path) -> None:
    table = tmp_path / "finds.csv"
    with table.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows(
            [["number", "lot", "note"], ["=2", LOT, "=1+1"], ["-3", LOT, "@x"], ["+4", LOT, NOTE]]
        )
    sheet = read_sheet(table)
    carry_out(cat, plan_import(cat, sheet, propose_columns(sheet.head)), by="test")
    assert [cat.record(number).fields["note"] for number in ("=2", "-3", "+4")] == ["=1+1", "@x", NOTE]


def test_iiif_and_skos_hold_it_as_text(hostile_once: Path) -> None:
    manifest = json.loads((hostile_once / "bag" / "data" / "manifest.json").read_text(encoding="utf-8"))
    labels = [canvas["label"]["none"][0] for canvas in manifest["items"]]
    assert NUMBER in labels
    # IIIF Presentation 3.0, 4.5: in a value, markup counts as HTML only where the text begins with "<" and ends with ">".
    values = [v for c in manifest["items"] for pair in c["metadata"] for v in pair["value"]["none"]]
    assert any(NAME in value for value in values)
    assert not [value for value in values if value.startswith("<") and value.rstrip().endswith(">")]
    ids = [one["id"] for c in manifest["items"] for one in (c, *c["items"], c["items"][0]["items"][0]["body"])]
    assert all(re.fullmatch(r"http://localhost/[\w./-]+", one) for one in ids), ids[:3]
    graph = rdflib.Graph().parse(hostile_once / "bag" / "data" / "vocabulary.ttl")
    assert rdflib.Literal(TERM, lang="en") in set(graph.objects(None, rdflib.SKOS.prefLabel))


def test_every_file_name_that_goes_out_is_plain(hostile_once: Path) -> None:
    for part in ("bag", "report"):
        for path in (hostile_once / part).rglob("*"):
            assert re.fullmatch(r"[A-Za-z0-9 ._-]+", path.name), path.name


@pytest.mark.parametrize("name", PAGES)
def test_every_page_shows_it_and_runs_nothing(name: str, cat: Catalogue, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(COLLECTION_VARIABLE, str(cat.folder))
    at = AppTest.from_file(APP, default_timeout=TIMEOUT_S)
    at.session_state["analyst"] = NAME
    at.run()
    if name != "lots":
        at.switch_page(f"motifs/ui/pages/{name}.py")
    at.query_params["lot"], at.query_params["sherd"], at.query_params["vessel"] = LOT, NUMBER, VESSEL
    at.run()
    assert not at.exception
    bodies = [element.body for element in at.get("html") if not element.body.startswith("<style>")]
    assert [found for body in bodies for found in dangers(body)] == []
    assert "m-wrong" not in "".join(bodies)
    # What Streamlit reads as Markdown holds nothing that a person typed.
    marked = [element.value for element in (*at.markdown, *at.caption, *at.title, *at.header, *at.subheader)]
    assert not [text for text in marked if "onerror" in str(text)]
    labels = [element.label for element in (*at.button, *at.checkbox, *at.radio, *at.tabs, *at.expander)]
    assert not [label for label in labels if "onerror" in str(label)]
    st.cache_resource.clear()


# --- what a photograph's file says of place and camera ------------------------------------------------------------------


def test_no_place_and_no_camera_goes_out_with_anything_that_is_made(hostile_once: Path, cat: Catalogue) -> None:
    for photo in cat.photos():
        assert has_place(cat.photo_file(photo).read_bytes())  # it is there to begin with
        photo_copies(cat, photo)
    list(small_pictures(cat, cat.sherds()))
    made = [hostile_once / "bag" / "data", hostile_once / "report", cat.derived_folder]
    pictures = [path for folder in made for path in files_of(folder, ".png", ".jpg", ".webp")]
    assert len(pictures) > 20
    for path in pictures:
        with Image.open(path) as image:
            exif = image.getexif()
            assert not exif.get_ifd(ExifTags.IFD.GPSInfo), path.name
            assert ExifTags.Base.Make not in exif, path.name
    for path in [path for folder in made for path in folder.rglob("*") if path.is_file()]:
        assert CAMERA.encode() not in path.read_bytes(), path.name


def test_exact_places_go_out_only_where_they_are_asked_for(cat: Catalogue, tmp_path: Path) -> None:
    export_collection(cat, tmp_path / "exact", exact_places=True, with_plates=False)
    originals = list((tmp_path / "exact" / "data" / "photos").rglob("*.jpg"))
    assert originals
    assert all(has_place(path.read_bytes()) for path in originals)
    assert SITE  # the sites' names go out either way; their places do not
