"""Backs of a tray, paired with its faces; and that a view is never taken for a sherd."""

import numpy as np
import pytest
from PIL import Image, ImageOps

from motifs.errors import InputError, UnknownName
from motifs.imaging import outline_measures
from motifs.workflows.crops import crops_of
from motifs.workflows.listing import list_sherds
from motifs.workflows.view_pictures import PAPER, pair_picture
from motifs.workflows.views import add_view, confirm_views, drop_view, pair_again, pair_view, take_backs, view_crop
from tests.workflows.tray import save_tray, tray_image

LOT = "B-03"


@pytest.fixture(scope="module")
def backs(tmp_path_factory):
    """The first tray of the lot turned over as a whole, and the second, each turned and one with other noise."""
    folder = tmp_path_factory.mktemp("backs")
    paths = []
    for seed, turn in ((1, 90), (2, 0)):
        image = ImageOps.mirror(tray_image(seed)).rotate(turn, expand=True)
        path = folder / f"back_{seed}.jpg"
        image.save(path, quality=88)
        paths.append(path)
    return paths


def true_sherd(cat, view, seed):
    """The face whose centre, mirrored and turned as the photograph was, is the view's."""
    photo = next(photo for photo in cat.photos(LOT) if photo.file_name == f"tray_{seed}.jpg")
    x, y = view.outline_px.mean(axis=0)
    if seed == 1:  # turned 90 degrees anticlockwise: back to the mirrored tray
        x, y = photo.width_px - 1 - y, x
    x = photo.width_px - 1 - x
    sherds = cat.sherds(photo_id=photo.photo_id)
    return min(sherds, key=lambda one: abs(one.outline_px.mean(axis=0) - (x, y)).sum()).number


def test_backs_are_paired_with_their_faces(cat, backs):
    taken = take_backs(cat, LOT, backs, by="test")
    assert taken.is_to_scale
    assert len(taken.views) == 8
    assert taken.without == ()
    for view in taken.views:
        assert view.sherd == true_sherd(cat, view, 1 if view.photo_name == "back_1.jpg" else 2)
        assert view.kind == "interior"
        assert view.distance_mm < 0.3
    assert {view.standing for view in taken.views} <= {"paired", "look"}
    assert sum(view.standing == "paired" for view in taken.views) >= 6


def test_a_view_is_no_evidence(cat, backs):
    """What measures, encodes and sorts asks the catalogue for the lot's sherds: nothing of that has changed."""
    before = (list_sherds(cat), [sherd.number for sherd, _ in crops_of(cat, cat.sherds(LOT))])
    cut = sorted((cat.folder / "derived").rglob("*"))
    take_backs(cat, LOT, backs, by="test")
    assert (list_sherds(cat), [sherd.number for sherd, _ in crops_of(cat, cat.sherds(LOT))]) == before
    assert (cat.lot(LOT).sherds, sorted((cat.folder / "derived").rglob("*"))) == (8, cut)


def test_the_same_photograph_again_changes_nothing_a_person_said(cat, backs):
    first = take_backs(cat, LOT, backs[:1], by="test").views
    a, b = first[0], first[1]
    pair_view(cat, a.view_id, b.sherd, by="M. Oduya")
    assert cat.view(b.view_id).sherd is None
    again = take_backs(cat, LOT, backs[:1], by="test").views
    assert len(again) == 4
    assert (cat.view(a.view_id).sherd, cat.view(a.view_id).standing) == (b.sherd, "confirmed")
    assert cat.view(b.view_id).sherd != b.sherd
    assert pair_again(cat, LOT, by="test") == cat.views(LOT)


def test_missing_and_extra_pieces(cat, tmp_path):
    """Three of four turned over, and two sherds of another tray among them."""
    image = ImageOps.mirror(tray_image(1, sherds=3))
    strange = tray_image(9, sherds=2).crop((0, 0, 600, 280))
    tall = Image.new("RGB", (900, 1000), (150, 150, 150))
    tall.paste(strange, (0, 0))
    tall.paste(image, (0, 290))
    path = tmp_path / "back.png"
    tall.save(path)
    taken = take_backs(cat, LOT, [path], by="test")
    sure = [view for view in taken.views if view.standing == "paired"]
    assert len(taken.views) == 5
    assert {view.sherd for view in sure} <= {f"{LOT}-00{n}" for n in (1, 2, 3)}
    assert len(sure) >= 2
    assert f"{LOT}-004" in taken.without


def test_without_a_scale_shapes_alone_are_compared(cat, tmp_path):
    path = tmp_path / "back.jpg"
    ImageOps.mirror(tray_image(1, bar=False)).save(path, quality=95)
    taken = take_backs(cat, LOT, [path], by="test")
    assert not taken.is_to_scale
    assert all(view.distance_mm is None for view in taken.views)
    assert sum(view.sherd is not None for view in taken.views) >= 3


def test_settling_by_hand(cat, backs):
    views = take_backs(cat, LOT, backs[:1], by="test").views
    confirm_views(cat, [views[0].view_id], by="M. Oduya")
    assert cat.view(views[0].view_id).standing == "confirmed"
    pair_view(cat, views[1].view_id, None, by="M. Oduya")
    with pytest.raises(InputError, match="loose"):
        confirm_views(cat, [views[1].view_id], by="M. Oduya")
    drop_view(cat, views[1].view_id, by="M. Oduya")
    assert len(cat.views(LOT)) == 3
    crop = view_crop(cat, views[0])
    size = outline_measures(views[0].outline_px, cat.photo(views[0].photo_id).scale)
    assert crop.mask.sum() / crop.px_per_mm**2 == pytest.approx(size.area_mm2, rel=0.02)


def test_a_pair_is_shown_laid_alike(cat, backs):
    """The mirrored, turned back covers the face: their shapes on the sheet overlap."""
    view = next(one for one in take_backs(cat, LOT, backs[:1], by="test").views if one.standing == "paired")
    sheet = pair_picture(cat, view)
    shape = (np.abs(sheet.astype(int) - PAPER).max(axis=2) > 25) * 255
    boxes = [Image.fromarray(part.astype(np.uint8)).getbbox() for part in np.array_split(shape, 2, axis=1)]
    sizes = [(right - left, bottom - top) for left, top, right, bottom in boxes]
    assert np.allclose(sizes[0], sizes[1], atol=8)
    pair_view(cat, view.view_id, None, by="test")
    with pytest.raises(InputError, match="loose"):
        pair_picture(cat, cat.view(view.view_id))


def test_a_section_is_added_by_hand(cat):
    sherd = cat.sherds(LOT)[0]
    view = add_view(cat, sherd.number, sherd.photo_id, sherd.outline_px, "section", by="test")
    assert cat.views(sherd=sherd.number) == (view,)
    assert view.max_dimension_mm == pytest.approx(sherd.max_dimension_mm, rel=1e-4)


def test_what_cannot_be_backs(cat, trays, tmp_path):
    with pytest.raises(InputError, match="catalogued as faces"):
        take_backs(cat, LOT, [trays[0]], by="test")
    with pytest.raises(UnknownName):
        take_backs(cat, "nowhere", [trays[0]], by="test")
    with pytest.raises(InputError, match="turned-over tray shows"):
        take_backs(cat, LOT, [save_tray(tmp_path / "b.jpg", 1)], kind="section", by="test")
    with cat.transaction(by="test"):
        cat.ensure_lot("empty")
    with pytest.raises(InputError, match="faces first"):
        take_backs(cat, "empty", [trays[0]], by="test")
    assert cat.views() == ()
    assert len(cat.photos()) == 3
