"""The plane of the sherds: there and back, against OpenCV's own camera model; lengths, areas and crops seen from above."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motifs.imaging import cut_crop, outline_in_mm, outline_measures
from motifs.imaging.outline import EDGE_SD_PX
from motifs.imaging.plane import local_px_per_mm, plane_mm, plane_px
from motifs.records import LightField, PhotoImage, Plane, Scale

LIGHT = LightField(np.ones((2, 2, 3), np.float32), "none", (90.0, 0.0, 0.0), 0.0)


def camera(tilt_deg, k1=0.0, size=(1600, 1200), focal=1500.0, far=500.0):
    """A pinhole camera over a plane, as OpenCV models it: matrix, rotation, translation, distortion."""
    matrix = np.array([[focal, 0, size[0] / 2], [0, focal, size[1] / 2], [0, 0, 1.0]])
    turn, _ = cv2.Rodrigues(np.array([np.deg2rad(tilt_deg), 0.0, 0.1]))
    shift = np.array([0.0, 0.0, far]) - turn @ np.array([150.0, 100.0, 0.0])
    return matrix, turn, shift, np.array([k1, 0, 0, 0, 0])


def plane_of(tilt_deg):
    matrix, turn, shift, _ = camera(tilt_deg)
    to_px = matrix @ np.column_stack([turn[:, 0], turn[:, 1], shift])
    to_mm = np.linalg.inv(to_px)
    return Plane(tuple((to_mm / to_mm[2, 2]).ravel().tolist()), (800.0, 600.0), 1000.0)


def seen(points_mm, tilt_deg):
    matrix, turn, shift, lens = camera(tilt_deg)
    lifted = np.column_stack([points_mm, np.zeros(len(points_mm))])
    return cv2.projectPoints(lifted, cv2.Rodrigues(turn)[0], shift, matrix, lens)[0][:, 0]


@pytest.mark.parametrize("tilt", [0, 15, 30])
def test_points_seen_by_opencvs_camera_come_back_in_mm(tilt):
    points = np.random.default_rng(3).uniform(0, 250, (40, 2))
    assert plane_mm(plane_of(tilt), seen(points, tilt)) == pytest.approx(points, abs=1e-6)
    assert plane_px(plane_of(tilt), points) == pytest.approx(seen(points, tilt), abs=1e-6)


@settings(max_examples=50, deadline=None)
@given(k1=st.floats(-0.12, 0.12), k2=st.floats(-0.03, 0.03), x=st.floats(0, 1600), y=st.floats(0, 1200))
def test_a_bent_line_is_straightened_and_bent_again(k1, k2, x, y):
    base = plane_of(20)
    plane = Plane(base.to_mm, base.centre_px, base.radius_px, k1, k2)
    assert plane_px(plane, plane_mm(plane, [[x, y]])) == pytest.approx(np.array([[x, y]]), abs=1e-3)


@pytest.mark.parametrize("tilt", [0, 30])
def test_lengths_and_areas_go_through_the_plane(tilt):
    square = np.array([[40.0, 40], [90, 40], [90, 90], [40, 90]])
    scale = Scale(3.0, "mat", 0.002, plane=plane_of(tilt))
    found = outline_measures(seen(square, tilt), scale)
    assert found.area_mm2 == pytest.approx(2500.0, rel=1e-4)
    assert found.max_dimension_mm == pytest.approx(np.hypot(50, 50), rel=1e-4)
    assert found.max_dimension_mm_sd >= 0.002 * found.max_dimension_mm


def test_without_a_plane_points_are_divided():
    assert outline_in_mm([[10, 20]], Scale(5.0, "typed", 0.005)).tolist() == [[2.0, 4.0]]
    assert outline_in_mm(np.zeros((0, 2)), Scale(5.0, "typed", 0.005)).shape == (0, 2)


def test_uncertainty_grows_with_that_of_the_scale_and_is_absent_without_one():
    square = np.array([[0.0, 0], [100, 0], [100, 100], [0, 100]])
    near, far = (outline_measures(square, Scale(10.0, "bar", sd)) for sd in (0.001, 0.02))
    assert far.area_mm2_sd > near.area_mm2_sd > 0
    assert far.area_mm2_sd == pytest.approx(np.hypot(2 * 0.02 * 100.0, 40.0 * EDGE_SD_PX / 10.0))
    bare = outline_measures(square, None)
    assert (bare.area_mm2_sd, bare.max_dimension_mm_sd) == (None, None)


def test_resolution_is_that_of_the_place():
    plane = plane_of(30)
    near, far = local_px_per_mm(plane, [[150.0, 20.0], [150.0, 180.0]])
    assert max(near, far) / min(near, far) > 1.2
    assert local_px_per_mm(plane_of(0), [150.0, 100.0]) == pytest.approx(3.0, rel=1e-6)


@pytest.mark.parametrize("tilt", [0, 30])
def test_a_crop_looks_straight_down(tilt):
    matrix, turn, shift, _ = camera(tilt)
    to_px = matrix @ np.column_stack([turn[:, 0], turn[:, 1], shift])
    flat = np.full((2000, 3000, 3), 200, np.uint8)  # 10 px/mm
    cv2.rectangle(flat, (600, 500), (899, 699), (90, 60, 40), -1)
    cv2.circle(flat, (680, 600), 40, (230, 230, 230), -1)
    rgb = cv2.warpPerspective(flat, to_px @ np.diag([0.1, 0.1, 1]), (1600, 1200), flags=cv2.INTER_LINEAR)
    outline = seen(np.array([[60.0, 50], [90, 50], [90, 70], [60, 70]]), tilt)
    crop = cut_crop(PhotoImage(rgb, "0" * 64, "a"), LIGHT, Scale(3.0, "mat", 0.002, plane=plane_of(tilt)), outline)
    assert crop.is_scaled
    assert crop.mask.sum() == pytest.approx(300 * 200, rel=0.02)
    spot = (crop.image.min(axis=2) > 215) & crop.mask
    assert spot.sum() == pytest.approx(np.pi * 40**2, rel=0.08)
    ys, xs = np.nonzero(spot)
    assert (np.ptp(xs) / np.ptp(ys)) == pytest.approx(1.0, abs=0.06)
