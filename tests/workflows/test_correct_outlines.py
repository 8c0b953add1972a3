"""Outlines corrected by hand: measured again, kept as the analyst's, through a second intake and a repair."""

from __future__ import annotations

import math
import shutil
from typing import TYPE_CHECKING

import numpy as np
import pytest

from motifs.catalogue import Catalogue
from motifs.errors import CollectionDamaged, InputError, UnknownName
from motifs.imaging import outline_measures
from motifs.workflows import correct
from motifs.workflows.check import check_collection
from motifs.workflows.intake import catalogue_photos, known_photos, read_photos
from motifs.workflows.tell import tell_pairs
from tests.workflows.conftest import LOT
from tests.workflows.tray import save_tray

if TYPE_CHECKING:
    from pathlib import Path

A, B = f"{LOT}-001", f"{LOT}-002"
FREE = np.array([[620, 420], [700, 420], [700, 500], [620, 500]], np.float32)  # no sherd lies there


def middle(cat: Catalogue, number: str) -> np.ndarray:
    outline = cat.sherd(number).outline_px
    return (outline.min(axis=0) + outline.max(axis=0)) / 2


def across(cat: Catalogue, number: str) -> list[list[float]]:
    """A stroke from left to right through the middle of a sherd, from beside it to beside it."""
    x, y = middle(cat, number)
    return [[x - 130, y], [x, y + 4], [x + 130, y]]


def standing(cat: Catalogue) -> list[tuple[object, ...]]:
    """Everything a correction can change, of every sherd there ever was."""
    return [
        (s.number, s.state, s.merged_into, s.outline_by, s.rim_up_deg, s.area_mm2, s.look, s.outline_px.tolist())
        for s in cat.sherds(with_dropped=True)
    ]


def test_a_stroke_makes_two_sherds_that_make_up_the_first(cat: Catalogue) -> None:
    whole = cat.sherd(A)
    first, second = correct.split(cat, A, across(cat, A), by="M. Oduya")
    assert (first.number, second.number) == (A, f"{LOT}-009")
    assert (first.area_mm2 or 0) + (second.area_mm2 or 0) == pytest.approx(whole.area_mm2, rel=1e-3)
    assert (first.area_mm2 or 0) >= (second.area_mm2 or 0)
    assert {first.outline_by, second.outline_by} == {"M. Oduya"}
    assert cat.crop_file(first.number) is not None
    crop = cat.crop(second.number)
    assert crop is not None
    assert crop.mask.sum() / 100 == pytest.approx(second.area_mm2, rel=0.03)
    correct.undo(cat, LOT, by="M. Oduya")
    assert cat.sherd(A).outline_px.tolist() == whole.outline_px.tolist()
    assert cat.sherd(f"{LOT}-009").state == "dropped"
    assert correct.redo(cat, LOT, by="M. Oduya") == f"sherd split {A}"
    assert cat.sherd(f"{LOT}-009").state == "kept"


def test_a_missed_sherd_is_added(cat: Catalogue) -> None:
    photo = cat.photo(cat.sherd(A).photo_id)
    assert photo.scale is not None
    added = correct.add_missed(cat, photo.photo_id, FREE, by="M. Oduya")
    assert added.number == f"{LOT}-009"
    assert added.area_mm2 == pytest.approx((80 / photo.scale.px_per_mm) ** 2, rel=1e-3)
    assert added.max_dimension_mm == pytest.approx(80 * math.sqrt(2) / photo.scale.px_per_mm, rel=1e-3)
    assert added.outline_by == "M. Oduya"
    assert cat.crop(added.number) is not None


def test_what_is_catalogued_already_is_not_added_again(cat: Catalogue) -> None:
    before = cat.version()
    sherd = cat.sherd(A)
    inner = (sherd.outline_px - middle(cat, A)) * 0.5 + middle(cat, A)
    for outline in (sherd.outline_px, inner):
        with pytest.raises(InputError, match=f"lies over sherd '{A}'"):
            correct.add_missed(cat, sherd.photo_id, outline, by="test")
    with pytest.raises(InputError, match=f"lies over sherd '{A}'"):
        correct.redraw(cat, B, sherd.outline_px, by="test")
    assert cat.version() == before


def test_an_outline_may_be_redrawn_over_itself(cat: Catalogue) -> None:
    outline = (cat.sherd(A).outline_px - middle(cat, A)) * 1.02 + middle(cat, A)
    before = cat.sherd(A).area_mm2 or 0
    changed = correct.redraw(cat, A, outline, by="M. Oduya")
    assert changed.area_mm2 == pytest.approx(before * 1.02**2, rel=2e-3)
    assert changed.look is None


@pytest.mark.parametrize("number", ["B-03-099", "", "B-03"])
def test_a_sherd_that_is_not_there_is_told(number: str, cat: Catalogue) -> None:
    with pytest.raises(UnknownName):
        correct.redraw(cat, number, FREE, by="test")
    with pytest.raises(UnknownName):
        correct.split(cat, number, across(cat, A), by="test")
    with pytest.raises(UnknownName):
        correct.set_rim_up(cat, [number], 90, by="test")


def test_a_dropped_sherd_is_not_redrawn(cat: Catalogue) -> None:
    correct.drop(cat, [A], by="test")
    with pytest.raises(UnknownName, match="dropped"):
        correct.redraw(cat, A, FREE, by="test")


