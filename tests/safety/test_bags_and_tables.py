"""What is taken in from elsewhere cannot lead out of the collection, unpack without end, or wait for ever.

Bags: RFC 8493, section 5.1.1 and 5.2 warn of special names and of addresses in fetch.txt. Zip files: the 42.zip kind, whose size when
unpacked is many thousand times its own. XML: entities within entities ("billion laughs", Wikipedia's account, from memory).
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import re
import shutil
import time
import zipfile
from typing import TYPE_CHECKING

import bagit
import openpyxl
import pytest

from motifs.catalogue import Catalogue
from motifs.catalogue.derived_files import crop_path
from motifs.catalogue.files import original_path
from motifs.errors import CollectionDamaged, InputError
from motifs.workflows import tables_in
from motifs.workflows.exporting import export_collection, take_in_bag
from motifs.workflows.intake import catalogue_photos, read_photos
from motifs.workflows.tables_in import read_sheet
from tests.workflows.tray import save_tray

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


@pytest.fixture(scope="module")
def bag_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("bag")
    with Catalogue.open(folder / "collection", create=True) as cat:
        catalogue_photos(cat, read_photos([save_tray(folder / "tray.jpg", 3)]), lot="L-1", by="test")
        export_collection(cat, folder / "bag", with_plates=False)
    return folder / "bag"


@pytest.fixture
def bag(bag_once: Path, tmp_path: Path) -> Path:
    return shutil.copytree(bag_once, tmp_path / "inner" / "bag")


def refused(bag: Path, folder: Path) -> str:
    """Why the bag is refused; nothing may be written, inside the collection or beside it."""
    before = everything(folder)
    with Catalogue.open(folder / "new", create=True) as new:
        with pytest.raises((InputError, CollectionDamaged)) as caught:
            take_in_bag(new, bag, by="test")
        assert new.is_empty()
        assert new.check() == ()
        assert [
            path for part in (new.photos_folder, new.derived_folder) for path in part.rglob("*") if path.is_file()
        ] == []
    shutil.rmtree(folder / "new")
    assert everything(folder) == before
    assert "\n" not in str(caught.value)
    return str(caught.value)


def everything(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*")}


def resealed(bag: Path, table: str, change: Callable[[str], str]) -> None:
    """Change a table and seal the bag again, as a forger would."""
    file = bag / "data" / "tables" / f"{table}.csv"
    before = file.read_bytes().decode("utf-8")
    after = change(before)
    assert after != before
    file.write_bytes(after.encode("utf-8"))
    bagit.Bag(str(bag)).save(manifests=True)


OUTSIDE = [
    "../../../outside/{0}",
    "/var/{0}",
    "C:\\\\x\\\\{0}",
    "..\\\\..\\\\{0}",
    "photos/../../{0}",
    "derived/crops/{0}",
]


@pytest.mark.parametrize("place", OUTSIDE)
def test_an_original_goes_to_its_place_or_nowhere(place: str, bag: Path, tmp_path: Path) -> None:
    """The forged place holds a true hash, and a file of that content lies where it leads to."""
    digest = hashlib.sha256(b"secret").hexdigest()
    (tmp_path / "inner" / "outside").mkdir()
    (tmp_path / "inner" / "outside" / digest).write_bytes(b"secret")

    def forge(text: str) -> str:
        text = re.sub(r"photos/[0-9a-f]{2}/[0-9a-f]{64}\.jpg", place.format(digest), text)
        return re.sub(r"\b[0-9a-f]{64}\b(?![./])", digest, text)

    resealed(bag, "photo", forge)
    assert "no place of an original" in refused(bag, tmp_path / "inner")


@pytest.mark.parametrize(
    "key", ["../../../../outside/crop", "/var/motifs-crop", "ab", "", "A" * 64, "0" * 63 + "\u0660"]
)
def test_a_crop_goes_to_its_place_or_nowhere(key: str, bag: Path, tmp_path: Path) -> None:
    resealed(bag, "sherd", lambda text: re.sub(r"\b[0-9a-f]{64}\b", key, text))
    refused(bag, tmp_path / "inner")
    with pytest.raises(CollectionDamaged, match="no content key"):
        crop_path(tmp_path, key)


@pytest.mark.parametrize("place", ["/etc/passwd", "photos/ab/../../x", "photos/ab/" + "0" * 64 + "/../x", "", "photos"])
def test_what_a_row_says_is_read_only_from_the_photographs(place: str, tmp_path: Path) -> None:
    with pytest.raises(CollectionDamaged, match="no place of an original"):
        original_path(tmp_path, place)


def test_links_pipes_and_addresses_to_fetch_are_refused_at_once(bag: Path, tmp_path: Path) -> None:
    began = time.monotonic()
    for change in (
        lambda copy: (copy / "data" / "photos" / "link.jpg").symlink_to("/etc/passwd"),
        lambda copy: (copy / "data" / "up").symlink_to(tmp_path, target_is_directory=True),
        lambda copy: os.mkfifo(copy / "data" / "waits"),
        lambda copy: (copy / "fetch.txt").write_text("http://127.0.0.1:9/x 10 data/x\n", encoding="utf-8"),
    ):
        copy = shutil.copytree(bag, tmp_path / "inner" / "copy")
        change(copy)
        refused(copy, tmp_path / "inner")
        shutil.rmtree(copy)
    assert time.monotonic() - began < 20  # a pipe that nobody writes to is not waited for


@pytest.mark.parametrize("path", ["../../../outside", "/etc/passwd", "data/../../x", "~/x", "C:/x", "data\\..\\..\\x"])
def test_a_manifest_that_leads_elsewhere_is_refused(path: str, bag: Path, tmp_path: Path) -> None:
    for name in ("manifest-sha256.txt", "tagmanifest-sha256.txt"):
        copy = shutil.copytree(bag, tmp_path / "inner" / "copy")
        with (copy / name).open("a", encoding="utf-8") as stream:
            stream.write(f"{'0' * 64}  {path}\n")
        refused(copy, tmp_path / "inner")
        shutil.rmtree(copy)


def test_a_table_named_to_lead_elsewhere_is_refused(bag: Path, tmp_path: Path) -> None:
    file = bag / "data" / "datapackage.json"
    package = json.loads(file.read_text(encoding="utf-8"))
    package["resources"][0]["name"] = "../../../etc/passwd"
    file.write_text(json.dumps(package), encoding="utf-8")
    bagit.Bag(str(bag)).save(manifests=True)
    assert "does not know" in refused(bag, tmp_path / "inner")


# --- Excel files are zip files of XML ----------------------------------------------------------------------------------


def workbook(changes: dict[str, bytes]) -> bytes:
    """A small workbook with parts replaced."""
    book = openpyxl.Workbook()
    book.active.append(["number", "lot"])
    book.active.append(["11-4", "L-1"])
    plain, out = io.BytesIO(), io.BytesIO()
    book.save(plain)
    with zipfile.ZipFile(plain) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, changes.get(name, old.read(name)))
        for name in set(changes) - set(old.namelist()):
            new.writestr(name, changes[name])
    return out.getvalue()


LAUGHS = (
    '<?xml version="1.0"?><!DOCTYPE w [<!ENTITY a "ha">'
    + "".join(f'<!ENTITY {chr(97 + k)} "{f"&{chr(96 + k)};" * 10}">' for k in range(1, 12))
    + "]><worksheet><sheetData><row><c><v>&l;</v></c></row></sheetData></worksheet>"
)
OUTSIDE_ENTITY = '<?xml version="1.0"?><!DOCTYPE w [<!ENTITY a SYSTEM "file:///etc/passwd">]><worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>&a;</t></is></c></row></sheetData></worksheet>'
SHEET = "xl/worksheets/sheet1.xml"


@pytest.mark.parametrize(
    "content",
    [
        workbook({SHEET: LAUGHS.encode()}),
        workbook({SHEET: OUTSIDE_ENTITY.encode()}),
        workbook({SHEET: b"<worksheet><sheetData><row>"}),
        workbook({SHEET: b""}),
        workbook({"xl/workbook.xml": b"<workbook/>"}),
        workbook({"[Content_Types].xml": b"<x/>"}),
        workbook({SHEET: b'<worksheet><sheetData><row r="x"><c r="1A"/></row></sheetData></worksheet>'}),
        b"PK\x05\x06" + bytes(18),
        b"PK\x03\x04",
        b"",
        b"\xd0\xcf\x11\xe0" + bytes(600),
    ],
)
def test_a_workbook_that_is_none_is_refused_in_one_line_and_soon(content: bytes, tmp_path: Path) -> None:
    (tmp_path / "finds.xlsx").write_bytes(content)
    began = time.monotonic()
    with pytest.raises(InputError) as wrong:
        read_sheet(tmp_path / "finds.xlsx")
    assert "\n" not in str(wrong.value)
    assert "root:" not in str(wrong.value)
    assert time.monotonic() - began < 10


def test_a_workbook_that_unpacks_without_end_is_refused_before_it_is_unpacked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tables_in, "MAX_UNPACKED_BYTES", 40_000_000)  # 400 MB of zeros take seconds to pack
    size = tables_in.MAX_UNPACKED_BYTES + 1
    with zipfile.ZipFile(tmp_path / "finds.xlsx", "w", zipfile.ZIP_DEFLATED) as archive, archive.open(SHEET, "w", force_zip64=True) as part:  # fmt: skip
        for _ in range(size // 1_000_000 + 1):
            part.write(bytes(1_000_000))
    assert (tmp_path / "finds.xlsx").stat().st_size < 1_000_000
    with pytest.raises(InputError, match="unpacks to more"):
        read_sheet(tmp_path / "finds.xlsx")


def test_names_inside_a_workbook_write_nothing(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "finds.xlsx").write_bytes(workbook({"../../outside.txt": b"x", "/abs.txt": b"x"}))
    assert len(read_sheet(tmp_path / "in" / "finds.xlsx").rows) == 1
    assert everything(tmp_path) == {"in", "in/finds.xlsx"}
