"""The 24-patch card: its published values, found at any angle, undone casts and mixing, the same sherd in two lights."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from motifs.imaging import read_tray
from motifs.imaging.card_fit import REFERENCE_LINEAR, fit_colours
from motifs.imaging.colour_card import find_card
from motifs.imaging.light import apply_fit
from motifs.records import PhotoImage
from tests.imaging.cards import card_linear, lay_card, seen_through
from tests.imaging.measuring import colour_differences, sherd_colours
from tests.imaging.measuring import mark as mark_tray
from tests.imaging.shapes import encoded, linear
from tests.imaging.trays import Recipe, Tray, make_tray

TRAY = Recipe(
    seed=5,
    size_px=(1500, 1100),
    px_per_mm=5.0,
    sherds=4,
    sherd_mm=34.0,
    bar="none",
    label=False,
    falloff=0.0,
    cast=0.0,
    dust=0,
    crumbs=0,
)
WARM = np.array([[0.86, 0.10, 0.02], [0.05, 0.66, 0.06], [0.01, 0.12, 0.42]])


def plain(level=(128, 128, 128), size=(1000, 760)):
    return np.broadcast_to(linear(level), (size[1], size[0], 3)).copy()


def de(first_linear, second_linear):
    return deltaE_ciede2000(rgb2lab(encoded(first_linear)), rgb2lab(encoded(second_linear)))


def test_reference_is_that_of_colour_science():
    """colour-science 0.4.7, "ColorChecker24 - After November 2014"; xyY under D50, Bradford to D65, sRGB."""
    assert np.clip(REFERENCE_LINEAR, 0, 1) == pytest.approx(card_linear(), abs=2e-4)


def test_reference_greys_are_those_of_the_trade():
    """The neutral row as 8-bit sRGB: 241 242 236 / 201 202 201 / 161 163 163 / 121 / 83 84 85 / 50 (post-2014 values)."""
    greys = np.rint(encoded(REFERENCE_LINEAR[18:24]) * 255)
    wanted = [(241, 242, 236), (201, 202, 201), (161, 163, 163), (121, 121, 121), (83, 84, 85), (50, 50, 50)]
    assert np.abs(greys - wanted).max() <= 1


@pytest.mark.parametrize(("angle", "slant"), [(0, 0.0), (25, 0.08), (90, 0.0), (180, 0.05), (-70, 0.1)])
def test_a_card_is_found_and_read_the_right_way_round(angle, slant):
    card = find_card(seen_through(lay_card(plain(), (520, 380), 60, angle, slant) * [0.9, 0.75, 0.55]), (1.0, 1.0))
    relative = card.light / [0.9, 0.75, 0.55]
    assert card.is_usable.all()
    assert np.median(de(np.clip(relative, 0, 1), card_linear())) < 1.0


def test_nothing_else_is_a_card():
    assert find_card(np.full((60, 80, 3), 128, np.uint8), (1.0, 1.0)) is None
    assert find_card(make_tray(TRAY).rgb, (1.0, 1.0)) is None
    grid = np.full((600, 800, 3), 60, np.uint8)
    for row in range(4):
        for column in range(6):
            grid[80 + 110 * row : 170 + 110 * row, 80 + 110 * column : 170 + 110 * column] = 60 + 8 * (6 * row + column)
    assert find_card(grid, (1.0, 1.0)) is None


@pytest.mark.parametrize("exponent", [0.85, 1.0, 1.2])
def test_a_known_mixing_and_tone_is_undone(exponent):
    """The check of trade practice: a known 3 by 3 and gamma on the 24 patches, recovered within CIEDE2000 of 1."""
    reference = card_linear()
    light = np.clip(reference @ WARM.T, 0, None) ** exponent
    fit, residual = fit_colours(light, reference)
    found = np.clip(apply_fit(fit, light), 0, 1)
    assert np.median(de(found, reference)) < 1.0
    assert residual == pytest.approx(np.median(de(found, reference)), abs=0.1)


def test_little_is_changed_where_nothing_is_wrong():
    fit, residual = fit_colours(card_linear(), card_linear())
    assert residual < 0.3
    assert fit.exponent == pytest.approx((1.0, 1.0, 1.0), abs=0.05)


def tray_with_card(matrix, seed):
    tray = make_tray(replace(TRAY, backdrop="grey"))
    rgb = seen_through(lay_card(linear(tray.rgb), (1310, 130), 46, 0), matrix, seed=seed, blur_px=0)
    return Tray(tray.recipe, rgb, tray.masks, tray.ids)


def test_the_same_sherds_in_two_lights():
    """Daylight against a warm lamp through a mixing camera: median CIEDE2000 under 2.0; without the card it is far more."""
    first, second = tray_with_card(np.diag([0.8, 0.8, 0.8]), 1), tray_with_card(0.95 * WARM, 2)
    marks = [mark_tray(tray) for tray in (first, second)]
    assert [m.reading.light.reference for m in marks] == ["card", "card"]
    assert all(m.reading.light.reference_de < 2.0 for m in marks)
    assert all(m.found == m.truths for m in marks)  # the card is no sherd
    colours = [sherd_colours(tray, m) for tray, m in zip((first, second), marks, strict=True)]
    assert np.median(colour_differences(*colours)) < 2.0
    raw = [cv2.resize(tray.rgb, (150, 110), interpolation=cv2.INTER_AREA) / 255.0 for tray in (first, second)]
    assert np.median(deltaE_ciede2000(rgb2lab(raw[0]), rgb2lab(raw[1]))) > 7.0


def test_clipped_greys_are_not_trusted():
    tray = make_tray(replace(TRAY, backdrop="grey"))
    lit = lay_card(linear(tray.rgb), (1310, 130), 46, 0) * 8.0
    reading = read_tray(PhotoImage(seen_through(lit), "0" * 64, "bright.jpg"), px_per_mm=5.0)
    assert reading.light.colour is None
