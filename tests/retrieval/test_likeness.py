"""Calibrated probabilities: the curves, what is refused, and the calibration error against a worked example."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from sklearn.linear_model import LogisticRegression

from motifs.errors import ModelError
from motifs.retrieval import Likeness, calibration_error, load_likeness, save_likeness
from motifs.retrieval.likeness import logistic, vote_features

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
