"""Calibrated probabilities: the curves, what is refused, and the calibration error against a worked example."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.stats import median_abs_deviation
from sklearn.linear_model import LogisticRegression

from motifs.errors import ModelError
from motifs.retrieval import Likeness, calibration_error, load_likeness, save_likeness
from motifs.retrieval.likeness import Background, ListedCurve, background_of, logistic, vote_features

if TYPE_CHECKING:
    from pathlib import Path

CURVES = Likeness(
    "motif.test.0123",
    (0.1, -0.2),
    (-4.0, 9.0),
    (-4.5, 8.0, 0.3),
    (0.2, 0.9, 0.5),
    {"calibration error": 0.02},
    "a test",
)


def test_a_round_trip(tmp_path: Path) -> None:
    save_likeness(CURVES, tmp_path / "x.likeness.json")
    assert load_likeness(tmp_path / "x.likeness.json", "motif.test.0123") == CURVES


def test_of_another_encoder_or_absent_is_none(tmp_path: Path) -> None:
    save_likeness(CURVES, tmp_path / "x.likeness.json")
    assert load_likeness(tmp_path / "x.likeness.json", "motif.test.4567") is None
    assert load_likeness(tmp_path / "y.likeness.json", "motif.test.0123") is None


def test_a_damaged_table_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "x.likeness.json"
    save_likeness(CURVES, path)
    document = json.loads(path.read_text())
    wrong = ["{", "[]", json.dumps({**document, "more": 1}), json.dumps({**document, "mean": "x"}),
             json.dumps({**document, "similarity_only": [0.0, -1.0]})]  # fmt: skip
    for text in wrong:
        path.write_text(text)
        with pytest.raises(ModelError):
            load_likeness(path, "motif.test.0123")


def test_probability_rises_with_similarity_and_agreement() -> None:
    similar = [CURVES.probability(value) for value in np.linspace(-1, 1, 21)]
    assert similar == sorted(similar)
    assert similar[0] < 0.001
    assert similar[-1] > 0.98
    laid = [CURVES.probability(0.5, strength) for strength in (0.0, 2.0, 8.0)]
    assert laid == sorted(laid)
    with pytest.raises(ModelError, match="falls"):
        replace(CURVES, with_agreement=(0.0, 1.0, -0.1))


def test_the_curve_is_scikit_learns() -> None:
    rng = np.random.default_rng(0)
    x = rng.uniform(-1, 1, (400, 1))
    model = LogisticRegression().fit(x, rng.random(400) < 1 / (1 + np.exp(2 - 5 * x[:, 0])))
    curves = replace(CURVES, similarity_only=(float(model.intercept_[0]), float(model.coef_[0, 0])))
    expected = model.predict_proba(x[:9])[:, 1]
    np.testing.assert_allclose([curves.probability(float(value)) for value in x[:9, 0]], expected, atol=1e-9)


def test_calibration_error_of_a_worked_case() -> None:
    """Two bins by hand: five stated 0.9, four right, |4.5 - 4| = 0.5; five stated 0.2, two right, |1 - 2| = 1; 1.5 / 10."""
    stated = np.array([0.9] * 5 + [0.2] * 5)
    right = np.array([1, 1, 1, 1, 0, 1, 1, 0, 0, 0], bool)
    assert calibration_error(stated, right) == pytest.approx(0.15)
    assert np.isnan(calibration_error(np.zeros(0), np.zeros(0, bool)))
    drawn = np.random.default_rng(1).random(50_000)
    assert calibration_error(drawn, np.random.default_rng(2).random(50_000) < drawn) < 0.01


def test_votes() -> None:
    for one in (vote_features(3.0, 3.0, 0.9), vote_features(3.0, 5.0, 0.9), vote_features(0.1, 5.0, 0.0)):
        assert all(np.isfinite(one))
    sure, split = CURVES.tag_confidence(3.0, 3.0, 0.9), CURVES.tag_confidence(3.0, 6.0, 0.9)
    assert 1.0 > sure > split > 0.0
    assert (logistic(1e9), logistic(-1e9)) == (pytest.approx(1.0), pytest.approx(0.0))


LISTED = ListedCurve(-1.0, 0.4, 0.7, -0.03, 0.09)


def test_a_background_is_median_and_spread_that_hits_do_not_move() -> None:
    """SciPy's median_abs_deviation with scale='normal' is the reference."""
    rng = np.random.default_rng(0)
    similarities = rng.normal(0.0, 0.1, 400)
    found = background_of(similarities)
    assert found.spread == pytest.approx(median_abs_deviation(similarities, scale="normal"), rel=1e-3)
    assert (found.centre, found.count) == (pytest.approx(float(np.median(similarities))), 400)
    with_hits = background_of(np.append(similarities, np.full(20, 0.95)))
    assert with_hits.spread == pytest.approx(found.spread, rel=0.1)
    assert background_of(np.zeros(0)) == Background(0.0, 1.0, 0)
    assert background_of(np.full(9, 0.4)).spread > 0.0


