"""Open formats out, checked by the libraries that read them, and the way back.

Bag: RFC 8493, by the library `bagit`. Tables: Frictionless Data Package, by the library `frictionless`. SKOS: by `rdflib`. True
size: read off the PDF's MediaBox (ISO 32000-1, 14.11.2: 1/72 inch) and off a bar drawn in it. IIIF: the required properties of
Manifest, Canvas, AnnotationPage and Annotation in the Presentation API 3.0, retyped from memory.
"""

from __future__ import annotations

import csv
import html.parser
import io
import json
import re
import shutil
import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

import bagit
import frictionless
import numpy as np
import pytest
import rdflib
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from motifs.catalogue import Catalogue, ColumnShape, Measurement
from motifs.errors import CollectionError, InputError
from motifs.imaging import read_photo
from motifs.records import Term
from motifs.workflows.cells_out import FORMULA_STARTS, cell_of, csv_text, guarded, unguarded, value_of
from motifs.workflows.exporting import export_collection, take_in_bag
from motifs.workflows.intake import catalogue_photos, read_photos
from motifs.workflows.places import has_place, original_out, rounded_place
from motifs.workflows.restricting import restrict
from tests.workflows.tray import tray_image

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

PERSON = "M. Oduya"
HOSTILE = [
    "0012",
    "=SUM(A1)",
    "+1",
    "-7",
    "@x",
    "\ttab",
    "'quoted",
    "''",
    "",
    "<script>alert(1)</script>",
    'a "b", c\nd',
]


