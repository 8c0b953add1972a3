"""Outlines: measures against plane geometry, merging, drawing."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from shapely.geometry import Polygon

from motifs.imaging import draw_outlines, merge_outlines, outline_measures
from motifs.imaging.outline import hull_diameter
from motifs.records import PhotoImage, Scale

SQUARE = np.array([(10, 10), (50, 10), (50, 50), (10, 50)], dtype=np.float32)


def test_a_square():
    measures = outline_measures(SQUARE, Scale(4.0, "typed", 0.005))
    assert measures.area_px == 1600
    assert measures.area_mm2 == 100
    assert measures.max_dimension_px == pytest.approx(40 * np.sqrt(2))
    assert measures.max_dimension_mm == pytest.approx(10 * np.sqrt(2))


def test_a_circle():
    turn = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    circle = np.stack([100 + 30 * np.cos(turn), 100 + 30 * np.sin(turn)], axis=1)
    measures = outline_measures(circle, None)
    assert measures.area_px == pytest.approx(np.pi * 900, rel=1e-3)
    assert measures.max_dimension_px == pytest.approx(60, rel=1e-4)


@pytest.mark.parametrize("bad", [[], [(0, 0)], [(0, 0), (1, 1)], [(0, 0, 0)] * 4, [(0, 0), (1, np.nan), (2, 0)]])
def test_what_is_no_outline_is_refused(bad):
    with pytest.raises(ValueError, match="outline"):
        outline_measures(bad, None)


@settings(max_examples=60, deadline=None)
@given(arrays(np.float32, st.tuples(st.integers(3, 25), st.just(2)), elements=st.floats(-500, 500, width=32)))
def test_diameter_is_that_of_all_pairs(points):
    every = np.sqrt(((points[:, None].astype(np.float64) - points[None]) ** 2).sum(axis=2)).max()
    assert hull_diameter(points) == pytest.approx(every, rel=1e-5, abs=1e-4)


def test_merging_one_returns_it():
    assert Polygon(merge_outlines([SQUARE])).area == pytest.approx(1600)


def test_merging_overlapping_is_the_union():
    assert Polygon(merge_outlines([SQUARE, SQUARE + 20])).area == pytest.approx(2 * 1600 - 400)


def test_merging_neighbours_bridges_the_gap():
    merged = Polygon(merge_outlines([SQUARE, SQUARE + np.array([44, 0])]))
    assert merged.is_valid
    assert 3200 <= merged.area <= 3200 + 4 * 40 + 1


def test_merging_far_apart_still_gives_one_outline():
    merged = Polygon(merge_outlines([SQUARE, SQUARE + 400]))
    assert merged.contains(Polygon(SQUARE).centroid)
    assert merged.contains(Polygon(SQUARE + 400).centroid)


def test_the_order_of_merging_does_not_matter():
    outlines = [SQUARE, SQUARE + 20, SQUARE + np.array([44, 0])]
    first, second = Polygon(merge_outlines(outlines)), Polygon(merge_outlines(outlines[::-1]))
    assert first.symmetric_difference(second).area < 1e-6 * first.area


def test_merging_nothing_is_refused():
    with pytest.raises(ValueError, match="no outlines"):
        merge_outlines([])


def test_drawing_leaves_the_photograph_alone():
    photo = PhotoImage(rgb=np.full((80, 80, 3), 90, dtype=np.uint8), sha256="", file_name="x")
    drawn = draw_outlines(photo, [SQUARE], ["0012"])
    assert drawn.shape == (80, 80, 3)
    assert (photo.rgb == 90).all()
    assert (drawn[10, 20] != 90).any()
    assert np.array_equal(draw_outlines(photo, []), photo.rgb)


def test_as_many_labels_as_outlines():
    photo = PhotoImage(rgb=np.zeros((80, 80, 3), dtype=np.uint8), sha256="", file_name="x")
    with pytest.raises(ValueError, match="argument"):
        draw_outlines(photo, [SQUARE, SQUARE], ["1"])
