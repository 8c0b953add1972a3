"""Fitting a likeness: gatherings pooled by family, curves of known data, and the shipped table's encoder."""

from __future__ import annotations

import numpy as np

from motifs.records import SherdCrop
from motifs.retrieval import Likeness
from motifs.training.likeness import Compared, Gathering, _measured, _votes, pooled
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


def test_measures_of_a_collection_whose_curves_are_known() -> None:
    """Two families told apart by their vectors: proposals are nearly always right, and say so."""
    rng = np.random.default_rng(1)
    family = np.arange(60) % 2
    shows = np.eye(2, dtype=bool)[family]
    similarity = np.where(family[:, None] == family, 0.9, 0.0) + 0.02 * rng.normal(size=(60, 60))
    other = (np.arange(60) // 20)[:, None] != np.arange(60) // 20
    checked = np.array([(0, 21), (0, 22), (1, 22)])
    one = Compared(similarity, family[:, None] == family, other, checked, shows)
    curves = Likeness("x", (0.0,), (-6.0, 14.0), (-6.0, 14.0, 0.0), (0.5, 1.0, 0.7), {}, "a test")
    votes, right = _votes(curves, [one])
    assert right.mean() > 0.99
    assert np.isfinite(votes).all()
    measures = _measured(curves, [one])
    assert measures["calibration error, similarity only"] < 0.01
    assert measures["right among those"] > 0.99


def test_the_shipped_table_is_of_the_shipped_encoder() -> None:
    """A new encoder needs its likeness fitted anew: python -m motifs.training.likeness."""
    spec = newest_shipped(MOTIF_ENCODER)
    assert spec is not None
    likeness = likeness_of(spec)
    assert likeness is not None
    assert len(likeness.mean) == spec.dim
    assert likeness.measures["calibration error, first tag proposal"] < 0.1
