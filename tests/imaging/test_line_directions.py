"""Direction of lines and height of bands on drawn ink, and what says nothing."""

import numpy as np
import pytest

from motifs.imaging.face_colours import paint_colours, region_colour
from motifs.imaging.line_directions import band_height, line_direction

PX = 5.0
ROWS, COLUMNS = np.indices((200, 200))
FACE = np.hypot(ROWS - 100, COLUMNS - 100) < 90
NOTHING = np.zeros((200, 200))


def stripes(turn_deg, *, pitch_mm=6.0, width_mm=1.5):
    """Parallel lines, anticlockwise from the horizontal as a picture is seen."""
    angle = np.radians(turn_deg)
    across = (COLUMNS * np.sin(angle) + ROWS * np.cos(angle)) / PX
    depth = np.abs((across + pitch_mm / 2) % pitch_mm - pitch_mm / 2)
    return np.clip((width_mm / 2 - depth) * PX + 0.5, 0, 1) * FACE


@pytest.mark.parametrize("turn_deg", [0, 10, 45, 90, 120, 179])
def test_direction_is_that_drawn(turn_deg):
    found = line_direction(stripes(turn_deg), FACE, PX)
    assert abs((found.direction_deg - turn_deg + 90) % 180 - 90) < 1.0
    assert found.strength > 0.95


def test_lines_crossing_at_right_angles_run_no_one_way():
    crossed = np.maximum(stripes(20), stripes(110))
    found = line_direction(crossed, FACE, PX)
    assert found is None or found.strength < 0.15


@pytest.mark.parametrize(("ink", "inner"), [(NOTHING, FACE), (NOTHING, NOTHING > 0), (stripes(0), NOTHING > 0)])
def test_nothing_has_no_direction_and_no_band(ink, inner):
    assert line_direction(ink, inner, PX) is None
    assert band_height(ink, inner, PX) is None


def test_dots_between_two_lines_are_a_band_and_bare_ground_is_none():
    frame = ((np.abs(ROWS - 60) < 4) | (np.abs(ROWS - 140) < 4)) * FACE * 1.0
    dots = (np.hypot((ROWS - 100), (COLUMNS % 40) - 20) < 12) * FACE * 1.0
    found = band_height(np.maximum(frame, dots), FACE, PX)
    assert found.height_mm == pytest.approx(16.0, abs=0.3)
    assert min(found.direction_deg, 180 - found.direction_deg) <= 0.5
    assert band_height(frame, FACE, PX) is None


def test_colours_of_parts():
    rng = np.random.default_rng(1)
    red, black = np.array([0.3, 0.08, 0.05]), np.array([0.04, 0.035, 0.03])
    both = np.concatenate([red * rng.normal(1, 0.03, (900, 1)), black * rng.normal(1, 0.03, (300, 1))])
    two = paint_colours(rng.permutation(both))
    assert [round(paint.share, 2) for paint in two] == [0.75, 0.25]
    assert two[0].lab[0] > two[1].lab[0] + 10
    assert len(paint_colours(red * rng.normal(1, 0.1, (900, 1)))) == 1
    assert paint_colours(both[:0]) == ()
    assert region_colour(both[:59]) is None
    flat = region_colour(np.tile(red, (500, 1)))
    assert flat.spread_de == pytest.approx(0, abs=1e-6)
    assert np.isfinite(flat.lab).all()
    assert len(paint_colours(np.tile(red, (500, 1)))) == 1
