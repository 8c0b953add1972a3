"""The map of a lot: principal axes against scikit-learn's, and what it says of a lot."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from sklearn.decomposition import PCA

from motifs.errors import UnknownName
from motifs.records import CueBlock
from motifs.workflows.crops import crops_of
from motifs.workflows.evidence_map import map_lot, principal_axes
from tests.workflows.conftest import LOT
from tests.workflows.test_table import BY, NUMBERS

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue


def block(x: np.ndarray, between: float, name: str = "paste") -> CueBlock:
    count, size = x.shape
    return CueBlock(name, x, np.ones(count, bool), np.ones(count), np.full(size, between), np.zeros(size), 5.0)


def test_no_sherd_or_no_cue_is_no_map() -> None:
    places, axes = principal_axes([], 0)
    assert (places.shape, axes) == ((0, 2), ("", ""))
    places, axes = principal_axes([block(np.zeros((3, 2)), 4.0)], 3)
    assert (places.tolist(), axes) == ([[0.0, 0.0]] * 3, ("", ""))
    places, axes = principal_axes([block(np.ones((1, 2)), 4.0)], 1)
    assert places.tolist() == [[0.0, 0.0]]


def test_the_axes_are_the_principal_ones() -> None:
    """scikit-learn's PCA of the same centred table, up to sign."""
    rng = np.random.default_rng(3)
    x = rng.normal(size=(40, 4)) @ np.diag([3.0, 2.0, 1.0, 0.5])
    x -= x.mean(axis=0)
    x = np.vstack([x, -x])  # median and mean agree
    places, _ = principal_axes([block(x, 1e6)], 80)
    other = PCA(2, svd_solver="full").fit_transform(x)
    assert np.abs(places) == pytest.approx(np.abs(other), abs=1e-4)


def test_what_differs_most_between_vessels_makes_the_first_axis() -> None:
    rng = np.random.default_rng(0)
    vessel = np.repeat([0, 1], 20)
    telling = (8.0 * vessel + rng.normal(size=40))[:, None]
    silent = rng.normal(scale=3.0, size=(40, 1))
    places, axes = principal_axes([block(telling, 30.0, "line"), block(silent, 0.01, "gap")], 40)
    assert axes[0].startswith("width of the lines")
    assert places[vessel == 0, 0].max() < places[vessel == 1, 0].min()


def test_a_lot_is_mapped_sherd_by_sherd(cat: Catalogue) -> None:
    """The sherds of the trays are of two pastes, which the blue of their crops tells apart."""
    found = map_lot(cat, LOT, by=BY)
    assert [point.sherd for point in found.points] == NUMBERS
    assert found.without == ()
    x = np.array([point.x for point in found.points])
    blue = np.array([np.median(crop.image[crop.mask][:, 2]) for _, crop in crops_of(cat, cat.sherds(LOT))])
    dark, light = x[blue < 110], x[blue >= 110]
    assert len(dark) > 1 < len(light)
    assert dark.max() < light.min() or light.max() < dark.min()
    with pytest.raises(UnknownName):
        map_lot(cat, "never", by=BY)
