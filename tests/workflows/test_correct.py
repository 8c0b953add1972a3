"""Corrections after intake: each measured again, each undone again."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from motifs.errors import InputError, LinksContradict, MotifsError
from motifs.workflows import correct
from motifs.workflows.tell import tell_pairs
from tests.workflows.conftest import LOT, OTHER

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

A, B = f"{LOT}-001", f"{LOT}-002"


def numbers(cat: Catalogue, lot: str = LOT) -> list[str]:
    return [sherd.number for sherd in cat.sherds(lot)]


def test_drop_and_undo(cat: Catalogue) -> None:
    before = numbers(cat)
    correct.drop(cat, [A, B], by="test")
    assert numbers(cat) == before[2:]
    correct.undo(cat, LOT, by="test")
    assert numbers(cat) == before


def test_merge_makes_one_sherd_that_covers_both(cat: Catalogue) -> None:
    areas = [cat.sherd(number).area_mm2 or 0.0 for number in (A, B)]
    merged = correct.merge(cat, [A, B], by="test")
    assert (merged.area_mm2 or 0.0) >= sum(areas) * 0.99
    assert cat.sherd(A).merged_into == merged.number
    assert cat.crop_file(merged.number) is not None
    correct.undo(cat, LOT, by="test")
    assert A in numbers(cat)


@pytest.mark.parametrize("chosen", [[], [A], [A, A]])
def test_merging_less_than_two_is_refused(chosen: list[str], cat: Catalogue) -> None:
    with pytest.raises(InputError, match="two"):
        correct.merge(cat, chosen, by="test")


def test_merging_across_photographs_is_refused(cat: Catalogue) -> None:
    with pytest.raises(InputError):
        correct.merge(cat, [A, f"{LOT}-005"], by="test")


def test_redraw_measures_again(cat: Catalogue) -> None:
    square = np.array([[620, 420], [680, 420], [680, 480], [620, 480]], np.float32)  # no other sherd lies there
    changed = correct.redraw(cat, A, square, by="test")
    px_per_mm = cat.photo(changed.photo_id).scale.px_per_mm  # type: ignore[union-attr]
    assert changed.area_mm2 == pytest.approx((60 / px_per_mm) ** 2, rel=0.001)
    assert changed.max_dimension_mm == pytest.approx(60 * math.sqrt(2) / px_per_mm, rel=0.001)


@pytest.mark.parametrize(
    "outline",
    [
        np.zeros((0, 2)),
        np.array([[1, 1], [2, 2]]),
        np.array([[1, 1, 1], [2, 2, 2], [3, 3, 3]]),
        np.array([[1, 1], [2, math.nan], [3, 1]]),
        np.array([[-50, 1], [200, 1], [200, 200]]),
        np.array([[10, 1], [2000, 1], [200, 200]]),
    ],
)
def test_an_outline_that_cannot_be_is_refused(outline: np.ndarray, cat: Catalogue) -> None:
    before = cat.version()
    with pytest.raises(InputError, match=A):
        correct.redraw(cat, A, outline, by="test")
    assert cat.version() == before


def test_half_the_scale_is_four_times_the_area(cat: Catalogue) -> None:
    before = cat.sherd(A)
    photo = cat.photo(before.photo_id)
    assert photo.scale is not None
    correct.set_scale(cat, photo.photo_id, photo.scale.px_per_mm / 2, by="test")
    after = cat.sherd(A)
    assert after.area_mm2 == pytest.approx(4 * (before.area_mm2 or 0), rel=1e-4)
    crop = cat.crop(A)
    assert crop is not None
    assert crop.source_px_per_mm == pytest.approx(photo.scale.px_per_mm / 2)


def test_no_scale_takes_the_sizes_away(cat: Catalogue) -> None:
    correct.set_scale(cat, cat.sherd(A).photo_id, None, by="test")
    assert cat.sherd(A).area_mm2 is None


@pytest.mark.parametrize("px_per_mm", [0.0, -1.0, math.nan, math.inf])
def test_a_scale_that_cannot_be_is_refused(px_per_mm: float, cat: Catalogue) -> None:
    with pytest.raises(InputError, match="px/mm"):
        correct.set_scale(cat, cat.sherd(A).photo_id, px_per_mm, by="test")


def test_a_photograph_moves_with_its_sherds_and_their_numbers(cat: Catalogue) -> None:
    correct.move_photo(cat, cat.sherd(A).photo_id, "B-04", site="Kestrel Ford", by="test")
    assert numbers(cat, "B-04") == [f"{LOT}-{number:03d}" for number in range(1, 5)]
    assert len(numbers(cat)) == 4


def test_a_lot_gets_another_site(cat: Catalogue) -> None:
    assert correct.set_site(cat, LOT, "Marl Hill", by="test").site == "Marl Hill"
    assert correct.set_site(cat, LOT, None, by="test").site is None


def test_attributions_are_kept_and_withdrawn(cat: Catalogue) -> None:
    correct.attribute(cat, [A, B], "jar 1", by="R. Amadi", note="same rim")
    kept = cat.attributions(LOT)
    assert {number: row.vessel for number, row in kept.items()} == {A: "jar 1", B: "jar 1"}
    assert kept[A].by == "R. Amadi"
    correct.withdraw_attribution(cat, [A], by="R. Amadi")
    assert list(cat.attributions(LOT)) == [B]


def test_an_attribution_against_a_link_is_refused(cat: Catalogue) -> None:
    tell_pairs(cat, LOT, different=[(A, B)], by="test")
    with pytest.raises(LinksContradict, match=A):
        correct.attribute(cat, [A, B], "jar 1", by="test")
    assert cat.attributions(LOT) == {}


def test_nothing_to_undo_is_said(cat: Catalogue) -> None:
    with pytest.raises(MotifsError, match="undo"):
        correct.undo(cat, OTHER, by="test")
