"""Retrieval measures: hand-worked, against scikit-learn, and leaving out the query's own group."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.metrics import average_precision_score

from motifs.retrieval import average_precision, mean_average_precision, precision_at_1, recall_at_k
from tests.truth.retrieval_worked import RANKED, TIED


@pytest.mark.parametrize(("relevant", "expected"), RANKED)
def test_average_precision_hand_worked(relevant: tuple[bool, ...], expected: object) -> None:
    falling = np.linspace(1.0, 0.0, len(relevant))
    assert average_precision(falling, np.array(relevant)) == pytest.approx(float(expected))  # type: ignore[arg-type]


@pytest.mark.parametrize(("similarities", "relevant", "expected"), TIED)
def test_tied_items_enter_together(
    similarities: tuple[float, ...], relevant: tuple[bool, ...], expected: object
) -> None:
    found = average_precision(np.array(similarities), np.array(relevant))
    assert found == pytest.approx(float(expected))  # type: ignore[arg-type]


@given(st.lists(st.tuples(st.integers(-5, 5), st.booleans()), min_size=1, max_size=40))
def test_average_precision_equals_scikit_learn(items: list[tuple[int, bool]]) -> None:
    similarities = np.array([value / 5.0 for value, _ in items])
    relevant = np.array([flag for _, flag in items])
    found = average_precision(similarities, relevant)
    if relevant.any():
        assert found == pytest.approx(average_precision_score(relevant, similarities), abs=1e-12)
    else:
        assert math.isnan(found)


def _example() -> tuple[np.ndarray, list[str], list[str]]:
    """Four sherds: a spiral on vessel 1 (twice), a spiral on vessel 2, a meander on vessel 3."""
    similarities = np.array(
        [[1.0, 0.9, 0.3, 0.5], [0.9, 1.0, 0.6, 0.2], [0.3, 0.6, 1.0, 0.4], [0.5, 0.2, 0.4, 1.0]], dtype=np.float64
    )
    return similarities, ["spiral", "spiral", "spiral", "meander"], ["v1", "v1", "v2", "v3"]


def test_the_own_group_is_left_out() -> None:
    similarities, labels, groups = _example()
    # query 0: v2 0.3 relevant, v3 0.5 not: 1/2. query 1: v2 first: 1. query 2: v1 0.6, v3 0.4, v1 0.3:
    # (1/1 + 2/3) / 2 = 5/6. query 3 has no other meander and does not count.
    assert mean_average_precision(similarities, labels, groups) == pytest.approx((1 / 2 + 1 + 5 / 6) / 3)
    assert precision_at_1(similarities, labels, groups) == pytest.approx(2 / 3)
    assert recall_at_k(similarities, labels, groups, 1) == pytest.approx((0 + 1 + 1 / 2) / 3)
    assert recall_at_k(similarities, labels, groups, 3) == pytest.approx(1.0)


def test_tied_nearest_neighbours_count_by_their_share() -> None:
    similarities = np.ones((3, 3))
    assert precision_at_1(similarities, ["a", "a", "b"], [0, 1, 2]) == pytest.approx(0.5)


def test_order_of_the_items_does_not_matter() -> None:
    rng = np.random.default_rng(4)
    similarities = rng.random((30, 30))
    labels, groups = rng.integers(0, 4, 30), rng.integers(0, 8, 30)
    order = rng.permutation(30)
    shuffled = similarities[np.ix_(order, order)]
    for measure in (mean_average_precision, precision_at_1):
        expected = measure(similarities, labels.tolist(), groups.tolist())
        assert measure(shuffled, labels[order].tolist(), groups[order].tolist()) == pytest.approx(expected)


@pytest.mark.parametrize("count", [0, 1])
def test_nothing_to_find(count: int) -> None:
    nothing = np.zeros((count, count))
    names = ["a"] * count
    assert math.isnan(mean_average_precision(nothing, names, names))
    assert math.isnan(precision_at_1(nothing, names, names))
    assert math.isnan(recall_at_k(nothing, names, names, 1))


def test_what_does_not_fit_is_refused() -> None:
    with pytest.raises(ValueError, match="do not fit"):
        mean_average_precision(np.zeros((2, 3)), ["a", "b"], ["a", "b"])
    with pytest.raises(ValueError, match="do not fit"):
        precision_at_1(np.zeros((2, 2)), ["a", "b"], ["a"])
    with pytest.raises(ValueError, match="not finite"):
        precision_at_1(np.full((2, 2), np.nan), ["a", "a"], ["a", "b"])
    with pytest.raises(ValueError, match="below 1"):
        recall_at_k(np.zeros((1, 1)), ["a"], ["a"], 0)