@pytest.fixture(scope="module")
def lived_once(made_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a collection in which everything was used, and its bag."""
    folder = tmp_path_factory.mktemp("lived")
    shutil.copytree(made_once / "collection", folder / "collection")
    with Catalogue.open(folder / "collection") as cat:
        live_in(cat)
        export_collection(cat, folder / "bag", by=PERSON)
    return folder


def live_in(cat: Catalogue) -> None:
    with cat.transaction(by=PERSON):
        cat.add_terms(
            [
                Term("motif", "scroll", "a line that turns", synonyms=("volute",)),
                Term("motif", "spiral", broader=("scroll",)),
            ]
        )
        cat.add_tag("B-03-001", "scroll", "motif", confidence=0.8, box_px=(5, 5, 20, 20))
        cat.add_tag("B-03-002", "=1+1", "motif")
        cat.renumber({"C-1-001": "=0012"})
        cat.tell("B-03", "B-03-001", "B-03-003", "same")
        cat.attribute("B-03-001", "A", note="'by hand'")
        rights = "http://rightsstatements.org/vocab/NoC-NC/1.0/"
        texts = {"note": '=HYPERLINK("http://x")', "fabric": "<b>sandy</b>", "rights": rights}
        cat.save_record("B-03-001", "B-03", texts)
        cat.save_record("11-4", "B-03", {"form": "jar", "note": "\u00e9\u4e2d\n-x"})
        cat.set_rim_up("B-03-002", 33.3)
    with cat.transaction(by=PERSON):
        cat.merge_sherds(["B-03-004", "B-03-003"], cat.sherd("B-03-004").outline_px, area_mm2=1.5)
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    with cat.transaction(by=PERSON):
        cat.save_measurements(
            {"B-03-001": {"hue": Measurement(-3.25, None), "cues": Measurement({"a": [1.0, 2]}, [0.1])}}
        )
        placed = [{"sherd": sherd.number, "vessel": 0} for sherd in cat.sherds("B-03")]
        cat.save_proposal("B-03", "sort", encoder_tags=("e.one",), parameters={}, result={"assignments": placed})


@pytest.fixture
def lived_in(lived_once: Path, tmp_path: Path) -> Iterator[Catalogue]:
    shutil.copytree(lived_once / "collection", tmp_path / "collection")
    with Catalogue.open(tmp_path / "collection") as opened:
        yield opened


@pytest.fixture
def bag(lived_once: Path, tmp_path: Path) -> Path:
    return shutil.copytree(lived_once / "bag", tmp_path / "out" / "bag")


def rows_of(folder: Path) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table as SQLite has it, by plain SQL."""
    with closing(sqlite3.connect(folder / "catalogue.sqlite")) as plain:
        query = (
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%' AND name <> 'migration'"
        )
        names = [row[0] for row in plain.execute(query)]
        return {name: plain.execute(f"SELECT * FROM {name} ORDER BY 1, 2, 3").fetchall() for name in names}  # noqa: S608


def files_under(folder: Path, suffixes: tuple[str, ...]) -> dict[str, bytes]:
    return {
        p.relative_to(folder).as_posix(): p.read_bytes()
        for p in folder.rglob("*")
        if p.is_file() and p.name.endswith(suffixes)
    }


def test_round_trip_is_identical_in_every_table_and_file(lived_in: Catalogue, bag: Path, tmp_path: Path) -> None:
    with Catalogue.open(tmp_path / "back", create=True) as back:
        taken = take_in_bag(back, bag, by="R. Vance")
        assert back.check() == ()
        assert (taken.lots, taken.photos, taken.sherds) == (2, 3, 12)
    before, after = rows_of(lived_in.folder), rows_of(tmp_path / "back")
    assert before.keys() == after.keys()
    for table, rows in before.items():
        assert after[table] == rows, table
    assert sum(map(len, before.values())) > 60
    assert files_under(lived_in.photos_folder, ("",)) == files_under(tmp_path / "back" / "photos", ("",))
    crops = files_under(lived_in.derived_folder / "crops", (".png",))
    assert (
        files_under(tmp_path / "back" / "derived" / "crops", (".png",)).items()
        >= {name: crops[name] for name in crops if any(s.content_key in name for s in lived_in.sherds())}.items()
    )
    with Catalogue.open(tmp_path / "back") as back, back.transaction(by=PERSON):
        back.undo("B-03")  # also the history goes on where it was
        assert back.ensure_lot("new").name == "new"


def test_the_bag_and_its_package_are_valid_to_those_who_read_them(bag: Path) -> None:
    bagit.Bag(str(bag)).validate()
    assert (bag / "manifest-sha256.txt").is_file()
    report = frictionless.Package(str(bag / "data" / "datapackage.json")).validate()
    assert report.valid, report.flatten(["title", "rowNumber", "fieldName", "message"])[:5]
    assert report.stats["tasks"] >= 20
    (bag / "data" / "tables" / "tag.csv").write_text("id\r\nnot a number\r\n")
    assert not frictionless.Package(str(bag / "data" / "datapackage.json")).validate().valid
    graph = rdflib.Graph().parse(bag / "data" / "vocabulary.ttl")
    assert len(list(graph.subjects(rdflib.RDF.type, rdflib.SKOS.Concept))) == 2


def test_no_cell_of_text_is_a_formula_and_every_text_comes_back(bag: Path) -> None:
    for file in [*(bag / "data" / "tables").glob("*.csv"), bag / "data" / "dublin_core.csv"]:
        with file.open(encoding="utf-8", newline="") as stream:
            for row in csv.reader(stream):
                for cell in row:
                    assert not cell.startswith(("=", "@", "\t", "\r")), (file.name, cell)
                    assert not cell.startswith(("+", "-")) or float(cell) is not None
    text = (bag / "data" / "tables" / "sherd.csv").read_text("utf-8")
    assert "'=0012" in text


TEXT = ColumnShape("t", "text", False, None)


@given(st.one_of(st.sampled_from(HOSTILE), st.text(st.characters(exclude_categories=("Cs",)), max_size=30)))
def test_any_text_comes_back_and_none_is_a_formula(text: str) -> None:
    cell = cell_of(text, TEXT)
    read = next(csv.reader(io.StringIO(csv_text(["x", "t"], [["1", cell]]).split("\r\n", 1)[1], newline="")))
    assert value_of(read[1], TEXT, "row 2") == text
    assert unguarded(guarded(text)) == text
    assert not cell.startswith(FORMULA_STARTS[:-1])


def test_values_of_every_kind_come_back() -> None:
    for kind, values in {
        "number": [0.1, 1e-300, -2.5, 1.0], "integer": [0, -3, 1 << 60], "boolean": [True, False], "text": [None, "", "0"],
        "json": [None, [1, 2.0, "\u00e9"], {"a": None}],
    }.items():  # fmt: skip
        column = ColumnShape("c", kind, False, None)
        for value in values:
            back = value_of(cell_of(value, column), column, "here")
            assert (back, type(back)) == (value, type(value))
    for kind, cell in [("number", "nan"), ("integer", "1.5"), ("boolean", "yes"), ("json", "{"), ("json", "NaN")]:
        with pytest.raises(InputError, match="here"):
            value_of(cell, ColumnShape("c", kind, False, None), "here")


class Reader(html.parser.HTMLParser):
    """Counts elements and collects where pictures are."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.pictures: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.pictures += [value or "" for name, value in attrs if tag == "img" and name == "src"]


def test_the_page_opens_without_a_server_and_runs_nothing(bag: Path) -> None:
    text = (bag / "data" / "index.html").read_text(encoding="utf-8")
    reader = Reader()
    reader.feed(text)
    assert {"script", "b", "link", "iframe"}.isdisjoint(reader.tags)
    assert "&lt;b&gt;sandy&lt;/b&gt;" in text
    assert len(reader.pictures) == 12
    for picture in reader.pictures:
        with Image.open(bag / "data" / picture) as image:
            assert image.mode == "RGBA"
            assert image.info["dpi"][0] == pytest.approx(254, abs=0.1)
            rgba = np.asarray(image)
            assert (rgba[rgba[..., 3] == 0][:, :3] == 0).all()  # nothing of a neighbour under the transparency


def test_the_iiif_manifest_has_what_a_viewer_needs(bag: Path, lived_in: Catalogue) -> None:
    manifest = json.loads((bag / "data" / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["@context"] == "http://iiif.io/api/presentation/3/context.json"
    assert (manifest["type"], len(manifest["items"])) == ("Manifest", 12)
    ids = set()
    for canvas, sherd in zip(manifest["items"], lived_in.sherds(), strict=True):
        assert canvas["type"] == "Canvas"
        assert canvas["label"] == {"none": [sherd.number]}
        page = canvas["items"][0]
        (note,) = page["items"]
        assert (page["type"], note["type"], note["motivation"], note["target"]) == (
            "AnnotationPage",
            "Annotation",
            "painting",
            canvas["id"],
        )
        file = bag / "data" / note["body"]["id"].removeprefix("http://localhost/collection/")
        with Image.open(file) as image:
            assert image.size == (canvas["width"], canvas["height"]) == (note["body"]["width"], note["body"]["height"])
        ids |= {canvas["id"], page["id"], note["id"]}
    assert len(ids) == 36
    assert all(one.startswith("http") for one in ids)
    assert manifest["items"][0]["rights"] == "http://rightsstatements.org/vocab/NoC-NC/1.0/"
    service = manifest["items"][0]["service"][0]
    assert (service["physicalScale"], service["physicalUnits"]) == (pytest.approx(0.1), "mm")


def test_plates_are_of_true_size(bag: Path) -> None:
    """The sheet is 170 mm wide, and its bar of 50 mm is 50, 25 and 16.67 mm long (the last: the trade's own worked figure)."""
    for reduction, bar_mm in ((1, 50.0), (2, 25.0), (3, 16.67)):
        pdf = next((bag / "data" / "plates").glob(f"plate-1to{reduction}-*.pdf")).read_bytes()
        _, _, right, _ = (float(v) for v in re.search(rb"/MediaBox \[ ([\d. ]+) \]", pdf)[1].split())  # type: ignore[index]
        assert right * 25.4 / 72 == pytest.approx(170.0, abs=0.1)
        svg = next((bag / "data" / "plates").glob(f"plate-1to{reduction}-*.svg")).read_text("utf-8")
        assert "width: 170.00mm" in svg
        box = [float(v) for v in re.search(r'viewBox="([^"]+)"', svg)[1].split()]  # type: ignore[index]
        rects = [dict(re.findall(r'(\w+)="([-\d.]+)"', element)) for element in re.findall(r"<rect[^>]*>", svg)]
        blocks = [(float(r["x"]), float(r["width"])) for r in rects if abs(float(r["height"]) - 1.6 / 25.4 * 72) < 0.01]
        assert len(blocks) == 5
        long = max(x + w for x, w in blocks) - min(x for x, _ in blocks)
        assert long / box[2] * 170.0 == pytest.approx(bar_mm, abs=0.05)


def test_restricted_things_do_not_go_out(lived_in: Catalogue, tmp_path: Path) -> None:
    hidden = "B-03-001"
    restrict(lived_in, "sherd", hidden, "burial", note="asked for by the council", by=PERSON)
    restrict(lived_in, "site", "Marl Hill", "sacred", by=PERSON)
    made = export_collection(lived_in, tmp_path / "bag")
    assert (made.withheld, made.sherds) == (5, 7)
    whole = b"\n".join(
        path.read_bytes()
        for path in made.folder.rglob("*")
        if path.suffix in {".csv", ".json", ".html", ".ttl", ".txt", ".svg"}
    )
    for word in (hidden.encode(), b"Marl Hill", b"C-1", b"asked for by the council"):
        assert word not in whole, word
    covered = [read_photo(path) for path in (made.folder / "data" / "photos").rglob("*.png")]
    assert len(covered) == 1
    x, y = lived_in.seeing_all().sherd(hidden).outline_px.mean(axis=0).astype(int)
    assert tuple(covered[0].rgb[y, x]) == (128, 128, 128)
    assert frictionless.Package(str(made.folder / "data" / "datapackage.json")).validate().valid
    with Catalogue.open(tmp_path / "back", create=True) as back:
        take_in_bag(back, made.folder, by=PERSON)
        assert back.check() == ()
        assert {row.number for row in back.sherds()} == {row.number for row in lived_in.sherds()}
    with lived_in.transaction(by=PERSON):
        unlocked = lived_in.unlock("deposit in the archive, agreed with the council")
    assert export_collection(unlocked, tmp_path / "all", with_plates=False).sherds == 12


def located(path: Path, seed: int) -> Path:
    """A tray whose file says where it was taken, and which way up it is."""
    exif = Image.Exif()
    exif[0x0112] = 1
    exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 12.0, 34.5), 3: "W", 4: (1.0, 2.0, 3.25)})
    tray_image(seed).save(path, quality=95, exif=exif)
    return path


