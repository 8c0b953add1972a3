"""Photographs to catalogued sherds: all or nothing, nothing twice, crops kept."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import pytest

from motifs.catalogue import Catalogue
from motifs.errors import InputError, NameRefused, PhotoNotFound
from motifs.workflows.crops import crops_of, recut
from motifs.workflows.intake import catalogue_photos, known_photos, read_photos
from tests.workflows.conftest import LOT, OTHER
from tests.workflows.tray import PX_PER_MM, save_tray

if TYPE_CHECKING:
    from pathlib import Path


def test_no_photograph_is_refused() -> None:
    with pytest.raises(InputError, match="no photograph"):
        read_photos([])


def test_every_sherd_gets_a_number_a_size_and_a_crop(cat: Catalogue) -> None:
    sherds = cat.sherds(LOT)
    assert [sherd.number for sherd in sherds] == [f"{LOT}-{number:03d}" for number in range(1, 9)]
    assert all(sherd.site == "Kestrel Ford" and sherd.look is None for sherd in sherds)
    for sherd, crop in crops_of(cat, sherds):
        assert cat.crop_file(sherd.number) is not None
        assert crop.is_scaled
        assert crop.mask.sum() / crop.px_per_mm**2 == pytest.approx(sherd.area_mm2, rel=0.02)


def test_scale_comes_from_the_bar(cat: Catalogue, trays: list[Path]) -> None:
    known = catalogue_photos(cat, read_photos(trays[:1]), lot=LOT, by="test")[0]
    assert known.mm_per_px == pytest.approx(1 / PX_PER_MM, rel=0.007)


def test_the_original_is_kept_untouched(cat: Catalogue, trays: list[Path]) -> None:
    content = trays[0].read_bytes()
    row = cat.photo_by_hash(hashlib.sha256(content).hexdigest())
    assert row is not None
    assert cat.photo_file(row).read_bytes() == content


def test_the_same_photograph_is_recognised_and_not_doubled(cat: Catalogue, trays: list[Path]) -> None:
    taken = catalogue_photos(cat, read_photos(trays[:1] * 2), lot=LOT, by="test")
    assert [photo.is_known for photo in taken] == [True, True]
    assert [sherd.sherd for sherd in taken[0].sherds] == [f"{LOT}-{number:03d}" for number in range(1, 5)]
    assert "already catalogued" in taken[0].warnings[-1]
    assert len(cat.sherds()) == 12


def test_a_known_photograph_is_not_read_again(cat: Catalogue, trays: list[Path]) -> None:
    readings = read_photos(trays[:1], known=known_photos(cat))
    assert [photo.reading for photo in readings] == [None]
    taken = catalogue_photos(cat, readings, lot=LOT, by="test")
    assert len(taken[0].sherds) == 4
    assert taken[0].is_known


def test_the_same_photograph_for_another_lot_stays_where_it_is(cat: Catalogue, trays: list[Path]) -> None:
    taken = catalogue_photos(cat, read_photos(trays[:1]), lot="new lot", by="test")
    assert taken[0].lot == LOT
    assert [lot.name for lot in cat.lots()] == [LOT, OTHER]


def test_one_photograph_twice_on_a_line_comes_in_once(cat: Catalogue, tmp_path: Path) -> None:
    tray = save_tray(tmp_path / "again.png", 9, sherds=2)
    taken = catalogue_photos(cat, read_photos([tray, tray]), lot="D", by="test")
    assert [photo.is_known for photo in taken] == [False, True]
    assert len(cat.sherds("D")) == 2


def test_nothing_is_read_in_when_one_photograph_is_missing(trays: list[Path]) -> None:
    with pytest.raises(PhotoNotFound):
        read_photos([trays[0], trays[0].with_name("nowhere.jpg")])


@pytest.mark.parametrize("name", ["", "a/b", "..", " x"])
def test_a_lot_that_cannot_be_a_name_changes_nothing(name: str, cat: Catalogue, trays: list[Path]) -> None:
    before = cat.version()
    with pytest.raises(NameRefused):
        catalogue_photos(cat, read_photos(trays[:1]), lot=name, by="test")
    assert cat.version() == before


def test_a_typed_scale_is_taken(tmp_path: Path) -> None:
    tray = save_tray(tmp_path / "bare.png", 4, sherds=2, bar=False)
    with Catalogue.open(tmp_path / "c", create=True) as cat:
        taken = catalogue_photos(cat, read_photos([tray], px_per_mm=12.0), lot="L", by="test")[0]
    assert taken.mm_per_px == pytest.approx(1 / 12)


def test_without_scale_nothing_is_in_mm_and_a_warning_says_so(tmp_path: Path) -> None:
    tray = save_tray(tmp_path / "bare.png", 4, sherds=2, bar=False)
    with Catalogue.open(tmp_path / "c", create=True) as cat:
        taken = catalogue_photos(cat, read_photos([tray]), lot="L", by="test")[0]
        assert taken.mm_per_px is None
        assert any("scale" in warning for warning in taken.warnings)
        assert [sherd.area_mm2 for sherd in cat.sherds()] == [None, None]
        assert not recut(cat, cat.sherds()[0]).is_scaled


def test_a_lost_crop_is_cut_again_and_is_the_same(cat: Catalogue) -> None:
    sherd = cat.sherds(LOT)[0]
    kept = cat.crop(sherd.number)
    assert kept is not None
    file = cat.crop_file(sherd.number)
    assert file is not None
    file.unlink()
    ((_, cut),) = crops_of(cat, [sherd])
    assert (cut.mask == kept.mask).all()
    assert (cut.image == kept.image).all()


def test_progress_is_told_to_the_end(trays: list[Path]) -> None:
    told: list[tuple[str, int, int]] = []
    read_photos(trays[:2], progress=lambda *step: told.append(step))
    assert told == [("reading photographs", done, 2) for done in (0, 1, 2)]
