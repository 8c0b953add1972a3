"""The renders themselves: same seed same photograph, masks agree with outlines, lengths and areas agree with geometry."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
import pytest

from tests.outsider.optics import encode_srgb, lab_to_linear
from tests.outsider.placing import place_shapes, to_millimetre_grid
from tests.outsider.scenes import KINDS, STYLES, LotSpec, TrayLook, make_lot, seeded, style_named
from tests.outsider.truth import fracture_contacts, outline_of, read_truth, write_truth

if TYPE_CHECKING:
    from pathlib import Path

    from tests.outsider.scenes import Shot


def _small_shot(style_name: str, seed: int) -> Shot:
    style, rng = style_named(style_name), seeded(seed, "test")
    recipe = style.lot_recipes("different", 1, rng)[0]
    pieces, _ = style.break_pot(recipe, 24, 5.0, rng)
    return style.photograph(pieces[:3], TrayLook("light", 1, 5.0, 50), rng)


@pytest.mark.parametrize("style", STYLES)
def test_same_seed_same_photograph(style: str) -> None:
    first, again, other = (_small_shot(style, seed) for seed in (5, 5, 6))
    assert np.array_equal(first.rgb, again.rgb)
    assert first.rgb.shape != other.rgb.shape or not np.array_equal(first.rgb, other.rgb)


@pytest.mark.parametrize("style", STYLES)
def test_outlines_cover_their_masks_and_stay_in_the_photograph(style: str) -> None:
    shot = _small_shot(style, 3)
    height, width = shot.rgb.shape[:2]
    for mask, (x, y) in shot.masks:
        outline = np.array(outline_of(mask, (x, y)))
        drawn = np.zeros((height, width), np.uint8)
        cv2.fillPoly(drawn, [np.round(outline * 16).astype(np.int32)], 1, shift=4)
        whole = np.zeros((height, width), bool)
        whole[y : y + mask.shape[0], x : x + mask.shape[1]] = mask
        common = (whole & (drawn > 0)).sum() / (whole | (drawn > 0)).sum()
        assert common > 0.97
        assert outline.min() > 0
        assert (outline < (width, height)).all()


@pytest.mark.parametrize("style", STYLES)
def test_sherds_stand_out_from_a_light_backdrop(style: str) -> None:
    shot = _small_shot(style, 4)
    for mask, (x, y) in shot.masks:
        window = shot.rgb[y : y + mask.shape[0], x : x + mask.shape[1]].astype(float)
        away = cv2.dilate(mask.astype(np.uint8), np.ones((9, 9), np.uint8)) == 0
        assert np.abs(np.median(window[mask], 0) - np.median(window[away], 0)).max() > 15


@pytest.mark.parametrize("style", STYLES)
def test_pots_of_a_lot_differ_as_their_kind_says(style: str) -> None:
    gaps = {}
    for kind in KINDS[1:]:
        lots = [style_named(style).lot_recipes(kind, 2, np.random.default_rng(seed)) for seed in range(12)]
        gaps[kind] = np.mean([np.linalg.norm(np.subtract(a.paste.lab, b.paste.lab)) for a, b in lots])
    assert 5 < gaps["look-alike"] < 11
    assert gaps["near-identical"] < 0.5 * gaps["look-alike"]
    with pytest.raises(ValueError, match="unknown kind"):
        style_named(style).lot_recipes("alike", 2, np.random.default_rng(0))


@pytest.mark.parametrize("style", STYLES)
def test_pieces_and_contacts_of_one_pot_agree(style: str) -> None:
    studio, rng = style_named(style), np.random.default_rng(8)
    recipe = studio.lot_recipes("look-alike", 1, rng)[0]
    pieces, contacts = studio.break_pot(recipe, 30, 5.0, rng)
    whole = recipe.girth_mm * recipe.height_mm
    assert 0.8 * whole < sum(piece.area_mm2 for piece in pieces) < whole
    assert 18 <= len(pieces) <= 34
    assert {index for pair in contacts for index in pair} >= {piece.index for piece in pieces}
    assert all(abs(sum(piece.motifs.values())) <= 1.0001 for piece in pieces)


def test_a_lot_is_kept_and_its_truth_reads_back(tmp_path: Path) -> None:
    spec = LotSpec("one", "different", 4, pots=2, sherds=16)
    lot, folder = make_lot(spec, tmp_path)
    again, _ = make_lot(spec, tmp_path)
    assert again == lot
    keys = [sherd.key for photo in lot.photos for sherd in photo.sherds]
    assert len(keys) == len(set(keys))
    assert all((folder / photo.file).stat().st_size > 10_000 for photo in lot.photos)
    assert all({c.a, c.b} <= set(keys) for c in lot.contacts)
    write_truth(lot, tmp_path / "copy.json")
    assert read_truth(tmp_path / "copy.json") == lot


def test_shared_length_of_a_tilted_straight_break() -> None:
    # A straight line at angle a to the rows crosses L(|cos a| + |sin a|) pixel edges: the estimate is within
    # the known bounds of the two-direction formula (pi/4 to pi/4 * sqrt 2 of the true length).
    y, x = np.mgrid[0:400, 0:400]
    labels = np.where(y > 100 + 0.5 * x, 1, 0).astype(np.int32)
    labels[:, -1] = -1
    true_mm = np.hypot(399, 199.5) / 10
    assert np.pi / 4 <= fracture_contacts(labels, 10.0)[0, 1] / true_mm <= np.pi / 4 * np.sqrt(2)


def test_shared_length_of_a_round_piece_is_its_circumference() -> None:
    y, x = np.mgrid[0:600, 0:600]
    labels = (np.hypot(x - 300, y - 300) < 200).astype(np.int32)
    assert fracture_contacts(labels, 10.0)[0, 1] == pytest.approx(2 * np.pi * 20, rel=0.01)


def test_placed_shapes_do_not_touch() -> None:
    rng = np.random.default_rng(2)
    shapes = [np.ones((int(rng.integers(5, 20)), int(rng.integers(5, 20))), bool) for _ in range(20)]
    corners = place_shapes(shapes, (120, 100), 3, 4, rng)
    assert corners is not None
    taken = np.zeros((100, 120), int)
    for shape, (x, y) in zip(shapes, corners, strict=True):
        taken[y - 1 : y + shape.shape[0] + 1, x - 1 : x + shape.shape[1] + 1] += 1
    assert taken.max() == 1
    assert place_shapes(shapes, (30, 30), 3, 4, rng) is None
    assert place_shapes([], (30, 30), 3, 4, rng) == []
    assert to_millimetre_grid(np.ones((21, 40), bool), 10.0).shape == (3, 4)


def test_grey_of_lightness_50_is_srgb_119() -> None:
    # L* 50 is sRGB 118.9 (CIE 15 and IEC 61966-2-1; the figure 119 is widely printed, from memory).
    assert encode_srgb(lab_to_linear((50, 0, 0)).reshape(1, 1, 3)).ravel() == pytest.approx([119, 119, 119], abs=1)
