"""Pictures, uploads, pairs and narrowed comparanda: what pages ask of the workflows."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image

from motifs.catalogue import Catalogue
from motifs.errors import InputError, NameRefused, NoSherdFound, PhotoUnreadable
from motifs.workflows.check import check_collection
from motifs.workflows.mat import mat_content, print_mat
from motifs.workflows.pairs import reasons_of_pair
from motifs.workflows.pictures import crop_jpeg, photo_jpeg, sherd_pictures, small_pictures
from motifs.workflows.uploads import Upload, take_in_uploads
from tests.workflows.conftest import LOT

if TYPE_CHECKING:
    from pathlib import Path

A = f"{LOT}-001"
BY = "M. Oduya"


def test_no_sherds_no_pictures(cat: Catalogue) -> None:
    assert list(sherd_pictures(cat, [])) == []
    assert list(small_pictures(cat, [])) == []


def test_a_picture_has_the_size_of_its_crop_and_nothing_around_the_sherd(cat: Catalogue) -> None:
    sherd = cat.sherd(A)
    crop = cat.crop(A)
    assert crop is not None
    ((_, picture),) = sherd_pictures(cat, [sherd], px_per_mm=5.0)
    image = np.asarray(Image.open(io.BytesIO(picture.webp)))
    assert (picture.width_mm, picture.height_mm) == (crop.mask.shape[1] / 10, crop.mask.shape[0] / 10)
    assert image.shape == (round(picture.height_mm * 5), round(picture.width_mm * 5), 4)
    assert (image[..., 3] > 127).mean() == pytest.approx(crop.mask.mean(), abs=0.01)


def test_small_pictures_are_kept_and_no_orphans(cat: Catalogue) -> None:
    sherds = cat.sherds(LOT)
    drawn = {sherd.number: picture.webp for sherd, picture in small_pictures(cat, sherds)}
    files = list(cat.derived_folder.rglob("*.small.webp"))
    assert len(files) == len(sherds)
    assert {sherd.number: picture.webp for sherd, picture in small_pictures(cat, sherds)} == drawn
    assert check_collection(cat, by="test").is_sound


def test_a_damaged_small_picture_is_drawn_again(cat: Catalogue) -> None:
    sherds = [cat.sherd(A)]
    ((_, whole),) = small_pictures(cat, sherds)
    file = next(cat.derived_folder.rglob("*.small.webp"))
    file.write_bytes(whole.webp[:-40])
    ((_, again),) = small_pictures(cat, sherds)
    assert again.webp == whole.webp


def test_photographs_and_crops_to_show(cat: Catalogue) -> None:
    photo = cat.photos(LOT)[0]
    assert max(Image.open(io.BytesIO(photo_jpeg(cat, photo, longest_px=300))).size) == 300
    content, width_px, height_px = crop_jpeg(cat, cat.sherd(A))
    assert Image.open(io.BytesIO(content)).size == (width_px, height_px)


def test_uploads_are_catalogued_under_the_names_they_came_with(tmp_path: Path, trays: list[Path]) -> None:
    uploads = [Upload("IMG_0001.JPG", tray.read_bytes()) for tray in trays[:2]]
    taken = take_in_uploads(tmp_path / "c", uploads, lot="L", site="S", by=BY)
    assert [photo.file for photo in taken] == ["IMG_0001.JPG", "IMG_0001.JPG"]
    with Catalogue.open(tmp_path / "c") as cat:
        assert [photo.file_name for photo in cat.photos("L")] == ["IMG_0001.JPG", "IMG_0001.JPG"]
        assert len(cat.sherds("L")) == 8


@pytest.mark.parametrize(
    "name", ["../../escape.jpg", "/etc/passwd", "C:\\x\\y.png", "", "..", "\0", "x" * 500 + ".jpg", "é" * 200 + ".jpg"]
)
def test_a_hostile_name_stays_in_its_folder(name: str, tmp_path: Path, trays: list[Path]) -> None:
    taken = take_in_uploads(tmp_path / "c", [Upload(name, trays[0].read_bytes())], lot="L", by=BY)
    assert len(taken[0].sherds) == 4
    assert "/" not in taken[0].file
    assert sorted(path.name for path in tmp_path.iterdir()) == ["c"]


def test_bad_uploads_are_told_by_name_and_make_nothing(tmp_path: Path, trays: list[Path]) -> None:
    good = Upload("good.jpg", trays[0].read_bytes())
    plain = io.BytesIO()
    Image.new("RGB", (400, 300), (120, 120, 120)).save(plain, "PNG")
    for content, error in (
        (b"", PhotoUnreadable),
        (b"words", PhotoUnreadable),
        (good.content[:2000], PhotoUnreadable),
        (plain.getvalue(), NoSherdFound),
    ):
        with pytest.raises(error, match=r"bad\.jpg") as wrong:
            take_in_uploads(tmp_path / "c", [good, Upload("bad.jpg", content)], lot="L", by=BY)
        assert "/" not in str(wrong.value).replace("px/mm", "")
    for lot, site in (("a/b", None), ("L", "..")):
        with pytest.raises(NameRefused):
            take_in_uploads(tmp_path / "c", [good], lot=lot, site=site, by=BY)
    with pytest.raises(InputError, match="no photograph"):
        take_in_uploads(tmp_path / "c", [], lot="L", by=BY)
    assert not (tmp_path / "c").exists()


def test_two_sherds_side_by_side(cat: Catalogue) -> None:
    """The test trays show two pastes: a sherd of the other one is the one whose median colour is farthest."""
    colours = {
        sherd.number: np.median(crop.image[crop.mask], axis=0)
        for sherd in cat.sherds(LOT)
        if (crop := cat.crop(sherd.number))
    }
    by_gap = sorted(colours, key=lambda number: float(np.abs(colours[number] - colours[A]).sum()))
    alike = {reason.cue: reason for reason in reasons_of_pair(cat, A, by_gap[1], by=BY)}
    differ = {reason.cue: reason for reason in reasons_of_pair(cat, A, by_gap[-1], by=BY)}
    assert differ["paste"].nats < alike["paste"].nats
    assert all(reason.words and reason.verdict in {"for", "against", "does not tell"} for reason in differ.values())
    with pytest.raises(InputError, match="itself"):
        reasons_of_pair(cat, A, A, by=BY)


def test_without_a_lot_the_mat_has_to_name_it(tmp_path: Path, trays: list[Path]) -> None:
    """A photograph without a mat names none: nothing is made."""
    with pytest.raises(InputError, match="the lot is missing"):
        take_in_uploads(tmp_path / "c", [Upload("a.jpg", trays[0].read_bytes())], lot=None, by=BY)
    assert not (tmp_path / "c").exists()


def test_the_mat_of_the_page_is_that_of_the_command(tmp_path: Path) -> None:
    print_mat("A4", tmp_path / "mat.pdf", lot="0012", site="Kestrel Ford")
    content = mat_content("A4", lot="0012", site="Kestrel Ford")
    assert content.startswith(b"%PDF")
    assert (tmp_path / "mat.pdf").read_bytes() == content
    with pytest.raises(NameRefused):
        mat_content("A4", lot="../up")
