"""Outlines and strokes drawn by hand: what is meant is kept, what cannot be meant is refused in one line."""

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from motifs.errors import InputError
from motifs.imaging import drawn_outline, outline_measures, overlap_share, rim_up_deg, split_by_stroke

SIZE = (900, 700)
SQUARE = np.array([[100, 100], [200, 100], [200, 200], [100, 200]], float)


def disc(radius=80.0, centre=(300, 300), corners=720):
    turn = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    return np.column_stack([centre[0] + radius * np.cos(turn), centre[1] + radius * np.sin(turn)])


def area(outline):
    return outline_measures(outline, None).area_px


def test_an_outline_is_kept_as_drawn():
    kept = drawn_outline(SQUARE, SIZE, "'A'")
    assert kept.dtype == np.float32
    assert {tuple(corner) for corner in kept} == {tuple(corner) for corner in SQUARE}


@pytest.mark.parametrize(
    "points", [np.vstack([SQUARE, SQUARE[:1]]), np.repeat(SQUARE, 3, axis=0), SQUARE[::-1], SQUARE.tolist()]
)
def test_a_closing_point_repetitions_and_direction_do_not_matter(points):
    assert area(drawn_outline(points, SIZE, "'A'")) == pytest.approx(10_000)


def test_the_thousand_points_of_a_hand_are_thinned_without_changing_the_shape():
    drawn = disc(corners=3000)
    kept = drawn_outline(drawn, SIZE, "'A'")
    assert len(kept) < 120
    assert area(kept) == pytest.approx(math.pi * 80**2, rel=0.005)


def test_the_overshoot_of_a_closing_hand_is_forgiven():
    """A hand that closes a round passes its beginning by a little: a small loop, not a second sherd."""
    drawn = np.vstack([disc(corners=200), disc(corners=200)[:4] + np.array([[3, 0], [1, 0], [-2, 1], [-4, 2]])])
    kept = drawn_outline(drawn, SIZE, "'A'")
    assert Polygon(kept).is_valid
    assert area(kept) == pytest.approx(math.pi * 80**2, rel=0.02)


@pytest.mark.parametrize(
    ("points", "told"),
    [
        ([], "at least three points"),
        ([[1, 1]], "at least three points"),
        ([[1, 1], [2, 2]], "at least three points"),
        ([[5, 5]] * 9, "at least three points"),
        ([[1, 1, 1], [2, 2, 2], [3, 3, 3]], "not a list of points"),
        ([[1, 1], [2, math.nan], [3, 1]], "not a list of points"),
        ([["a", 1], [2, 2], [3, 1]], "not a list of points"),
        ([[1, 1], [2], [3, 1]], "not a list of points"),
        ("outline", "not a list of points"),
        ([[-5, 10], [50, 10], [50, 60]], r"leaves the photograph of 900 x 700 px at \(-5, 10\)"),
        ([[10, 10], [950, 10], [50, 60]], "leaves the photograph"),
        ([[100, 100], [200, 200], [200, 100], [100, 200]], r"crosses itself near \(150, 150\)"),
        ([[10, 10], [14, 10], [14, 14], [10, 14]], "too small"),
        ([[10, 10], [300, 10], [300, 12], [10, 12]], "too small"),
        ([[10, 10], [300, 10], [150, 10]], "'A'"),
    ],
)
def test_an_outline_that_cannot_be_meant_is_refused(points, told):
    with pytest.raises(InputError, match=told) as wrong:
        drawn_outline(points, SIZE, "'A'")
    assert "'A'" in str(wrong.value)
    assert "\n" not in str(wrong.value)


def test_the_edge_of_the_photograph_belongs_to_it():
    corners = [[-0.5, -0.5], [899.5, -0.5], [899.5, 699.5], [-0.5, 699.5]]
    assert area(drawn_outline(corners, SIZE, "'A'")) == pytest.approx(900 * 700)


def test_a_chord_cuts_a_disc_into_the_segments_of_the_handbook():
    """Circular segment: A = R^2 acos(d/R) - d sqrt(R^2 - d^2) (CRC Standard Mathematical Tables, mensuration of the circle)."""
    radius, distance = 80.0, 30.0
    pieces = split_by_stroke(disc(radius), [[200, 300 + distance], [400, 300 + distance]], SIZE, "'A'")
    segment = radius**2 * math.acos(distance / radius) - distance * math.sqrt(radius**2 - distance**2)
    assert [area(piece) for piece in pieces] == pytest.approx([math.pi * radius**2 - segment, segment], rel=1e-3)


def test_a_stroke_over_a_bay_makes_three():
    """A U cut across both arms."""
    arms = [[100, 100], [140, 100], [140, 180], [160, 180], [160, 100], [200, 100], [200, 220], [100, 220]]
    pieces = split_by_stroke(arms, [[90, 140], [210, 140]], SIZE, "'A'")
    assert [area(piece) for piece in pieces] == pytest.approx([100 * 120 - 20 * 80 - 2 * 40 * 40, 1600, 1600])


