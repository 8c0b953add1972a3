"""Colour: against published CIEDE2000 pairs, the sRGB standard, and Munsell chips."""

import numpy as np
import pytest
from skimage.color import rgb2lab

from motifs.imaging.backdrop import Surface
from motifs.imaging.colour import delta_e, fractional_to_linear, linear_to_lab, to_linear, to_srgb8
from motifs.imaging.light import White, light_factor, light_field
from tests.truth.ciede2000_sharma2005 import PAIRS


@pytest.mark.parametrize("pair", PAIRS)
def test_delta_e_is_that_of_the_published_table(pair):
    assert float(delta_e(np.array(pair[:3]), np.array(pair[3:6]))) == pytest.approx(pair[6], abs=1e-4)


def test_delta_e_is_zero_of_a_colour_and_itself_and_symmetric():
    first, second = np.array([50.0, 20.0, 10.0]), np.array([60.0, -5.0, 30.0])
    assert float(delta_e(first, first)) == 0.0
    assert float(delta_e(first, second)) == pytest.approx(float(delta_e(second, first)))


def test_every_8_bit_level_survives_linear_light():
    levels = np.arange(256, dtype=np.uint8)
    assert np.array_equal(to_srgb8(to_linear(levels)), levels)


def test_transfer_curve_is_that_of_the_standard():
    # IEC 61966-2-1: the straight part ends at 0.04045 encoded; 0.5 encoded is 0.21404 linear (from memory).
    assert to_linear(np.array([10], dtype=np.uint8))[0] == pytest.approx(10 / 255 / 12.92, rel=1e-6)
    assert fractional_to_linear(np.array([127.5]))[0] == pytest.approx(0.21404, abs=2e-4)


def test_lab_agrees_with_scikit_image():
    rgb = np.random.default_rng(3).integers(0, 256, (2000, 3), dtype=np.uint8)
    assert np.abs(linear_to_lab(to_linear(rgb)) - rgb2lab(rgb[None] / 255.0)[0]).max() < 0.02


def test_no_pixels_stay_none():
    assert linear_to_lab(np.zeros((0, 3), dtype=np.float32)).shape == (0, 3)


@pytest.mark.parametrize("light", [(0.0, 0.5, 0.5), (0.6, 0.5, 0.001)])
def test_a_white_without_one_primary_is_not_used(light):
    """Found by the fuzz: a damaged file whose paper had no blue at all made the gain zero."""
    surface = Surface(np.log(np.full((15, 3), 1.0)), (40, 30))
    factor, reference = light_factor(surface, White(np.array(light), (10.0, 10.0), "mat"))
    assert reference != "mat"
    assert (factor > 0).all()
    field = light_field(surface, factor, reference, np.zeros((0, 3), np.uint8), (np.zeros(0, int), np.zeros(0, int)))
    assert (field.gain > 0).all()
