"""Averaging inside lots: against the definition, its invariants, and that lots never mix."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motifs.retrieval import LotAverage, averaged_in_lots, averaged_with, centred


def unit(vectors: np.ndarray) -> np.ndarray:
    return (vectors / np.linalg.norm(vectors, axis=1, keepdims=True)).astype(np.float32)


def some(seed: int, count: int, dim: int = 12) -> np.ndarray:
    return unit(np.random.default_rng(seed).normal(size=(count, dim)) + 0.4)


def test_it_is_the_definition() -> None:
    """alpha-weighted averaging as in Radenović, Tolias & Chum 2019, section 3.4 (from memory): similarity to a power."""
    vectors, lots = some(1, 30), ["a"] * 18 + ["b"] * 12
    found = averaged_in_lots(vectors, lots, LotAverage(3, 2.0))
    for row in (0, 17, 18, 29):
        members = [i for i, lot in enumerate(lots) if lot == lots[row]]
        near = sorted(members, key=lambda i: -float(vectors[i] @ vectors[row]))[:3]
        total = sum(max(float(vectors[i] @ vectors[row]), 0.0) ** 2.0 * vectors[i].astype(float) for i in near)
        np.testing.assert_allclose(found[row], total / np.linalg.norm(total), atol=2e-6)


def test_one_neighbour_or_a_lot_of_one_changes_nothing() -> None:
    vectors = some(2, 9)
    np.testing.assert_allclose(averaged_in_lots(vectors, ["a"] * 9, LotAverage(neighbours=1)), vectors, atol=1e-6)
    np.testing.assert_allclose(averaged_in_lots(vectors, list("abcdefghi")), vectors, atol=1e-6)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000))
def test_another_lot_never_changes_a_lot_and_order_does_not_matter(seed: int) -> None:
    vectors = some(seed, 20)
    lots = ["a"] * 12 + ["b"] * 8
    found = averaged_in_lots(vectors, lots)
    np.testing.assert_allclose(np.linalg.norm(found, axis=1), 1.0, atol=1e-5)
    np.testing.assert_allclose(found[:12], averaged_in_lots(vectors[:12], ["a"] * 12), atol=1e-6)
    order = np.random.default_rng(seed).permutation(20)
    shuffled = averaged_in_lots(vectors[order], [lots[i] for i in order])
    np.testing.assert_allclose(shuffled, found[order], atol=1e-5)


def test_partial_views_of_one_pot_are_drawn_together() -> None:
    """Two pots seen in noisy parts: averaging inside the lot raises what the parts of one pot share."""
    rng = np.random.default_rng(3)
    pots = unit(rng.normal(size=(2, 40)))
    here = unit(np.repeat(pots, 8, axis=0) + 0.35 * rng.normal(size=(16, 40)))
    there = unit(np.repeat(pots, 8, axis=0) + 0.35 * rng.normal(size=(16, 40)))
    is_same = np.arange(16)[:, None] // 8 == np.arange(16) // 8
    plain = here @ there.T
    averaged = averaged_in_lots(here, ["h"] * 16) @ averaged_in_lots(there, ["t"] * 16).T
    assert averaged[is_same].mean() - averaged[~is_same].mean() > 1.15 * (
        plain[is_same].mean() - plain[~is_same].mean()
    )


def test_a_detail_is_averaged_with_a_lot_it_is_not_in() -> None:
    lot = some(4, 6)
    assert averaged_with(lot[:1], np.zeros((0, 12), np.float32)).tolist() == lot[:1].tolist()
    opposite = averaged_with(lot[:1], -lot[:1])
    np.testing.assert_allclose(opposite, lot[:1], atol=1e-6)


def test_nothing_and_wrong_counts() -> None:
    assert averaged_in_lots(np.zeros((0, 5), np.float32), []).shape == (0, 5)
    with pytest.raises(ValueError, match="2 lots"):
        averaged_in_lots(some(5, 3), ["a", "b"])
    with pytest.raises(ValueError, match="neighbours"):
        LotAverage(neighbours=0)


def test_the_mean_is_taken_away() -> None:
    vectors = some(6, 10)
    assert centred(vectors, None) is vectors
    mean = vectors.mean(axis=0)
    np.testing.assert_allclose(centred(vectors, mean), unit(vectors - mean), atol=1e-5)
    np.testing.assert_allclose(centred(vectors[:1], vectors[0]), vectors[:1], atol=1e-6)
