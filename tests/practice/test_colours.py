"""Colour against scikit-image, and the clays against the Munsell value ladder (ASTM D1535: value 5 is L* 51.0)."""

import numpy as np
import pytest
from skimage import color

from motifs.practice.colours import (
    CLAY_CHIPS_SRGB,
    clay_lab,
    lab_to_linear,
    linear_to_lab,
    linear_to_srgb,
    shifted_lab,
    srgb_to_linear,
)

VALUE_TO_L = {3: 30.38, 4: 40.74, 5: 51.00, 6: 61.05, 7: 70.86, 8: 80.53}
SRGB = np.random.default_rng(1).integers(0, 256, (200, 3)).astype(np.uint8)


def test_lab_agrees_with_scikit_image():
    ours = linear_to_lab(srgb_to_linear(SRGB))
    assert np.abs(ours - color.rgb2lab(SRGB / 255.0)).max() < 0.05


def test_lab_and_srgb_come_back():
    linear = srgb_to_linear(SRGB)
    assert np.array_equal(linear_to_srgb(linear), SRGB)
    inside = np.clip(linear, 0.002, 1.0)
    assert np.abs(lab_to_linear(linear_to_lab(inside)) - inside).max() < 1e-6


@pytest.mark.parametrize("chip", list(CLAY_CHIPS_SRGB))
def test_chips_have_the_lightness_of_their_value(chip):
    value = int(chip.split(" ")[1].split("/")[0])
    lab = linear_to_lab(srgb_to_linear(CLAY_CHIPS_SRGB[chip]))
    assert abs(lab[0] - VALUE_TO_L[value]) < 0.8


def test_clays_stay_between_values_three_and_eight_and_between_red_and_yellow():
    rng = np.random.default_rng(2)
    clays = np.array([clay_lab(rng) for _ in range(300)])
    assert clays[:, 0].min() >= 30.38
    assert clays[:, 0].max() <= 80.53
    hue = np.degrees(np.arctan2(clays[:, 2], clays[:, 1]))
    # 10R and 5Y lie near 40 and 100 degrees of CIELAB hue angle (chips 10R 4/6 and 5Y 6/1 of the table).
    assert np.percentile(hue, 2) > 28
    assert np.percentile(hue, 98) < 112


def test_a_shift_has_the_length_asked_for():
    rng = np.random.default_rng(3)
    for length in (0.0, 2.0, 6.0):
        assert np.linalg.norm(np.array(shifted_lab(rng, (55.0, 12.0, 20.0), length)) - [55, 12, 20]) == pytest.approx(
            length
        )