def test_places_are_taken_out_of_photographs_and_rounded_in_tables(cat: Catalogue, tmp_path: Path) -> None:
    photos = [located(tmp_path / "here.jpg", 11), located(tmp_path / "here.png", 12)]
    catalogue_photos(cat, read_photos(photos), lot="D-1", site="Ashby Weir", by=PERSON)
    with cat.transaction(by=PERSON):
        cat.save_record("11-4", "B-03", {"latitude": "51.209583", "longitude": "-1.034236", "form": "jar"})
        cat.save_record("11-5", "B-03", {"latitude": "51.209583"})
    for photo in cat.photos("D-1"):
        out = original_out(cat, photo)
        assert has_place(cat.photo_file(photo).read_bytes())
        assert not has_place(out.content)
        (tmp_path / f"out{out.suffix}").write_bytes(out.content)
        assert (read_photo(tmp_path / f"out{out.suffix}").rgb == read_photo(cat.photo_file(photo)).rgb).all()
    made = export_collection(cat, tmp_path / "bag", with_plates=False)
    assert made.cleared == 2
    assert not any(has_place(path.read_bytes()) for path in (made.folder / "data" / "photos").rglob("*.*"))
    tables = b"".join(path.read_bytes() for path in (made.folder / "data").rglob("*.csv"))
    assert b"209583" not in tables
    assert b"034236" not in tables
    with Catalogue.open(tmp_path / "back", create=True) as back:
        take_in_bag(back, made.folder, by=PERSON)
        assert back.check() == ()
        assert len(back.sherds("D-1")) == len(cat.sherds("D-1"))
        assert back.record("11-4").fields["form"] == "jar"
    exact = export_collection(cat, tmp_path / "exact", exact_places=True, with_plates=False)
    assert exact.cleared == 0
    assert b"209583" in (exact.folder / "data" / "tables" / "find_record.csv").read_bytes()


