"""Fitting a likeness: gatherings pooled by family, curves of known data, and the shipped table's encoder."""

from __future__ import annotations

import numpy as np

from motifs.records import SherdCrop
from motifs.training.gatherings import Gathering, pooled
from motifs.training.likeness import Compared, fitted, measured
from motifs.workflows.compared import likeness_of
from motifs.workflows.vectors import MOTIF_ENCODER, newest_shipped

CROP = SherdCrop(np.zeros((2, 2, 3), np.uint8), np.ones((2, 2), bool), 10.0, 10.0, True)


def gathering(name: str, shows: list[list[int]], families: tuple[str, ...]) -> Gathering:
    return Gathering((CROP,) * len(shows), ("lot 0", "lot 1")[: len(shows)], np.array(shows, bool), families, name)


def test_families_of_one_name_are_one_and_lots_stay_apart() -> None:
    found = pooled([gathering("a", [[1, 0], [0, 1]], ("x", "y")), gathering("b", [[1, 1], [0, 0]], ("y", "z"))])
    assert found.families == ("x", "y", "z")
    assert found.shows.astype(int).tolist() == [[1, 0, 0], [0, 1, 0], [0, 1, 1], [0, 0, 0]]
    assert len(set(found.lots)) == 4


def test_measures_of_collections_whose_motifs_are_told_apart() -> None:
    """Two families told apart by their vectors: proposals are nearly always right, and say so; curves come from the other gathering."""
    rng = np.random.default_rng(1)
    family = np.arange(120) % 2
    shows = np.eye(2, dtype=bool)[family]
    similarity = np.where(family[:, None] == family, 0.9, 0.0) + 0.02 * rng.normal(size=(120, 120))
    near = np.where(family[:, None] == family, 0.2, 0.001) * rng.uniform(0.8, 1.2, (120, 120))
    lots = np.array([f"lot {k // 20}" for k in range(120)])
    one = Compared(similarity, near, family[:, None] == family, lots, shows, np.arange(120) // 60)
    curves = fitted(one, one.gatherings >= 0)
    assert curves.listed is not None
    assert curves.listed.way > 0
    figures = measured(one)
    assert figures["calibration error, similarity only"] < 0.01
    assert figures["calibration error, first of a list"] < 0.1
    assert figures["right among those, 0.9, first tag proposal"] > 0.95


def test_the_shipped_table_is_of_the_shipped_encoder() -> None:
    """A new encoder needs its likeness fitted anew: python -m motifs.training.likeness."""
    spec = newest_shipped(MOTIF_ENCODER)
    assert spec is not None
    likeness = likeness_of(spec)
    assert likeness is not None
    assert len(likeness.mean) == spec.dim
    assert likeness.measures["calibration error, first tag proposal"] < 0.1
