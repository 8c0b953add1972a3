"""Comparanda: who may be found, in which order; the search itself against plain numpy."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from motifs.errors import InputError, UnknownName
from motifs.workflows import comparanda, vectors
from motifs.workflows.comparanda import find_comparanda
from motifs.workflows.correct import drop, merge, set_site
from motifs.workflows.vectors import comparanda_encoder, vector_key
from tests.workflows.conftest import LOT, OTHER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue
    from motifs.embedding import EncoderSpec
    from motifs.records import SherdCrop

QUERY = f"{LOT}-001"


def fake_encode(spec: EncoderSpec, crops: Sequence[SherdCrop]) -> np.ndarray:
    """Deterministic unit vectors of the encoder's length, from the crop's mean colour: no network needed here."""
    rows = []
    for crop in crops:
        seed = int(crop.image[crop.mask].mean() * 1000)
        rows.append(np.random.default_rng(seed).normal(size=spec.dim))
    table = np.array(rows, np.float32)
    return table / np.linalg.norm(table, axis=1, keepdims=True)


@pytest.fixture(autouse=True)
def _no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(vectors, "encode_crops", fake_encode)
    monkeypatch.setattr(comparanda, "encode_crops", fake_encode)


def test_order_and_similarity_are_those_of_plain_cosines(cat: Catalogue) -> None:
    found = find_comparanda(cat, QUERY, top=5, by="test")
    kept = cat.vectors(vector_key(comparanda_encoder()), [sherd.number for sherd in cat.sherds()])
    cosines = {number: float(vector @ kept[QUERY]) for number, vector in kept.items() if number != QUERY}
    expected = sorted(cosines, key=lambda number: -cosines[number])[:5]
    assert [near.sherd for near in found.neighbours] == expected
    assert [near.rank for near in found.neighbours] == [1, 2, 3, 4, 5]
    assert [near.similarity for near in found.neighbours] == pytest.approx([cosines[n] for n in expected], abs=1e-5)
    assert found.compared == 11


def test_the_query_is_never_its_own_neighbour(cat: Catalogue) -> None:
    for sherd in cat.sherds():
        assert sherd.number not in {
            near.sherd for near in find_comparanda(cat, sherd.number, by="test", top=99).neighbours
        }


def test_other_sites_leaves_out_the_own_site_only(cat: Catalogue) -> None:
    found = find_comparanda(cat, QUERY, top=99, other_sites=True, by="test")
    assert {near.lot for near in found.neighbours} == {OTHER}
    assert {near.site for near in found.neighbours} == {"Marl Hill"}


def test_lots_without_a_site_cannot_be_other_sites_and_that_is_said(cat: Catalogue) -> None:
    set_site(cat, OTHER, None, by="test")
    found = find_comparanda(cat, QUERY, other_sites=True, by="test")
    assert found.neighbours == ()
    assert OTHER in found.notes[0]
    assert "nothing comparable" in found.notes[1]
    with pytest.raises(InputError, match="site of"):
        find_comparanda(cat, f"{OTHER}-001", other_sites=True, by="test")


def test_a_box_of_the_whole_crop_is_the_sherd(cat: Catalogue) -> None:
    crop = cat.crop(QUERY)
    assert crop is not None
    height, width = crop.mask.shape
    whole = find_comparanda(cat, QUERY, box_px=(0, 0, width, height), by="test")
    assert whole.neighbours == find_comparanda(cat, QUERY, by="test").neighbours


def test_a_box_without_sherd_is_refused_before_anything_is_encoded(cat: Catalogue) -> None:
    with pytest.raises(InputError):
        find_comparanda(cat, QUERY, box_px=(0, 0, 1, 1), by="test")
    assert cat.vectors(vector_key(comparanda_encoder()), [QUERY]) == {}


def test_dropped_and_merged_sherds_neither_ask_nor_are_found(cat: Catalogue) -> None:
    drop(cat, [f"{LOT}-002"], by="test")
    merged = merge(cat, [f"{LOT}-003", f"{LOT}-004"], by="test").number
    found = {near.sherd for near in find_comparanda(cat, QUERY, top=99, by="test").neighbours}
    assert merged in found
    assert found.isdisjoint({f"{LOT}-002", f"{LOT}-003", f"{LOT}-004"})
    with pytest.raises(InputError, match="dropped"):
        find_comparanda(cat, f"{LOT}-002", by="test")
    with pytest.raises(InputError, match=merged):
        find_comparanda(cat, f"{LOT}-003", by="test")


def test_nothing_near_enough_is_an_answer(cat: Catalogue) -> None:
    everything = find_comparanda(cat, QUERY, top=99, by="test").neighbours
    cut = everything[2].similarity
    assert find_comparanda(cat, QUERY, top=99, least_similarity=cut, by="test").neighbours == everything[:3]
    nothing = find_comparanda(cat, QUERY, least_similarity=1.0, by="test")
    assert nothing.neighbours == ()
    assert nothing.notes == ("nothing comparable among 11 sherds",)


@pytest.mark.parametrize(("number", "top", "error"), [("nobody", 5, UnknownName), (QUERY, 0, InputError)])
def test_wrong_questions_are_refused(number: str, top: int, error: type[Exception], cat: Catalogue) -> None:
    with pytest.raises(error):
        find_comparanda(cat, number, top=top, by="test")
