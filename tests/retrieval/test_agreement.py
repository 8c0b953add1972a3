"""Where decorations agree: planted transforms found again, against scikit-image's estimate; chance agrees little."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage.transform import SimilarityTransform

from motifs.records import LocalFeatures
from motifs.retrieval import AgreementSettings, agreement_of
from motifs.retrieval.agreement import fitted_similarity, region_around

CELL = 40.0


def features(places: np.ndarray, descriptors: np.ndarray, **more: object) -> LocalFeatures:
    unit = descriptors / np.linalg.norm(descriptors, axis=1, keepdims=True)
    where = places.astype(np.float32)
    return LocalFeatures(where, where, unit.astype(np.float32), CELL, **more)  # type: ignore[arg-type]


def planted(
    seed: int, turn_deg: float, scale: float, count: int = 20, strangers: int = 10
) -> tuple[LocalFeatures, LocalFeatures, SimilarityTransform]:
    """Two sherds that share `count` places under a similarity transform, and have `strangers` of their own."""
    rng = np.random.default_rng(seed)
    shared, places = rng.normal(size=(count, 24)), rng.uniform(0, 400, (count, 2))
    true = SimilarityTransform(scale=scale, rotation=np.radians(-turn_deg), translation=rng.uniform(-50, 50, 2))
    own = [(rng.uniform(0, 400, (strangers, 2)), rng.normal(size=(strangers, 24))) for _ in range(2)]
    here = features(np.concatenate([places, own[0][0]]), np.concatenate([shared, own[0][1]]))
    noisy = shared + 0.2 * rng.normal(size=shared.shape)
    there = features(np.concatenate([true(places), own[1][0]]), np.concatenate([noisy, own[1][1]]))
    return here, there, true


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.floats(-25, 25), st.floats(0.75, 1.35))
def test_a_planted_transform_is_found(seed: int, turn_deg: float, scale: float) -> None:
    here, there, true = planted(seed, turn_deg, scale)
    found = agreement_of([here], there)
    assert found.matches >= 18
    assert found.turn_deg == pytest.approx(turn_deg, abs=5.0)
    assert found.scale == pytest.approx(scale, rel=0.1)
    corners = np.array([[0.0, 0.0], [400.0, 0.0], [400.0, 400.0]])
    moved = corners @ found.matrix[:, :2].T + found.matrix[:, 2]
    assert np.abs(moved - true(corners)).max() < CELL


def test_the_fit_is_scikit_images() -> None:
    """Umeyama's least squares as scikit-image has it, mirror images apart."""
    rng = np.random.default_rng(1)
    here = rng.uniform(0, 300, (9, 2))
    there = SimilarityTransform(scale=1.2, rotation=0.7, translation=(5, -30))(here) + rng.normal(0, 3, (9, 2))
    theirs = SimilarityTransform.from_estimate(here, there)
    matrix, turn_deg, scale = fitted_similarity(here, there)
    np.testing.assert_allclose(matrix, theirs.params[:2], atol=1e-9)
    assert scale == pytest.approx(float(theirs.scale))
    assert turn_deg == pytest.approx(-np.degrees(float(theirs.rotation)))


def test_too_large_or_too_turned_does_not_agree() -> None:
    here, there, _ = planted(2, 0.0, 2.0)
    assert agreement_of([here], there).matches < 10
    here, there, _ = planted(3, 60.0, 1.0)
    assert agreement_of([here], there).matches < 10
    assert agreement_of([here], there, AgreementSettings(turn_deg=90.0)).matches >= 18


def test_chance_agrees_less_than_a_shared_decoration() -> None:
    here, there, _ = planted(4, 10.0, 1.0)
    strangers = [planted(seed, 0.0, 1.0)[1] for seed in range(5, 15)]
    chance = max(agreement_of([here], other).strength for other in strangers)
    assert agreement_of([here], there).strength > 3.0 * chance


def test_the_best_turn_is_taken() -> None:
    here, there, _ = planted(6, 0.0, 1.0)
    rng = np.random.default_rng(7)
    wrong = features(rng.uniform(0, 400, (30, 2)), rng.normal(size=(30, 24)), turn_deg=90.0)
    assert agreement_of([wrong, here], there).strength == agreement_of([here], there).strength


def test_nothing_to_lay_over() -> None:
    here, there, _ = planted(8, 0.0, 1.0)
    none = features(np.zeros((0, 2)), np.ones((0, 24)))
    for found in (agreement_of([], there), agreement_of([none], there), agreement_of([here], none)):
        assert (found.strength, found.matches) == (0.0, 0)
        assert [len(ring) for ring in found.regions()] == [0, 0]
    assert agreement_of([features(here.places_px[:2], here.descriptors[:2])], there).matches == 0


def test_regions_hold_their_cells() -> None:
    ring = region_around(np.array([[10.0, 10.0]], np.float32), CELL)
    assert sorted(map(tuple, ring.tolist())) == [(-10.0, -10.0), (-10.0, 30.0), (30.0, -10.0), (30.0, 30.0)]
    here, there, _ = planted(9, 0.0, 1.0)
    query, other = agreement_of([here], there).regions()
    assert min(len(query), len(other)) >= 4
