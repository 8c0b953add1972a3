"""The covariance of a grained backdrop: against reference libraries, and on wood with sherds of nearly its colour."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.distance import mahalanobis
from scipy.stats import chi2
from sklearn.covariance import MinCovDet

from motifs.imaging import grain
from motifs.imaging.backdrop_colour import distances, grained_colour
from motifs.imaging.colour import linear_to_lab
from motifs.imaging.faint import has_grain
from tests.imaging.measuring import mark
from tests.imaging.shapes import fractal
from tests.imaging.trays import BACKDROPS, Recipe, linear, make_tray

WOOD = Recipe(
    seed=7, backdrop="wood", size_px=(1100, 800), px_per_mm=5.0, sherds=8, sherd_mm=32.0, bar="row5", label=True
)
TRUE = np.array([[9.0, 1.2, 3.0], [1.2, 0.4, 0.5], [3.0, 0.5, 1.6]])
NO_NOISE = np.full(3, 1e-3)


def with_sherds(rng, share, count=4000):
    """Colours of a backdrop, a share of them replaced by those of sherds of another hue."""
    sample = rng.multivariate_normal([55.0, 9.0, 22.0], TRUE, count)
    sample[: int(share * count)] = rng.normal([60.0, 16.0, 20.0], 0.7, (int(share * count), 3))
    return sample


@pytest.mark.parametrize("share", [0.0, 0.2, 0.4])
def test_centre_and_covariance_agree_with_a_reference_estimator(share):
    """scikit-learn's MinCovDet (FAST-MCD, Rousseeuw & Van Driessen 1999), and the truth the sample was drawn from."""
    sample = with_sherds(np.random.default_rng(3), share)
    centre, covariance = grain.concentrated(sample, NO_NOISE)
    reference = MinCovDet(random_state=0).fit(sample)
    assert np.abs(centre - reference.location_).max() < 0.5
    assert np.abs(centre - [55.0, 9.0, 22.0]).max() < 0.5
    ratio = np.linalg.eigvalsh(np.linalg.solve(TRUE, covariance))
    assert 0.4 < ratio.min() < ratio.max() < 3.0


def test_distance_is_that_of_scipy_and_its_median_that_of_chi_squared():
    rng = np.random.default_rng(5)
    residual = rng.multivariate_normal(np.zeros(3), TRUE, 2000)
    own = grain.squared_distance(residual, TRUE)
    inverse = np.linalg.inv(TRUE)
    for k in (0, 7, 1999):
        assert own[k] == pytest.approx(mahalanobis(residual[k], np.zeros(3), inverse) ** 2)
    assert np.median(own) == pytest.approx(chi2.ppf(0.5, 3), rel=0.06)


def test_axes_are_orthonormal_widest_first_and_rebuild_the_covariance():
    axes, sd = grain.principal_axes(TRUE)
    assert np.allclose(axes @ axes.T, np.eye(3))
    assert sd[0] > sd[1] > sd[2]
    assert np.allclose(axes.T @ np.diag(sd**2) @ axes, TRUE)


def test_one_colour_only_leaves_the_noise_that_is_always_there():
    centre, covariance = grain.concentrated(np.full((50, 3), 40.0), np.array([0.3, 0.2, 0.1]))
    assert np.allclose(centre, 40.0)
    assert np.allclose(np.sqrt(np.diag(covariance)), [0.3, 0.2, 0.1], rtol=0.02)


def board(rng, shape=(300, 400)):
    """Flattened L*a*b* of a board: reflectance times a grain (own renderer)."""
    streaks = np.repeat(fractal(rng, (shape[0], 20), 8, 3), shape[1] // 20, axis=1)
    light = linear(BACKDROPS["wood"]) * np.exp(0.18 * streaks)[..., None]
    return light, linear_to_lab((light * np.exp(0.004 * rng.standard_normal((*shape, 3)))).astype(np.float32))


def test_wood_has_grain_and_plain_paper_or_a_grey_photograph_has_not():
    rng = np.random.default_rng(1)
    light, lab = board(rng)
    lab[20:60, 20:60] += np.array([0.0, 12.0, 4.0], dtype=np.float32)
    assert has_grain(lab, light.mean((0, 1)))
    plain = lab * 0.02 + np.array([60.0, 2.0, 2.0], dtype=np.float32)
    assert not has_grain(plain, light.mean((0, 1)))
    grey = lab * np.array([1.0, 0.0, 0.0], dtype=np.float32)
    assert not has_grain(grey, light.mean((0, 1)))


def test_shadow_on_wood_keeps_to_its_curve_and_another_hue_does_not():
    """A shadow scales linear light (CIE 15: L* + 16, a*, b* scale with its cube root); another hue leaves that line."""
    light, lab = board(np.random.default_rng(2))
    colour = grained_colour(lab, light.mean((0, 1)))
    middle = light.mean((0, 1))
    shadows = linear_to_lab(np.array([middle * share for share in (0.9, 0.6, 0.3, 0.2)], dtype=np.float32)[None])
    near, off, darker = distances(shadows, colour, np.ones(3, dtype=np.float32) * colour.sd_grid[0, 0])
    assert darker.all()
    assert near.max() > 5.0
    assert off.max() < 2.5
    other = linear_to_lab((middle * np.array([1.25, 0.9, 0.9])).astype(np.float32)[None, None])
    assert distances(other, colour, colour.sd_grid[0, 0])[1].min() > 5.0


@pytest.mark.parametrize("seed", [7, 21])
def test_sherds_on_a_wooden_table_are_found_and_its_grain_is_not(seed):
    marks = mark(make_tray(replace(WOOD, seed=seed)))
    assert marks.f1 == 1.0
    assert np.mean([iou for *_, iou in marks.pairs]) > 0.93
