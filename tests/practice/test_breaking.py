"""Fracture: every place on one piece, contacts measured rightly, sizes skewed as broken things are."""

import cv2
import numpy as np
import pytest
from scipy.stats import skew

from motifs.practice import break_pot
from motifs.practice.breaking import GRID_PX_PER_MM, contact_lengths


def polygon_area(polygon):
    x, y = polygon.T
    return 0.5 * abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))))


def test_pieces_follow_from_the_seed(pot, fragments):
    again = break_pot(pot, 3, pieces=26)
    assert all(np.array_equal(a.polygon_mm, b.polygon_mm) for a, b in zip(fragments, again, strict=True))
    other = break_pot(pot, 4, pieces=26)
    assert not np.array_equal(fragments[0].polygon_mm, other[0].polygon_mm)


def test_pieces_cover_the_pot_once(pot, fragments):
    surface = pot.circumference_mm * pot.height_mm
    assert len(fragments) == 26
    assert sum(one.area_mm2 for one in fragments) == pytest.approx(surface, rel=0.005)
    assert sum(polygon_area(one.polygon_mm) for one in fragments) == pytest.approx(surface, rel=0.02)
    assert [one.index for one in fragments] == list(range(len(fragments)))


def test_contacts_are_mutual_and_every_piece_touches_another(fragments):
    for one in fragments:
        assert one.neighbours
        for other, length in one.neighbours.items():
            assert fragments[other].neighbours[one.index] == length


def test_contact_lengths_agree_with_the_outlines(pot, fragments):
    girth = pot.circumference_mm
    checked = 0
    for one in fragments[:10]:
        legs = np.hypot(*(np.roll(one.polygon_mm, -1, axis=0) - one.polygon_mm).T)
        for other, length in one.neighbours.items():
            theirs = fragments[other].polygon_mm
            shifted = np.concatenate([theirs, theirs + np.array([girth, 0]), theirs - np.array([girth, 0])])
            near = np.hypot(*(one.polygon_mm[:, None] - shifted[None]).transpose(2, 0, 1)).min(axis=1) < 0.6
            if length > 15:
                assert legs[near].sum() == pytest.approx(length, rel=0.15, abs=3.0)
                checked += 1
    assert checked >= 10


@pytest.mark.parametrize("angle_deg", [0, 20, 45, 70, 90, 115])
def test_contact_of_a_straight_break(angle_deg):
    y, x = np.mgrid[-150:150, -150:150] + 0.5
    angle = np.radians(angle_deg)
    inside = x**2 + y**2 < 120**2
    labels = np.where(inside, np.where(x * np.sin(angle) > y * np.cos(angle), 1, 2), 0).astype(np.int32)
    # Crofton's estimate with four directions is off by at most 5.5 % for a straight line (Serra 1982, from memory).
    assert contact_lengths(labels)[(1, 2)] == pytest.approx(240 / GRID_PX_PER_MM, rel=0.06)


def test_contact_of_a_round_piece():
    y, x = np.mgrid[-100:100, -100:100] + 0.5
    labels = np.where(x**2 + y**2 < 60**2, 1, 2).astype(np.int32)
    assert contact_lengths(labels)[(1, 2)] == pytest.approx(2 * np.pi * 60 / GRID_PX_PER_MM, rel=0.02)


def test_sizes_are_skewed_and_nearer_to_log_normal_than_to_normal(pot):
    """Repeated breaking tends to log-normal sizes (Kolmogorov 1941): few large pieces, many small ones."""
    areas = np.concatenate([[one.area_mm2 for one in break_pot(pot, seed, pieces=30)] for seed in range(4)])
    assert skew(areas) > 0.4
    assert np.mean(areas) > np.median(areas)
    assert abs(skew(np.log(areas))) < skew(areas) + 0.3
    assert np.std(np.log(areas)) > 0.35


def test_rim_pieces_reach_the_rim(pot, fragments):
    rims = [one for one in fragments if one.is_rim]
    assert 3 <= len(rims) < len(fragments)
    assert all(one.polygon_mm[:, 1].min() < 0.5 for one in rims)
    assert all(one.polygon_mm[:, 1].min() > 0.5 for one in fragments if not one.is_rim)
    assert all(one.polygon_mm[:, 1].max() > pot.height_mm - 1.0 for one in fragments if one.is_base)


def test_no_piece_is_a_needle(fragments):
    for one in fragments:
        corner = one.polygon_mm.min(axis=0) - 1
        grid = np.zeros((np.ceil((one.polygon_mm - corner).max(axis=0)).astype(int) * 4 + 8)[::-1], np.uint8)
        cv2.fillPoly(grid, [np.round((one.polygon_mm - corner) * 4).astype(np.int32)], 1)
        deepest_mm = cv2.distanceTransform(grid, cv2.DIST_L2, 5).max() / 4
        assert deepest_mm > 0.2 * np.sqrt(one.area_mm2)


def test_one_piece_is_the_whole_pot_cut_open(pot):
    (whole,) = break_pot(pot, 1, pieces=1)
    assert whole.area_mm2 == pytest.approx(pot.circumference_mm * pot.height_mm, rel=0.01)
    assert whole.neighbours == {}
