"""Local features: places come back right in every turn, and two turned sherds are laid over each other."""

from __future__ import annotations

import numpy as np
import pytest

from motifs.embedding import EFFICIENTNET_LITE0, encoder_named
from motifs.embedding.local import CELL, TURNS, has_local_features, local_features, query_features
from motifs.records import SherdCrop
from motifs.retrieval.agreement import agreement_of
from motifs.workflows.vectors import comparanda_encoder

SPEC = comparanda_encoder()


def drawn(seed: int, side_px: int = 420) -> SherdCrop:
    """A round sherd with some dark shapes at random places; 10 px a mm."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:side_px, 0:side_px].astype(np.float32)
    image = np.full((side_px, side_px, 3), 190.0, np.float32)
    for _ in range(9):
        cx, cy, size = *rng.uniform(60, side_px - 60, 2), rng.uniform(12, 34)
        kind = int(rng.integers(3))
        shape = [np.hypot(x - cx, y - cy) < size, (abs(x - cx) < size) & (abs(y - cy) < size / 4),
                 (abs(x - cx) + abs(y - cy)) < size][kind]  # fmt: skip
        image[shape] = (70.0, 45.0, 35.0)
    image += rng.normal(0, 3, image.shape)
    mask = np.hypot(x - side_px / 2, y - side_px / 2) < side_px * 0.47
    return SherdCrop(np.clip(image, 0, 255).astype(np.uint8), mask, 10.0, 10.0, True)


def quarter_turned(crop: SherdCrop) -> SherdCrop:
    """Turned by a quarter, anticlockwise."""
    return SherdCrop(np.rot90(crop.image).copy(), np.rot90(crop.mask).copy(), 10.0, 10.0, True)


def test_cells_lie_inside_the_sherd_in_every_turn() -> None:
    crop = drawn(1)
    for turn in query_features(SPEC, crop, with_mirror=True):
        columns, rows = np.rint(turn.places_px).astype(int).T
        assert len(columns) > 60
        assert crop.mask[rows.clip(0, 419), columns.clip(0, 419)].mean() > 0.97
        np.testing.assert_allclose(np.linalg.norm(turn.descriptors, axis=1), 1.0, atol=1e-4)
        assert turn.cell_px == pytest.approx(CELL * 10.0 / SPEC.px_per_mm)


def test_a_sherd_lies_over_itself_where_it_is() -> None:
    crop = drawn(2)
    found = agreement_of(query_features(SPEC, crop), local_features(SPEC, crop)[0])
    assert found.matches >= 30
    assert (found.turn_deg, found.scale) == (pytest.approx(0.0, abs=1.0), pytest.approx(1.0, abs=0.01))
    assert np.abs(found.query_px - found.other_px).max() < 0.6 * found.cell_px


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_turned_or_mirrored_sherd_is_laid_over_the_other(mirrored: bool) -> None:
    crop = drawn(3)
    other = quarter_turned(crop)
    if mirrored:
        other = SherdCrop(other.image[:, ::-1].copy(), other.mask[:, ::-1].copy(), 10.0, 10.0, True)
    found = agreement_of(query_features(SPEC, crop, with_mirror=True), local_features(SPEC, other)[0])
    assert found.matches >= 20
    assert found.is_mirrored is mirrored
    x, y = found.query_px.T
    quarter = np.stack([y, 419 - x], axis=1)
    expected = np.stack([419 - quarter[:, 0], quarter[:, 1]], axis=1) if mirrored else quarter
    assert np.abs(found.other_px - expected).max() < 1.3 * found.cell_px
    moved = found.query_px @ found.matrix[:, :2].T + found.matrix[:, 2]
    assert np.median(np.abs(moved - expected)) < 0.5 * found.cell_px


def test_the_same_shapes_agree_more_than_others() -> None:
    crop, stranger = drawn(4), drawn(5)
    turns = query_features(SPEC, crop)
    same = agreement_of(turns, local_features(SPEC, quarter_turned(crop))[0])
    assert same.strength > 2.0 * agreement_of(turns, local_features(SPEC, stranger)[0]).strength


def test_a_crumb_has_no_cells_and_agrees_with_nothing() -> None:
    crop = drawn(6)
    crumb = SherdCrop(crop.image[200:212, 200:212], np.ones((12, 12), bool), 10.0, 10.0, True)
    features = local_features(SPEC, crumb)[0]
    assert len(features.descriptors) == 0
    assert agreement_of(query_features(SPEC, crop), features).matches == 0
    assert agreement_of([features], local_features(SPEC, crop)[0]).strength == 0.0


def test_networks_of_other_makers_have_none() -> None:
    assert has_local_features(EFFICIENTNET_LITE0)
    assert TURNS == 8
    other = encoder_named("torchvision.resnet50.IMAGENET1K_V2")
    assert not has_local_features(other)
    with pytest.raises(ValueError, match="middle layers"):
        local_features(other, drawn(1))
