"""Fixed-scale views: scale is kept, the backdrop is gone, large sherds are covered, boxes are cut."""

from __future__ import annotations

import dataclasses

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motifs.embedding import EFFICIENTNET_LITE0, EncoderSpec, cut_box, views_of
from motifs.embedding.lines import attention, line_image
from motifs.embedding.views import MOST_VIEWS, _starts
from motifs.errors import InputError
from motifs.records import SherdCrop
from tests.embedding.sherds import BACKDROP, sherd, square, textures

PLAIN = dataclasses.replace(EFFICIENTNET_LITE0, rotations=1, px_per_mm=4.0, input_px=224, picture="colour")


def with_settings(**changes: object) -> EncoderSpec:
    return dataclasses.replace(PLAIN, **changes)  # type: ignore[arg-type]


def striped(period_px: int, side_px: int) -> SherdCrop:
    crop = square(side_px)
    image = crop.image.copy()
    image[:, (np.arange(side_px) // (period_px // 2)) % 2 == 0] = (20, 20, 20)
    return dataclasses.replace(crop, image=image)


@pytest.mark.parametrize("side_px", [100, 200, 400])
def test_a_millimetre_is_as_long_on_every_sherd(side_px: int) -> None:
    """Stripes 5 mm apart are 20 px apart at 4 px/mm whatever the size of the sherd."""
    (view,) = views_of(striped(50, side_px), PLAIN)
    row = view.image[112, view.mask[112] > 0, 0].astype(float)
    assert len(row) == pytest.approx(side_px * 0.4, abs=1)
    edges = np.flatnonzero(np.diff((row > 110).astype(int)) > 0)
    np.testing.assert_allclose(np.diff(edges), 20, atol=1)


def test_small_sherds_stay_small_and_lie_in_the_middle() -> None:
    (view,) = views_of(square(50), PLAIN)
    assert (view.mask > 0).sum() == 400
    rows, columns = np.nonzero(view.mask)
    assert (rows.mean(), columns.mean()) == (111.5, 111.5)
    assert view.weight == pytest.approx(400.0)


def test_area_interpolation_keeps_the_mean() -> None:
    rng = np.random.default_rng(20)
    crop = dataclasses.replace(square(200), image=rng.integers(0, 256, (200, 200, 3), dtype=np.uint8))
    (view,) = views_of(crop, with_settings(px_per_mm=2.5))
    np.testing.assert_allclose(view.image[view.mask > 0].mean(axis=0), crop.image.mean(axis=(0, 1)), atol=0.5)


def test_the_backdrop_does_not_speak() -> None:
    crop = sherd(textures()["brick"])
    other = crop.image.copy()
    other[~crop.mask] = np.random.default_rng(21).integers(0, 256, (int((~crop.mask).sum()), 3))
    for spec in (PLAIN, with_settings(picture="lines"), with_settings(picture="contrast"), with_settings(rotations=8)):
        one, two = list(views_of(crop, spec)), list(views_of(dataclasses.replace(crop, image=other), spec))
        assert all(np.array_equal(a.image, b.image) for a, b in zip(one, two, strict=True))
    (view,) = views_of(crop, PLAIN)
    deep_outside = cv2.erode((view.mask == 0).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    assert np.unique(view.image[deep_outside]).tolist() == [128]  # zero to a network of mean 0.5
    assert np.abs(view.image.reshape(-1, 3).astype(float) - np.array(BACKDROP)).sum(axis=1).min() > 60


def test_the_place_in_the_crop_does_not_matter() -> None:
    crop = sherd(textures()["gravel"])
    wide = SherdCrop(
        cv2.copyMakeBorder(crop.image, 31, 7, 13, 55, cv2.BORDER_CONSTANT, value=(0, 0, 0)),
        np.pad(crop.mask, ((31, 7), (13, 55))), 10.0, 12.0, is_scaled=True,
    )  # fmt: skip
    (one,), (two,) = views_of(crop, PLAIN), views_of(wide, PLAIN)
    np.testing.assert_array_equal(one.image, two.image)


def test_quarter_turns_are_exact_and_eighths_keep_the_area() -> None:
    crop = sherd(textures()["brick"], seed=3)
    quarters = list(views_of(crop, with_settings(rotations=4)))
    assert len(quarters) == 4
    for turn, view in enumerate(quarters):
        assert np.array_equal(
            np.sort(view.image[view.mask > 0], axis=0), np.sort(quarters[0].image[quarters[0].mask > 0], axis=0)
        )
        rows, columns = np.nonzero(np.rot90(quarters[0].mask, turn))
        assert np.ptp(rows) == np.ptp(np.nonzero(view.mask)[0])
        assert np.ptp(columns) == np.ptp(np.nonzero(view.mask)[1])
    eighths = list(views_of(crop, with_settings(rotations=8)))
    areas = [view.weight for view in eighths]
    assert len(areas) == 8
    np.testing.assert_allclose(areas, areas[0], rtol=0.01)
    np.testing.assert_array_equal(eighths[2].image, quarters[1].image)


def test_a_large_sherd_is_covered_by_overlapping_views() -> None:
    crop = striped(50, 1200)
    views = list(views_of(crop, PLAIN))
    assert len(views) == 9
    assert all((view.mask > 0).all() for view in views)
    assert len(list(views_of(crop, with_settings(rotations=4)))) == 36


@given(st.integers(1, 4000), st.sampled_from([64, 224, 256]))
def test_windows_cover_every_pixel_and_overlap(length: int, side: int) -> None:
    starts = _starts(length, side)
    if length <= side:
        assert len(starts) == 1
        assert abs((starts[0] + side / 2) - length / 2) <= 1
    else:
        assert starts[0] == 0
        assert starts[-1] + side == length
        assert max(np.diff(starts)) <= side * 0.75 + 1


def test_a_huge_sherd_has_a_limited_number_of_views() -> None:
    views = list(views_of(square(600), with_settings(px_per_mm=10.0, input_px=64)))
    assert len(views) == MOST_VIEWS


def test_line_image_forgets_paste_and_light_and_tells_dark_from_bright() -> None:
    mask = np.ones((200, 200), np.float32)
    drawn = np.zeros((200, 200), np.float32)
    drawn[:, (np.arange(200) // 10) % 4 == 0] = 1.0  # stripes of 2.5 mm, 10 mm apart, at 4 px/mm
    light = np.linspace(0.7, 1.3, 200, dtype=np.float32)[:, None]
    dark = line_image(150.0 - 60.0 * drawn, mask, 4.0)
    lit = line_image((150.0 - 60.0 * drawn) * light, mask, 4.0)
    assert float(np.abs(dark - lit).mean()) < 6.0
    bright = line_image(90.0 + 60.0 * drawn, mask, 4.0)
    middle = (slice(60, 140), slice(60, 140))
    on, off = drawn[middle] > 0, drawn[middle] == 0
    assert float(dark[middle][on].mean()) < 60.0
    assert float(dark[middle][off].mean()) > 120.0
    assert float(bright[middle][on].mean()) > 196.0


def test_line_image_leaves_temper_and_plain_ground_out() -> None:
    rng = np.random.default_rng(22)
    mask = np.ones((200, 200), np.float32)
    grey = np.full((200, 200), 140.0, np.float32) + rng.normal(0, 1.5, (200, 200)).astype(np.float32)
    np.testing.assert_allclose(line_image(grey, mask, 4.0), 128.0, atol=40.0)
    grey[95:105] = 60.0  # one stroke of 2.5 mm
    for row, column in rng.integers(10, 190, (120, 2)):
        if not 85 < row < 115:
            grey[row : row + 2, column : column + 2] = 240.0  # grains of half a millimetre
    lines = line_image(grey, mask, 4.0)
    stroke, ground = np.abs(lines[98:102, 20:180] - 128.0), np.abs(lines[20:80, 20:180] - 128.0)
    assert float(stroke.mean()) > 8.0 * float(ground.mean())


def test_attention_lies_where_something_is_drawn() -> None:
    lines = np.full((224, 224), 128, np.uint8)
    lines[100:110, 50:110] = 0
    mask = np.full((224, 224), 255, np.uint8)
    mask[:, 200:] = 0
    weights = attention(lines, mask, 4.0)
    assert int(weights[105, 80]) == 255
    assert int(weights[20, 20]) == round(0.1 * 255)
    assert not weights[:, 200:].any()


def test_a_box_is_the_detail_and_may_reach_beyond() -> None:
    crop = sherd(textures()["brick"])
    part = cut_box(crop, (100, 120, 60, 40))
    np.testing.assert_array_equal(part.image, crop.image[120:160, 100:160])
    assert part.px_per_mm == crop.px_per_mm
    whole = cut_box(crop, (-50, -50, 1000, 1000))
    np.testing.assert_array_equal(whole.mask, crop.mask)


@pytest.mark.parametrize("box", [(0, 0, 0, 10), (0, 0, 10, -5), (0, 0, 8, 8), (900, 900, 50, 50), (-90, -90, 50, 50)])
def test_a_box_without_sherd_is_refused(box: tuple[int, int, int, int]) -> None:
    with pytest.raises(InputError, match="holds no part of the sherd"):
        cut_box(sherd(textures()["brick"]), box)


@settings(max_examples=30, deadline=None)
@given(
    st.integers(1, 60),
    st.integers(1, 60),
    st.sampled_from([1, 4, 8]),
    st.sampled_from(["colour", "grey", "lines", "contrast"]),
)
def test_any_tiny_sherd_gives_valid_views(height: int, width: int, rotations: int, picture: str) -> None:
    rng = np.random.default_rng(height * 100 + width)
    mask = np.zeros((height + 2, width + 2), np.bool_)
    mask[1:-1, 1:-1] = True
    crop = SherdCrop(rng.integers(0, 256, (*mask.shape, 3), dtype=np.uint8), mask, 10.0, 10.0, is_scaled=True)
    views = list(views_of(crop, with_settings(rotations=rotations, picture=picture)))
    assert len(views) == rotations
    for view in views:
        assert view.image.shape == (224, 224, 3)
        assert view.image.dtype == np.uint8
        assert view.weight > 0.0


def test_crops_that_cannot_be_are_refused() -> None:
    crop = square(20)
    with pytest.raises(ValueError, match="mask is empty"):
        list(views_of(dataclasses.replace(crop, mask=np.zeros((20, 20), np.bool_)), PLAIN))
    with pytest.raises(ValueError, match="do not fit"):
        list(views_of(dataclasses.replace(crop, mask=np.ones((20, 21), np.bool_)), PLAIN))