def test_a_rounded_place_is_within_seven_kilometres_and_says_no_more() -> None:
    """Half the diagonal of a 10 km cell is 7.07 km; distances by the haversine formula on a sphere of 6371 km."""
    rng = np.random.default_rng(4)
    for latitude, longitude in zip(rng.uniform(-80, 80, 300), rng.uniform(-179, 179, 300), strict=True):
        lat, lon = rounded_place(latitude, longitude)
        a, b = np.radians([latitude, lat]), np.radians([longitude, lon])
        h = np.sin((a[1] - a[0]) / 2) ** 2 + np.cos(a[0]) * np.cos(a[1]) * np.sin((b[1] - b[0]) / 2) ** 2
        assert 2 * 6371.0 * np.arcsin(np.sqrt(h)) < 7.07 + 0.8  # two decimals of a degree: up to 0.8 km more
        assert rounded_place(lat, lon) == pytest.approx((lat, lon), abs=0.011)
    assert rounded_place(90.0, 45.0)[1] == 0.0


def test_an_export_is_whole_or_not_there(lived_in: Catalogue, tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    for target, why in ((tmp_path / "there", "not overwritten"), (lived_in.photos_folder / "x", "own files")):
        with pytest.raises(InputError, match=why):
            export_collection(lived_in, target)
    with pytest.raises(InputError, match="no address"):
        export_collection(lived_in, tmp_path / "x", base_url="javascript:alert(1)")
    next(lived_in.photos_folder.rglob("*.jpg")).unlink()
    with pytest.raises(Exception, match="missing"):
        export_collection(lived_in, tmp_path / "x")
    assert [path.name for path in tmp_path.iterdir() if path.name not in {"collection", "there"}] == []


def test_a_bag_that_is_not_whole_is_refused_and_nothing_is_taken(
    bag: Path, lived_in: Catalogue, tmp_path: Path
) -> None:
    with pytest.raises(CollectionError, match="not empty"):
        take_in_bag(lived_in, bag, by=PERSON)

    def broken(change: Callable[[Path], object]) -> str:
        copy = tmp_path / "copy"
        shutil.rmtree(copy, ignore_errors=True)
        shutil.copytree(bag, copy)
        change(copy)
        with Catalogue.open(tmp_path / "new", create=True) as new:
            with pytest.raises(InputError) as refused:
                take_in_bag(new, copy, by=PERSON)
            assert new.is_empty()
            assert new.check() == ()
            assert list(new.photos_folder.rglob("*.jpg")) == []
        return str(refused.value)

    def rebagged(copy: Path, file: str, old: str, new: str) -> None:
        path = copy / "data" / file
        content = path.read_bytes()
        assert old.encode() in content
        path.write_bytes(content.replace(old.encode(), new.encode(), 1))
        bagit.Bag(str(copy)).save(manifests=True)

    assert "no whole bag" in broken(lambda copy: (copy / "data" / "tables" / "lot.csv").unlink())
    assert "no whole bag" in broken(lambda copy: (copy / "data" / "index.html").write_text("x"))
    assert "links" in broken(lambda copy: (copy / "data" / "link").symlink_to("/"))
    assert "newer version" in broken(
        lambda copy: rebagged(copy, "datapackage.json", '"motifs_schema": ', '"motifs_schema": 9')
    )
    assert "row 2" in broken(lambda copy: rebagged(copy, "tables/lot.csv", "\r\n1,", "\r\nx,"))
    assert "belong together" in broken(lambda copy: rebagged(copy, "tables/lot.csv", "\r\n1,", "\r\n77,"))
    assert "no place" in broken(lambda copy: rebagged(copy, "tables/photo.csv", "photos/", "../../etc/"))
