import hashlib

import numpy as np
import pytest

from motifs.errors import (
    CollectionDamaged,
    InputError,
    NameRefused,
    PhotoNotFound,
    PhotoUnreadable,
    UnknownName,
)
from motifs.records import Scale
from tests.catalogue.finds import PERSON, SCALE, add_tray, files_of, light

# FIPS 180-4, the example message "abc" for SHA-256 (NIST's published example values).
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def add(cat, lot="B-03", content=b"abc", **more):
    with cat.transaction(by=PERSON):
        cat.ensure_lot(lot)
        return cat.add_photo(lot, content, **{"file_name": "IMG 4.JPG", "width_px": 6, "height_px": 4, **more})


def test_sites_and_lots(cat):
    with cat.transaction(by=PERSON):
        assert cat.ensure_site("Kestrel Ford") == cat.ensure_site("Kestrel Ford")
        assert cat.ensure_lot("0012").site is None
        assert cat.ensure_lot("0012", "Kestrel Ford").site == "Kestrel Ford"
        assert cat.ensure_lot("0012").site == "Kestrel Ford"
        cat.ensure_lot("11-4", "Ashby Weir")
        cat.ensure_lot("1E5")
    assert [(lot.name, lot.site, lot.sherds, lot.photos) for lot in cat.lots()] == [
        ("0012", "Kestrel Ford", 0, 0),
        ("11-4", "Ashby Weir", 0, 0),
        ("1E5", None, 0, 0),
    ]
    assert [(site.name, site.lots) for site in cat.sites()] == [("Kestrel Ford", 1), ("Ashby Weir", 1)]
    assert [lot.name for lot in cat.lots("Ashby Weir")] == ["11-4"]


def test_a_lot_of_another_site_is_refused_and_can_be_moved(cat):
    with cat.transaction(by=PERSON):
        cat.ensure_lot("A", "Kestrel Ford")
    with pytest.raises(InputError, match="belongs to site 'Kestrel Ford'"), cat.transaction(by=PERSON):
        cat.ensure_lot("A", "Ashby Weir")
    with cat.transaction(by=PERSON):
        assert cat.set_site("A", "Ashby Weir").site == "Ashby Weir"
    with cat.transaction(by=PERSON):
        assert cat.set_site("A", None).site is None
    with cat.transaction(by=PERSON):
        cat.undo("A")
    assert cat.lot("A").site == "Ashby Weir"


def test_unknown_names(cat):
    add_tray(cat, "B-03", site="Kestrel Ford")
    with pytest.raises(UnknownName, match="no lot 'B-3'; did you mean 'B-03'"):
        cat.lot("B-3")
    with pytest.raises(UnknownName, match="no site 'Kestrel Fort'; did you mean 'Kestrel Ford'"):
        cat.lots("Kestrel Fort")
    with pytest.raises(UnknownName, match="did you mean"):
        cat.sherd("B-03-01")
    with pytest.raises(UnknownName):
        cat.photo(77)
    for read in (cat.photos, cat.sherds, cat.links, cat.attributions, cat.history, cat.version):
        with pytest.raises(UnknownName):
            read("B-3")


@pytest.mark.parametrize("bad", ["", "a/b", ".."])
def test_names_are_checked(cat, bad):
    for make in (cat.ensure_lot, cat.ensure_site, lambda name: cat.ensure_lot("fine", site=name)):
        with pytest.raises(NameRefused), cat.transaction(by=PERSON):
            make(bad)
    assert cat.lots() == cat.sites() == ()


def test_an_original_lies_under_its_hash_untouched(cat, tmp_path):
    photo = add(cat, scale=SCALE, light=light(), crumbs=3, warnings=["the scale bar is worn"])
    assert photo.sha256 == ABC
    assert cat.photo_file(photo) == cat.photos_folder / "ba" / f"{ABC}.jpg"
    assert cat.photo_file(photo).read_bytes() == b"abc"
    assert cat.photo(photo.photo_id) == cat.photo_by_hash(ABC.upper()) == cat.photos("B-03")[0] == photo
    assert (photo.scale, photo.crumbs, photo.warnings) == (SCALE, 3, ("the scale bar is worn",))
    assert (photo.file_name, photo.width_px, photo.height_px) == ("IMG 4.JPG", 6, 4)


def test_light_comes_back_to_the_bit(cat):
    kept = add(cat, light=light()).light
    np.testing.assert_array_equal(kept.gain, light().gain)
    assert kept.gain.dtype == np.float32
    assert (kept.reference, kept.backdrop_lab, kept.residual_de) == ("bar", (71.25, -0.5, 3.125), 0.75)
    assert add(cat, content=b"dark").light is None


def test_the_same_photo_is_not_doubled(cat):
    first, again = add(cat), add(cat, file_name="copy.png")
    assert again == first
    assert len(cat.photos()) == 1
    with pytest.raises(InputError, match="in lot 'B-03' already"):
        add(cat, lot="C-1")
    assert [lot.name for lot in cat.lots()] == ["B-03"]
    assert list(files_of(cat.folder)) == [f"photos/ba/{ABC}.jpg"]


