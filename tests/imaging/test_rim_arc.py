"""A circle along a stretch of rim: plane geometry, with a worn edge and an honest uncertainty."""

import numpy as np
import pytest

from motifs.imaging.rim_arc import fit_rim_arc, stretch_between
from tests.truth.sites_quantity import RIMS


def arc(diameter, percent, *, noise=0.0, together=1, seed=0, step=0.5):
    """Points along a rim, every 0.5 mm, at any turn; noise of neighbours goes together over so many points."""
    rng = np.random.default_rng(seed)
    span = 2 * np.pi * percent / 100
    angles = np.linspace(0, span, max(12, round(np.pi * diameter * percent / 100 / step))) + rng.uniform(0, 6)
    rough = np.convolve(rng.normal(0, 1, len(angles) + together), np.ones(together), "same")[: len(angles)]
    radius = diameter / 2 + noise * rough / max(rough.std(), 1e-9)
    return np.column_stack([radius * np.cos(angles), radius * np.sin(angles)]) + rng.uniform(-90, 90, 2)


@pytest.mark.parametrize(("diameter", "percent", "arc_mm", "chord_mm", "sagitta_mm"), RIMS)
def test_an_exact_arc_gives_the_figures_of_the_table(diameter, percent, arc_mm, chord_mm, sagitta_mm):
    found = fit_rim_arc(arc(diameter, percent))
    assert found.diameter_mm == pytest.approx(diameter, rel=1e-3)
    assert 100 * found.fraction == pytest.approx(percent, rel=2e-3)
    assert found.chord_mm == pytest.approx(chord_mm, abs=0.001)
    assert found.sagitta_mm == pytest.approx(sagitta_mm, abs=0.02)
    assert found.residual_mm < 0.01
    assert np.pi * found.diameter_mm * found.fraction == pytest.approx(arc_mm, rel=1e-3)


@pytest.mark.parametrize("together", [1, 12])
@pytest.mark.parametrize(("diameter", "percent"), [(200, 12), (140, 20), (260, 10)])
def test_the_uncertainty_covers_the_error(diameter, percent, together):
    """Within two standard uncertainties in at least 85 of 100 worn rims (95 by theory), and not by being huge."""
    inside, sds = 0, []
    for seed in range(100):
        found = fit_rim_arc(arc(diameter, percent, noise=0.25, together=together, seed=seed))
        assert found is not None
        inside += abs(found.diameter_mm - diameter) <= 2 * found.diameter_sd_mm
        sds.append(found.diameter_sd_mm)
    assert inside >= 85
    assert np.median(sds) < (0.06 if together == 1 else 0.3) * diameter


def test_the_scale_carries_over_to_the_diameter_and_not_to_the_share():
    points = arc(200, 15, noise=0.1)
    sure, unsure = fit_rim_arc(points), fit_rim_arc(points, scale_relative_sd=0.05)
    assert unsure.diameter_sd_mm == pytest.approx(np.hypot(sure.diameter_sd_mm, 0.05 * sure.diameter_mm))
    assert unsure.fraction_sd == sure.fraction_sd


def test_past_half_way_round():
    found = fit_rim_arc(arc(120, 62))
    assert found.diameter_mm == pytest.approx(120, rel=1e-3)
    assert found.fraction == pytest.approx(0.62, abs=0.003)


@pytest.mark.parametrize("points", [np.zeros((0, 2)), np.zeros((40, 2)), arc(200, 10)[:8]])
def test_too_little_says_nothing(points):
    assert fit_rim_arc(points) is None


def test_a_straight_edge_has_no_diameter():
    rng = np.random.default_rng(1)
    straight = np.column_stack([np.arange(0, 50, 0.5), rng.normal(0, 0.2, 100)])
    assert fit_rim_arc(straight) is None


def test_the_shorter_way_between_two_places():
    square = np.array([[0, 0], [100, 0], [100, 100], [0, 100]], float)
    way = stretch_between(square, (20, -3), (80, 2))
    assert way[:, 1].max() < 1
    assert np.ptp(way[:, 0]) == pytest.approx(60, abs=1.1)
    around = stretch_between(square, (0, 20), (20, 0))
    assert np.hypot(*np.diff(around, axis=0).T).sum() == pytest.approx(40, abs=2)