def test_a_listed_probability_rises_with_nearness_and_falls_where_all_look_alike() -> None:
    quiet, loud = Background(0.0, 0.08, 500), Background(0.3, 0.12, 500)
    values = [LISTED.log_odds(near, 0.5, quiet) for near in np.linspace(0, 1, 41)]
    assert values == sorted(values)
    assert values[0] < values[1] < values[-1]
    assert LISTED.log_odds(0.1, 0.7, quiet) > LISTED.log_odds(0.1, 0.5, quiet)
    assert LISTED.log_odds(0.1, 0.5, quiet) > LISTED.log_odds(0.1, 0.5, loud)
    assert LISTED.standing(0.5, Background(0.0, 0.08, 0)) == pytest.approx((0.5 + 0.03) / 0.09)
    assert LISTED.standing(0.5, Background(0.0, 0.08, 10**9)) == pytest.approx(0.5 / 0.08, rel=1e-6)
    with pytest.raises(ModelError, match="falls"):
        ListedCurve(-1.0, 0.4, -0.7, -0.03, 0.09)


@pytest.mark.parametrize("wrong", [{"way": -1.0}, {"weight": -0.1}, {"usual_spread": 0.0}, {"intercept": math.nan}])
def test_a_curve_for_lists_that_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ModelError, match="fit it again"):
        replace(LISTED, **wrong)


def test_a_table_with_or_without_a_curve_for_lists_is_read(tmp_path: Path) -> None:
    path = tmp_path / "x.likeness.json"
    save_likeness(replace(CURVES, listed=LISTED), path)
    found = load_likeness(path, CURVES.encoder)
    assert found is not None
    assert found.listed == LISTED
    document = json.loads(path.read_text())
    del document["listed"]
    path.write_text(json.dumps(document))
    assert load_likeness(path, CURVES.encoder) == CURVES
    for broken in ({"way": 1}, 3, {**asdict(LISTED), "more": 1}):
        path.write_text(json.dumps({**document, "listed": broken}))
        with pytest.raises(ModelError):
            load_likeness(path, CURVES.encoder)


def test_the_nearest_of_many_are_calibrated_where_a_curve_over_pairs_is_too_sure() -> None:
    """Made sherds: the maximum of many chance similarities is high. Lists' curve holds for ranks 1 to 20, also with
    the true ones taken away in a third of the lists; the reference for the error is its definition."""
    from motifs.training.likeness import Compared, fitted, listed, nearness, stated

    rng = np.random.default_rng(3)
    families, lots, per_lot, dim = 24, 12, 30, 12
    centres = rng.normal(size=(families, dim))

    def made(seed: int) -> Compared:
        draw = np.random.default_rng(seed)
        family = draw.integers(families, size=lots * per_lot)
        vectors = centres[family] + 1.1 * draw.normal(size=(len(family), dim))
        vectors /= np.linalg.norm(vectors, axis=1, keepdims=True)
        shows = np.eye(families, dtype=bool)[family]
        names = np.repeat([f"lot {i}" for i in range(lots)], per_lot)
        same, gathering = family[:, None] == family[None], np.zeros(len(family), int)
        return Compared(vectors @ vectors.T, nearness(vectors), same, names, shows, gathering)

    everyone = np.ones(lots * per_lot, bool)
    curves = fitted(made(1), everyone)
    lists = list(listed(made(2), everyone, 9, 1 / 3))
    first = np.array([one.is_same[0] for one in lists])
    by_list = np.array([stated(curves, one)[0] for one in lists])
    by_pair = np.array([curves.probability(float(one.similarities[0])) for one in lists])
    assert calibration_error(by_list, first) < 0.12
    assert calibration_error(by_pair, first) > 1.3 * calibration_error(by_list, first)
    twenty = np.concatenate([one.is_same for one in lists])
    assert calibration_error(np.concatenate([stated(curves, one) for one in lists]), twenty) < 0.06