def test_a_photo_from_a_file(cat, tmp_path):
    file = tmp_path / "tray 1.jpeg"
    file.write_bytes(b"abc")
    assert add(cat, content=file, file_name=str(file), sha256=ABC).file_name == "tray 1.jpeg"
    with pytest.raises(PhotoNotFound, match="no photo"):
        add(cat, content=tmp_path / "none.jpg")
    with pytest.raises(PhotoUnreadable, match="0 bytes"):
        add(cat, content=b"")
    with pytest.raises(PhotoUnreadable, match="changed while"):
        add(cat, content=b"other", sha256=ABC)
    with pytest.raises(PhotoUnreadable, match="cannot be read"):
        add(cat, content=tmp_path)


@pytest.mark.parametrize("name", ["..", "x.tar/../../e", "no ending", "x.J P", "x." + "a" * 99, ".hidden"])
def test_a_hostile_file_name_does_not_leave_the_folder(cat, name):
    photo = add(cat, file_name=name)
    assert cat.photo_file(photo).parent == cat.photos_folder / "ba"
    assert cat.check() == ()


def test_a_missing_original_is_named(cat):
    photo = add(cat)
    cat.photo_file(photo).unlink()
    with pytest.raises(CollectionDamaged, match="IMG 4"):
        cat.photo_file(photo)


def test_an_orphan_of_the_same_hash_is_used_as_it_is(cat):
    path = cat.photos_folder / "ba" / f"{ABC}.jpg"
    path.parent.mkdir()
    path.write_bytes(b"abc")
    inode = path.stat().st_ino

    def add_and_fail() -> None:
        with cat.transaction(by=PERSON):
            add(cat)
            cat.ensure_lot("and then it fails/")

    with pytest.raises(NameRefused):
        add_and_fail()
    assert path.stat().st_ino == inode  # a transaction takes back only what it made itself
    path.write_bytes(b"cut o")
    assert cat.photo_file(add(cat)).read_bytes() == b"abc"


def test_scale_is_set_with_the_sizes_of_all_sherds(cat):
    numbers = add_tray(cat, "B-03", sherds=2)
    photo = cat.photos()[0]
    keys = [row.content_key for row in cat.sherds()]
    new = Scale(25.0, "typed", 0.01)
    with cat.transaction(by=PERSON):
        sized = {numbers[0]: (4.0, 2.8), numbers[1]: (4.1, 2.9)}
        assert cat.set_scale(photo.photo_id, new, sized).scale == new
    assert [(row.area_mm2, row.max_dimension_mm) for row in cat.sherds()] == [(4.0, 2.8), (4.1, 2.9)]
    assert not set(keys) & {row.content_key for row in cat.sherds()}
    assert cat.crop(numbers[0]) is None  # cut at the old scale
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert cat.photo(photo.photo_id).scale == SCALE
    assert [row.content_key for row in cat.sherds()] == keys
    assert cat.crop(numbers[0]) is not None


@pytest.mark.parametrize(("px_per_mm", "measures"), [(0, None), (-1, None), (float("nan"), None), (9, {})])
def test_an_impossible_scale_changes_nothing(cat, px_per_mm, measures):
    numbers = add_tray(cat, "B-03", sherds=1)
    version = cat.version()
    measures = {numbers[0]: (1.0, 1.0)} if measures is None else measures
    with pytest.raises(InputError), cat.transaction(by=PERSON):
        cat.set_scale(cat.photos()[0].photo_id, Scale(px_per_mm, "typed", 0.01), measures)
    assert cat.photos()[0].scale == SCALE
    assert cat.version() == version


def test_a_photo_moves_with_its_sherds_and_their_links(cat):
    stays = add_tray(cat, "B-03", sherds=1, content=b"one")
    goes = add_tray(cat, "B-03", sherds=2, content=b"two")
    with cat.transaction(by=PERSON):
        cat.tell("B-03", goes[0], goes[1], "same")
        cat.tell("B-03", stays[0], goes[0], "different")
        cat.attribute(goes[0], "Vessel 1")
        cat.ensure_lot("C-1", "Ashby Weir")
    with cat.transaction(by=PERSON):
        assert cat.move_photo(cat.photos()[1].photo_id, "C-1").lot == "C-1"
    assert [(row.number, row.site) for row in cat.sherds("C-1")] == [(number, "Ashby Weir") for number in goes]
    assert [(link.a, link.b) for link in cat.links("C-1")] == [(goes[0], goes[1])]
    assert cat.links("B-03") == ()
    assert list(cat.attributions("C-1")) == [goes[0]]
    assert cat.history("B-03")[0].verb == "photo moved away"
    assert add_tray(cat, "C-1", content=b"three", sherds=1) == ["C-1-001"]
    with cat.transaction(by=PERSON):
        cat.undo("C-1")
    assert len(cat.links("B-03")) == 2
    assert [row.number for row in cat.sherds("B-03")] == stays + goes


def test_moving_to_where_it_is_changes_nothing(cat):
    add_tray(cat, "B-03")
    version = cat.version()
    with cat.transaction(by=PERSON):
        cat.move_photo(1, "B-03")
    assert cat.version() == version


def test_hash_of_the_file_is_the_name(cat):
    content = bytes(range(256)) * 50
    path = cat.photo_file(add(cat, content=content))
    assert hashlib.sha256(path.read_bytes()).hexdigest() == path.stem