def test_a_stroke_that_stops_just_short_is_carried_on():
    pieces = split_by_stroke(SQUARE, [[150, 103], [150, 150], [150, 197]], SIZE, "'A'")
    assert [area(piece) for piece in pieces] == pytest.approx([5000, 5000])


def test_slivers_of_a_trembling_stroke_stay_with_a_piece():
    xs = np.linspace(95, 205, 45)
    there = np.column_stack([xs, 150 + 1.5 * np.sin(xs)])
    back = np.column_stack([xs[::-1], 150 - 1.5 * np.sin(xs[::-1])])
    pieces = split_by_stroke(SQUARE, np.vstack([there, back]), SIZE, "'A'")
    assert len(pieces) == 2
    assert sum(area(piece) for piece in pieces) == pytest.approx(10_000, rel=1e-3)


@pytest.mark.parametrize(
    ("stroke", "told"),
    [
        ([], "at least two points"),
        ([[150, 90]], "at least two points"),
        ([[150, 90]] * 3, "at least two points"),
        ([[300, 300], [400, 400]], "does not cut 'A' in two"),  # beside the sherd
        ([[150, 90], [150, 150]], "does not cut 'A' in two"),  # ends in the middle
        ([[120, 120], [180, 180]], "does not cut 'A' in two"),  # all inside
        ([[100, 90], [100, 210]], "does not cut 'A' in two"),  # along the edge
        ([[90, 102], [210, 102]], "does not cut 'A' in two"),  # a sliver only
        ([[150, -20], [150, 210]], "leaves the photograph"),
        ([[150, math.inf], [150, 210]], "not a list of points"),
        (7, "not a list of points"),
    ],
)
def test_a_stroke_that_cannot_be_meant_is_refused(stroke, told):
    with pytest.raises(InputError, match=told):
        split_by_stroke(SQUARE, stroke, SIZE, "'A'")


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    angle=st.floats(0, math.pi),
    offset=st.floats(-0.5, 0.5),
)
def test_pieces_make_up_the_whole_and_do_not_overlap(seed, angle, offset):
    rng = np.random.default_rng(seed)
    turn = np.sort(rng.uniform(0, 2 * np.pi, 40))
    radius = rng.uniform(60, 110, 40)
    outline = np.column_stack([400 + radius * np.cos(turn), 350 + radius * np.sin(turn)])
    if not Polygon(outline).is_valid:
        return
    along = np.array([math.cos(angle), math.sin(angle)])
    middle = np.array([400.0, 350.0]) + offset * 60 * np.array([-along[1], along[0]])
    try:
        pieces = split_by_stroke(outline, [middle - 160 * along, middle, middle + 160 * along], SIZE, "'A'")
    except InputError:
        return
    assert len(pieces) >= 2
    assert sum(area(piece) for piece in pieces) == pytest.approx(Polygon(outline).area, rel=1e-3)
    assert all(overlap_share(pieces[0], piece) < 1e-3 for piece in pieces[1:])
    assert [area(piece) for piece in pieces] == sorted((area(piece) for piece in pieces), reverse=True)


@settings(max_examples=150, deadline=None)
@example([(0.0, 0.0), (0.0, 1.0), (2.225073858507203e-309, 0.0)])
@given(st.lists(st.tuples(st.floats(-50, 1000), st.floats(-50, 800)), max_size=30))
def test_a_scribble_is_an_outline_or_one_line(points):
    try:
        kept = drawn_outline(points, SIZE, "'A'")
    except InputError as wrong:
        assert str(wrong)
        return
    assert Polygon(kept.astype(float).round(2)).is_valid  # as the catalogue keeps it
    assert len(kept) >= 3


@pytest.mark.parametrize(
    ("rim", "turn"), [((50, 0), 0), ((100, 50), 270), ((50, 100), 180), ((0, 50), 90), ((100, 0), 315), ((0, 0), 45)]
)
def test_an_arrow_to_the_rim_says_how_to_turn(rim, turn):
    """A rim on the right (3 o'clock) comes up by a quarter turn against the clock, that is 270 degrees with it."""
    assert rim_up_deg((50, 50), rim) == pytest.approx(turn)


def test_an_arrow_without_length_is_refused():
    with pytest.raises(InputError, match="arrow"):
        rim_up_deg((5, 5), (5, 5))


def test_overlap_is_measured_on_the_smaller():
    assert overlap_share(SQUARE, SQUARE) == pytest.approx(1)
    assert overlap_share(SQUARE, SQUARE * 3) == 0.0
    assert overlap_share(SQUARE, SQUARE + np.array([50, 0])) == pytest.approx(0.5)
    assert overlap_share(SQUARE, [[110, 110], [120, 110], [120, 120]]) == pytest.approx(1)
    assert overlap_share(SQUARE, [[110, 110], [120, 110], [110, 110]]) == 0.0