@pytest.mark.parametrize("stroke", [[], [[1, 1]], [[1, 1], [30, 30]], [[-9, 1], [30, 30]], [[math.nan, 1], [2, 2]]])
def test_a_stroke_that_cuts_nothing_changes_nothing(stroke: list[list[float]], cat: Catalogue) -> None:
    before = (cat.version(), standing(cat))
    with pytest.raises(InputError, match=A):
        correct.split(cat, A, stroke, by="test")
    assert (cat.version(), standing(cat)) == before


def test_a_lost_original_leaves_the_outline_as_it_was(cat: Catalogue) -> None:
    before = (cat.version(), standing(cat))
    shutil.rmtree(cat.photos_folder)
    for work in (
        lambda: correct.split(cat, A, across(cat, A), by="test"),
        lambda: correct.add_missed(cat, cat.sherd(A).photo_id, FREE, by="test"),
    ):
        with pytest.raises(CollectionDamaged, match="restore it"):
            work()
    assert (cat.version(), standing(cat)) == before


def test_an_arrow_to_the_rim_turns_the_sherd(cat: Catalogue) -> None:
    x, y = middle(cat, A)
    assert correct.point_to_rim(cat, A, (x, y), (x, y + 50), by="M. Oduya").rim_up_deg == 180.0
    correct.set_rim_up(cat, [A, B], 450, by="M. Oduya")
    assert [cat.sherd(number).rim_up_deg for number in (A, B)] == [90.0, 90.0]
    correct.set_rim_up(cat, [A], None, by="M. Oduya")
    assert [cat.sherd(number).rim_up_deg for number in (A, B)] == [None, 90.0]


@pytest.mark.parametrize("work", [correct.accept_outlines, lambda cat, n, by: correct.set_rim_up(cat, n, 9, by=by)])
def test_nothing_chosen_is_told(work, cat: Catalogue) -> None:
    with pytest.raises(InputError, match="is chosen"):
        work(cat, [], by="test")


def test_what_was_said_is_told_before_a_sherd_goes(cat: Catalogue) -> None:
    assert correct.said_of(cat, [A, B]) == ()
    tell_pairs(cat, LOT, same=[(A, B)], by="test")
    with cat.transaction(by="M. Oduya"):
        cat.add_tag(A, "scroll", "motif")
        cat.add_tag(A, "rim", "position")
        cat.attribute(A, "jar 1")
    assert correct.said_of(cat, [A, B]) == (f"{A}: 2 tags, 1 link, put to vessel jar 1 by M. Oduya", f"{B}: 1 link")


def test_boxes_of_tags_are_named_when_the_outline_changes(cat: Catalogue) -> None:
    with cat.transaction(by="M. Oduya"):
        cat.add_tag(A, "scroll", "motif")
    assert correct.boxes_to_check(cat, A) == ""
    with cat.transaction(by="M. Oduya"):
        cat.add_tag(A, "chevron", "motif", box_px=(10, 10, 40, 40))
    assert "(chevron)" in correct.boxes_to_check(cat, A)


def test_corrections_survive_a_second_intake_and_a_repair(cat: Catalogue, trays: list[Path]) -> None:
    """Everything a person can do to the outlines of one photograph, then the same photograph again, and all derived files lost."""
    photo_id = cat.sherd(A).photo_id
    c, d = (f"{LOT}-00{number}" for number in (3, 4))
    correct.redraw(cat, A, (cat.sherd(A).outline_px - middle(cat, A)) * 0.9 + middle(cat, A), by="M. Oduya")
    correct.split(cat, B, across(cat, B), by="M. Oduya")
    correct.merge(cat, [A, c], by="M. Oduya")
    correct.drop(cat, [d], by="M. Oduya")
    added = correct.add_missed(cat, photo_id, FREE, by="M. Oduya")
    correct.set_rim_up(cat, [added.number], 30, by="M. Oduya")
    before, kept = standing(cat), [sherd.number for sherd in cat.sherds(LOT)]
    for known in (known_photos(cat), ()):
        again = catalogue_photos(cat, read_photos(trays[:1], known=known), lot=LOT, by="R. Vance")
        assert again[0].is_known
        assert {sherd.sherd for sherd in again[0].sherds} <= set(kept)
        assert standing(cat) == before
    shutil.rmtree(cat.derived_folder)
    assert not check_collection(cat, by="R. Vance").is_sound
    assert check_collection(cat, repair=True, by="R. Vance").is_sound
    assert standing(cat) == before
    for sherd in cat.sherds(LOT):
        crop = cat.crop(sherd.number)
        assert crop is not None
        assert crop.mask.sum() / 100 == pytest.approx(sherd.area_mm2, rel=0.03)


def test_a_sherd_that_intake_missed_is_measured_like_one_it_found(tmp_path: Path) -> None:
    """The corners that the tray was drawn from are the truth: added by hand, area within 1 % of the found outline's."""
    with Catalogue.open(tmp_path / "c", create=True) as cat:
        taken = catalogue_photos(cat, read_photos([save_tray(tmp_path / "t.png", 5)]), lot="L", by="test")
        found = taken[0].sherds[0]
        correct.drop(cat, [found.sherd], by="test")
        added = correct.add_missed(cat, taken[0].photo_id, found.outline_px, by="test")
    assert added.area_mm2 == pytest.approx(found.area_mm2, rel=0.01)
    assert outline_measures(added.outline_px, None).max_dimension_px == pytest.approx(
        outline_measures(found.outline_px, None).max_dimension_px, abs=0.6
    )
