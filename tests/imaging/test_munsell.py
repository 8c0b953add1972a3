"""Munsell chips: against the renotation's figures and against colour-science itself."""

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from motifs.errors import InputError
from motifs.imaging.colour import delta_e, linear_to_lab, to_linear
from motifs.imaging.munsell import (
    chip_named,
    chip_table,
    compute_chips,
    munsell_chroma,
    nearest_chips,
    normal_notation,
)
from tests.truth.munsell_renotation import (
    CHIPS,
    LIGHTNESS_OF_VALUE,
    NEUTRAL_5_OF_CARD,
    OUTSIDE_SRGB,
    STEPS_DE2000,
)


def lab_of(rgb):
    return linear_to_lab(to_linear(np.array(rgb, np.uint8)))


def test_the_table_is_what_the_library_computes():
    computed = compute_chips()
    assert [(chip.name, chip.is_displayable) for chip in computed] == [
        (chip.name, chip.is_displayable) for chip in chip_table()
    ]
    assert np.allclose([chip.lab for chip in computed], [chip.lab for chip in chip_table()], atol=0.002)


def test_306_chips_and_22_that_no_screen_shows():
    assert len(chip_table()) == 306
    assert sum(not chip.is_displayable for chip in chip_table()) == OUTSIDE_SRGB


@pytest.mark.parametrize(("notation", "rgb"), CHIPS)
def test_a_chip_photographed_exactly_is_named(notation, rgb):
    near = nearest_chips(lab_of(rgb))
    assert near[0].chip == notation
    assert near[0].de < 0.8
    assert len(near) == 3
    assert near[0].de <= near[1].de <= near[2].de


def test_305_of_306_are_named_from_exact_8_bit_values():
    """Rounded and clipped to 8-bit sRGB first, by the library's own route from C to D65."""
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["C"]
    right = 0
    for chip in chip_table():
        rgb = colour.XYZ_to_sRGB(colour.xyY_to_XYZ(colour.munsell_colour_to_xyY(chip.name)), illuminant=white)
        right += nearest_chips(lab_of(np.rint(np.clip(rgb, 0, 1) * 255)))[0].chip == chip.name
    assert right >= 305


def test_grey_without_adaptation_would_be_green_and_with_it_is_neutral():
    """Under C the grey (121, 121, 121) reads 7.7GY 5.0/0.6; a card's neutral 5 is that very grey."""
    assert nearest_chips(lab_of(NEUTRAL_5_OF_CARD))[0].chip == "N5"
    assert abs(chip_named("N5").lab[1]) < 0.05
    assert abs(chip_named("N5").lab[2]) < 0.05


def test_a_trace_of_chroma_is_neutral():
    # The inverse of the renotation gives (121, 120, 119) 0.2Y 4.9/0.1.
    assert nearest_chips(lab_of((121, 120, 119)))[0].chip == "N5"
    assert munsell_chroma(lab_of((121, 120, 119))) < 0.5
    assert munsell_chroma(chip_named("10YR 5/1").lab) == pytest.approx(1.0, abs=0.01)
    assert munsell_chroma(chip_named("5YR 6/2").lab) == pytest.approx(2.0, abs=0.35)


@pytest.mark.parametrize(("value", "lightness"), LIGHTNESS_OF_VALUE)
def test_value_to_lightness(value, lightness):
    assert chip_named(f"N{value:g}").lab[0] == pytest.approx(lightness, abs=0.03)
    assert chip_named(f"5YR {value:g}/2").lab[0] == pytest.approx(lightness, abs=0.3)


@pytest.mark.parametrize(("one", "other", "de"), STEPS_DE2000)
def test_steps_between_chips(one, other, de):
    """Under D65 after adaptation; the published figures are under C, hence a twentieth of tolerance."""
    found = float(delta_e(np.array(chip_named(one).lab), np.array(chip_named(other).lab)))
    assert found == pytest.approx(de, rel=0.06, abs=0.1)


def test_neighbours_lie_about_three_apart():
    """Median distance to the nearest other chip, computed outside this project: 2.92, the least 0.53."""
    lab = np.array([chip.lab for chip in chip_table()])
    apart = np.array([np.partition(delta_e(lab, one[None]), 1)[1] for one in lab])
    assert np.median(apart) == pytest.approx(2.92, abs=0.2)
    assert apart.min() == pytest.approx(0.53, abs=0.1)


@pytest.mark.parametrize(("noise", "share"), [(1, 0.87), (2, 0.74), (4, 0.45), (8, 0.25)])
def test_noise_costs_names_but_the_neighbourhood_holds(noise, share):
    """Share named exactly under Gaussian noise of 8-bit sRGB, computed outside this project; three chips hold more."""
    rng = np.random.default_rng(7)
    chips = [chip for chip in chip_table() if chip.is_displayable]
    exact = among = 0
    for chip in chips:
        rgb = colour.XYZ_to_sRGB(colour.Lab_to_XYZ(chip.lab)) * 255 + rng.normal(0, noise, 3)
        named = [near.chip for near in nearest_chips(lab_of(np.clip(np.rint(rgb), 0, 255)))]
        exact += named[0] == chip.name
        among += chip.name in named
    assert exact / len(chips) == pytest.approx(share, abs=0.09)
    assert among > exact


@given(st.tuples(st.integers(0, 255), st.integers(0, 255), st.integers(0, 255)))
def test_no_colour_raises(rgb):
    near = nearest_chips(lab_of(rgb))
    assert len({one.chip for one in near}) == 3
    assert all(np.isfinite(one.de) for one in near)


@pytest.mark.parametrize(
    ("typed", "normal"),
    [
        ("0.0Y 7.0/3.0", "10YR 7/3"),
        ("0.0YR 4.0/6.0", "10R 4/6"),
        ("0R 4/6", "10RP 4/6"),
        ("5yr 6/6", "5YR 6/6"),
        ("5YR6/6", "5YR 6/6"),
        ("5 YR 6/6", "5YR 6/6"),
        ("5YR 6/0", "N6"),
        ("N 5/", "N5"),
        ("N5.0", "N5"),
        ("0.2Y 4.9/0.1", "N4.9"),
    ],
)
def test_one_spelling(typed, normal):
    assert normal_notation(typed) == normal
    assert normal_notation(normal) == normal


@pytest.mark.parametrize("typed", ["", "5YR 6", "11YR 5/4", "red", "5XX 6/6", "N"])
def test_no_notation(typed):
    with pytest.raises(InputError, match="Munsell"):
        normal_notation(typed)


def test_bad_colours_and_chips_are_refused():
    with pytest.raises(InputError, match="three finite"):
        nearest_chips((50.0, float("nan"), 0.0))
    with pytest.raises(InputError, match="two or more"):
        nearest_chips((50.0, 0.0, 0.0), top=1)
    with pytest.raises(InputError, match="soil range"):
        chip_named("5B 5/4")
