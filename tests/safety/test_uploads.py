"""What comes in by the page: how many, how large, what it is by its content, and names that cannot lead anywhere."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from motifs.catalogue import Catalogue
from motifs.errors import InputError, PhotoError, PhotoTooLarge, PhotoUnreadable
from motifs.imaging import MAX_SIDE_PX
from motifs.workflows import uploads
from motifs.workflows.uploads import (
    MOST_BYTES,
    MOST_PHOTOS,
    Upload,
    check_uploads,
    is_photograph,
    take_in_uploads,
    written_upload,
)
from tests.workflows.tray import tray_image

if TYPE_CHECKING:
    from pathlib import Path

# Beginnings as the formats' own standards give them, retyped from memory; PNG: ISO/IEC 15948, 5.2.
NOT_PHOTOGRAPHS = {
    "page.jpg": b"<!DOCTYPE html><script>alert(1)</script>",
    "drawing.png": b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>',
    "program.jpg": b"\x7fELF\x02\x01\x01" + bytes(64),
    "script.tif": b"#!/bin/sh\nrm -rf x\n",
    "archive.png": b"PK\x03\x04" + bytes(64),
    "movie.heic": b"\x00\x00\x00\x18ftypisom" + bytes(64),
    "animation.jpg": b"GIF89a" + bytes(64),
    "paper.jpeg": b"%PDF-1.7\n",
    "postscript.jpg": b"%!PS-Adobe-3.0 EPSF-3.0\n",
}


def photo(form: str) -> bytes:
    stream = io.BytesIO()
    tray_image(21).save(stream, form)
    return stream.getvalue()


@pytest.mark.parametrize("name", NOT_PHOTOGRAPHS)
def test_what_is_no_photograph_by_its_content_is_refused_whatever_it_is_called(name: str, tmp_path: Path) -> None:
    good = Upload("good.jpg", photo("JPEG"))
    with pytest.raises(PhotoUnreadable, match="not an image") as wrong:
        take_in_uploads(tmp_path / "new", [good, Upload(name, NOT_PHOTOGRAPHS[name])], lot="L-1", by="test")
    assert name in str(wrong.value)
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("form", ["JPEG", "PNG", "TIFF"])
def test_what_is_one_is_taken_whatever_it_is_called(form: str) -> None:
    assert is_photograph(photo(form), "sherds.txt")
    check_uploads([Upload("sherds.txt", photo(form))])


def test_none_too_many_and_too_much(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(InputError, match="no photograph chosen"):
        check_uploads([])
    one = Upload("a.jpg", photo("JPEG"))
    check_uploads([one] * MOST_PHOTOS)
    with pytest.raises(InputError, match=f"{MOST_PHOTOS} are taken"):
        check_uploads([one] * (MOST_PHOTOS + 1))
    with pytest.raises(PhotoUnreadable, match="0 bytes"):
        check_uploads([one, Upload("b.jpg", b"")])
    monkeypatch.setattr(uploads, "MOST_BYTES", len(one.content) - 1)
    with pytest.raises(PhotoTooLarge, match=r"a\.jpg has"):
        check_uploads([one])
    monkeypatch.setattr(uploads, "MOST_BYTES", len(one.content))
    monkeypatch.setattr(uploads, "MOST_BYTES_TOGETHER", 3 * len(one.content))
    check_uploads([one] * 3)
    with pytest.raises(PhotoTooLarge, match="together"):
        check_uploads([one] * 4)


def test_the_server_refuses_the_same_size_while_it_arrives() -> None:
    import tomllib
    from pathlib import Path

    config = tomllib.loads((Path(__file__).parents[2] / ".streamlit" / "config.toml").read_text(encoding="utf-8"))
    assert config["server"]["maxUploadSize"] * 1_000_000 <= MOST_BYTES * 1.05
    assert config["server"].get("enableXsrfProtection", True) is True
    assert config["server"]["address"] == "localhost"


def test_many_pixels_in_few_bytes_are_refused_before_they_are_decoded(tmp_path: Path) -> None:
    stream = io.BytesIO()
    Image.new("1", (MAX_SIDE_PX, 10)).save(stream, "PNG")
    assert len(stream.getvalue()) < 100_000
    with pytest.raises(PhotoError, match=f"{MAX_SIDE_PX} x 10"):
        take_in_uploads(tmp_path / "new", [Upload("wide.png", stream.getvalue())], lot="L-1", by="test")
    assert not (tmp_path / "new").exists()


HOSTILE_NAMES = [
    "../../etc/cron.d/x.jpg", "..\\..\\x.jpg", "/etc/passwd", "C:\\Windows\\x.jpg", "\\\\host\\share\\x.jpg", "..", ".", "",
    "a\0b.jpg", "a\nb.jpg", "x" * 300 + ".jpg", "é" * 200 + ".jpg", "\udcff.jpg", "CON", "x.jpg\u202egpj.exe", "~/.ssh/x", "-rf", "%2e%2e%2fx",
]  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_a_name_leads_nowhere(name: str, tmp_path: Path) -> None:
    stays_inside(name, tmp_path)


@given(st.text(max_size=300))
def test_no_name_leads_anywhere(tmp_path_factory: pytest.TempPathFactory, name: str) -> None:
    stays_inside(name, tmp_path_factory.mktemp("name"))


def stays_inside(name: str, folder: Path) -> None:
    (folder / "in").mkdir()
    path = written_upload(folder / "in", Upload(name, b"x"))
    assert path.resolve().parent == (folder / "in").resolve()
    assert path.read_bytes() == b"x"
    assert [one.name for one in folder.iterdir()] == ["in"]
    assert len(list((folder / "in").iterdir())) == 1


def test_a_hostile_name_is_kept_as_text_and_the_photograph_lies_by_its_hash(tmp_path: Path) -> None:
    upload = Upload("../../<b>x</b>&.jpg", photo("JPEG"))
    take_in_uploads(tmp_path / "new", [upload], lot="L-1", by="test")
    with Catalogue.open(tmp_path / "new") as cat:
        (stored,) = cat.photos()
        file = cat.photo_file(stored)
        assert "/" not in stored.file_name
    assert file.is_relative_to(tmp_path / "new" / "photos")
    assert file.stem == stored.sha256
