"""Similarity by way of neighbours."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.datasets import make_moons

from motifs.retrieval.diffusion import Diffusion, diffused_similarity


def _unit(rows: np.ndarray) -> np.ndarray:
    return (rows / np.linalg.norm(rows, axis=1, keepdims=True)).astype(np.float32)


def _on_a_sphere(plane: np.ndarray) -> np.ndarray:
    """Points of a plane lifted onto a sphere, so that near in the plane is alike on it."""
    return _unit(np.column_stack([plane, np.full(len(plane), 1.2)]))


def test_two_moons_are_ranked_along_the_moon() -> None:
    # The example of Zhou et al. 2004, figure 1: from one end of a half moon, Euclidean nearness prefers the other moon to the far end.
    plane, moon = make_moons(200, noise=0.03, random_state=0)
    plane = (plane - plane.mean(axis=0)) * 0.5
    vectors = _on_a_sphere(plane)
    start = int(np.argmin(np.where(moon == 0, plane[:, 0], np.inf)))
    rest = np.delete(np.arange(len(vectors)), start)
    is_own = moon[rest] == 0
    walked = diffused_similarity(vectors[start], vectors[rest], Diffusion(ties=6, power=60.0, reach=0.99))
    straight = vectors[rest] @ vectors[start]
    count = int(is_own.sum())

    def found(values: np.ndarray) -> float:
        return float(is_own[np.argsort(-values, kind="stable")[:count]].mean())

    assert found(walked) > 0.97
    assert found(straight) < 0.9


def test_it_is_the_normalised_kernel_of_a_small_graph() -> None:
    # Three vectors: the middle one is alike to both ends, the ends are not alike to one another. Worked by hand: every tie 0.5,
    # normalised ties 1 / sqrt(2), kernel (I - r W)^-1 with r = 0.5 and det = 1 - r^2 = 0.75.
    middle = np.array([1.0, 1.0]) / np.sqrt(2)
    vectors = np.array([[1.0, 0.0], middle, [0.0, 1.0]], np.float32)
    near = diffused_similarity(vectors[0], vectors[1:], Diffusion(ties=2, power=2.0, reach=0.5))
    corner, centre = (1 - 0.125) / 0.75, 1 / 0.75
    expected = [0.5 / np.sqrt(2) / 0.75 / np.sqrt(corner * centre), 0.125 / 0.75 / corner]
    assert near == pytest.approx(expected, abs=1e-6)


def test_what_no_way_leads_to_is_not_near() -> None:
    vectors = np.eye(4, dtype=np.float32)[:3]
    lone = diffused_similarity(np.array([0, 0, 0, 1], np.float32), vectors)
    assert lone.tolist() == [0.0, 0.0, 0.0]
    assert diffused_similarity(vectors[0], vectors[:0]).shape == (0,)


def test_settings_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="cannot be"):
        Diffusion(reach=1.0)
