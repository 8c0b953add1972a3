"""Search by averaged vectors: against the definition in numpy, its restrictions, and what it is for."""

from __future__ import annotations

import numpy as np
import pytest

from motifs.retrieval import Expansion, VectorIndex, search_expanded


def unit(vectors: np.ndarray) -> np.ndarray:
    return (vectors / np.linalg.norm(vectors, axis=1, keepdims=True)).astype(np.float32)


def filled(vectors: np.ndarray) -> VectorIndex:
    index = VectorIndex("test.one", vectors.shape[1])
    index.add([f"k{i:03d}" for i in range(len(vectors))], vectors)
    return index


def test_it_is_the_definition() -> None:
    """Weights are similarity to the power 3, as in Radenović et al. 2018, section 3.4 (from memory)."""
    vectors = unit(np.random.default_rng(50).normal(size=(80, 12)))
    similarity = vectors @ vectors.T
    nearest = np.argsort(-similarity, axis=1)[:, :4]
    weights = np.maximum(np.take_along_axis(similarity, nearest, axis=1), 0.0) ** 3.0
    means = unit(np.einsum("nk,nkd->nd", weights, vectors[nearest]))
    expected = means[:5] @ means.T
    found = search_expanded(filled(vectors), vectors[:5], 10, expansion=Expansion(4, 3.0, 80))
    for row, neighbours in zip(expected, found, strict=True):
        assert [int(key[1:]) for key, _ in neighbours] == np.argsort(-row)[:10].tolist()
        np.testing.assert_allclose([value for _, value in neighbours], np.sort(row)[::-1][:10], atol=2e-6)


def test_one_neighbour_is_the_plain_search() -> None:
    vectors = unit(np.random.default_rng(51).normal(size=(40, 8)))
    index = filled(vectors)
    plain = index.search(vectors, 5)
    expanded = search_expanded(index, vectors, 5, expansion=Expansion(neighbours=1))
    assert [[key for key, _ in row] for row in expanded] == [[key for key, _ in row] for row in plain]


def test_a_chain_of_partial_views_is_followed() -> None:
    """The query shares nothing with the far end of its pot's chain, yet finds it before a stranger."""
    steps = np.radians([0.0, 25.0, 50.0, 75.0, 95.0])
    chain = np.stack([np.cos(steps), np.sin(steps), np.zeros(5)], axis=1)
    stranger = np.array([[-0.05, 0.0, 1.0]])
    index = filled(unit(np.concatenate([chain, stranger])))
    plain = [key for key, _ in index.search(unit(chain[:1]), 6)[0]]
    assert plain.index("k005") < plain.index("k004")
    expanded = [key for key, _ in search_expanded(index, unit(chain[:1]), 6, expansion=Expansion(2, 1.0))[0]]
    assert expanded.index("k004") < expanded.index("k005")


def test_what_is_left_out_is_not_found() -> None:
    vectors = unit(np.random.default_rng(52).normal(size=(30, 8)))
    index = filled(vectors)
    found = search_expanded(index, vectors[:2], 30, allowed={"k001", "k002", "k003"}, excluded={"k002"})
    assert [{key for key, _ in row} for row in found] == [{"k001", "k003"}] * 2


def test_nothing_to_find() -> None:
    queries = unit(np.random.default_rng(53).normal(size=(2, 4)))
    assert search_expanded(VectorIndex("test.one", 4), queries, 3) == [[], []]
    assert search_expanded(filled(queries), np.zeros((0, 4), np.float32), 3) == []
    opposite = filled(-queries[:1])
    assert search_expanded(opposite, queries[:1], 3) == [[("k000", pytest.approx(-1.0))]]
