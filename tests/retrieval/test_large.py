"""Approximate index: against the exact one and bare faiss, with what was added and removed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import faiss
import numpy as np
import pytest

from motifs.errors import CollectionDamaged, UnknownName
from motifs.retrieval import LargeIndex, LargePlan, VectorIndex, large
from motifs.retrieval.large import empty_structure, search_settings
from motifs.retrieval.rows import VectorRows

if TYPE_CHECKING:
    from pathlib import Path

DIM = 24


def clustered(seed: int, count: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    centres = np.random.default_rng(0).normal(size=(30, DIM))
    vectors = centres[rng.integers(30, size=count)] + 0.5 * rng.normal(size=(count, DIM))
    return (vectors / np.linalg.norm(vectors, axis=1, keepdims=True)).astype(np.float32)


KEYS = [f"k{i:05d}" for i in range(6_000)]
VECTORS, QUERIES = clustered(1, 6_000), clustered(2, 60)
PLANS = {
    "graph": LargePlan(kind="graph", components=20, looked_at=20),
    "lists": LargePlan(kind="lists", components=20, looked_at=20, probes=0.2),
    "flat": LargePlan(kind="flat", components=0, probes=0.2),
    "codes": LargePlan(kind="codes", components=20, code_bytes=4, probes=0.4, looked_at=60),
}


@pytest.fixture(params=["graph", "lists", "flat"])
def index(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> LargeIndex:
    monkeypatch.setattr(large, "FEW", 50)
    made = LargeIndex("t.one", DIM, PLANS[request.param])
    made.add(KEYS, VECTORS)
    made.build()
    return made


def recall(found: list[list[tuple[str, float]]], true: list[list[tuple[str, float]]]) -> float:
    return float(
        np.mean([len({k for k, _ in a} & {k for k, _ in b}) / len(b) for a, b in zip(found, true, strict=True)])
    )


def exact(keys: list[str], vectors: np.ndarray) -> VectorIndex:
    made = VectorIndex("t.one", DIM)
    made.add(keys, vectors)
    return made


def test_nearly_all_of_the_nearest_with_their_similarities(index: LargeIndex) -> None:
    true = exact(KEYS, VECTORS).search(QUERIES, 10)
    found = index.search(QUERIES, 10)
    assert recall(found, true) >= 0.97
    for row, near in zip(QUERIES, found, strict=True):
        assert [value for _, value in near] == sorted((value for _, value in near), reverse=True)
        for key, value in near:
            assert value == pytest.approx(float(row @ VECTORS[KEYS.index(key)]), abs=1e-3)


def test_product_codes_find_nearly_all_too() -> None:
    made = LargeIndex("t.one", DIM, PLANS["codes"])
    made.add(KEYS[:3000], VECTORS[:3000])
    made.build()
    assert recall(made.search(QUERIES, 10), exact(KEYS[:3000], VECTORS[:3000]).search(QUERIES, 10)) >= 0.95


def test_no_worse_than_bare_faiss_with_the_same_structure(index: LargeIndex) -> None:
    """faiss by itself, same structure, settings and candidates: the program's order of them is at least as good."""
    structure: Any = empty_structure(index.plan, DIM, len(KEYS))
    structure.train(VECTORS)
    structure.add(VECTORS)
    settings = search_settings(index.plan, structure, 10 * index.plan.looked_at)
    numbers = structure.search(QUERIES, 10 * index.plan.looked_at, params=settings)[1]
    flat: Any = faiss.IndexFlatIP(DIM)
    flat.add(VECTORS)
    true = [[(KEYS[n], 0.0) for n in row] for row in flat.search(QUERIES, 10)[1]]
    bare = [[(KEYS[n], 0.0) for n in row[:10]] for row in numbers]
    assert recall(index.search(QUERIES, 10), true) >= recall(bare, true) - 0.005


def test_removed_and_barred_ones_are_never_found(index: LargeIndex) -> None:
    index.remove(KEYS[::2])
    assert (len(index), index.is_due) == (3000, True)
    left = exact(KEYS[1::2], VECTORS[1::2])
    assert recall(index.search(QUERIES, 10), left.search(QUERIES, 10)) >= 0.95
    allowed, barred = set(KEYS[1::4]), set(KEYS[1:40:4])
    found = index.search(QUERIES, 5, allowed, barred)
    assert {key for row in found for key, _ in row} <= allowed - barred
    few = index.search(QUERIES, 5, {KEYS[1], KEYS[0], "nobody"})
    assert [[key for key, _ in row] for row in few] == [[KEYS[1]]] * 60
    with pytest.raises(UnknownName):
        index.remove([KEYS[0]])


def test_due_when_much_is_gone_or_new(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(large, "FEW", 50)
    made = LargeIndex("t.one", DIM, PLANS["graph"])
    made.add(KEYS[:200], VECTORS[:200])
    made.build()
    assert not made.is_due
    made.remove(KEYS[:60])
    assert made.is_due
    made.build()
    grown = LargeIndex("t.one", DIM, PLANS["graph"])
    grown.add(KEYS[:100], VECTORS[:100])
    grown.build()
    grown.add(KEYS[100:301], VECTORS[100:301])
    assert grown.is_due
    assert recall(grown.search(QUERIES, 10), exact(KEYS[:301], VECTORS[:301]).search(QUERIES, 10)) >= 0.97


def test_a_new_vector_takes_the_old_ones_place(index: LargeIndex) -> None:
    index.add([KEYS[5], "new"], QUERIES[:2])
    assert index.search(QUERIES[:1], 1)[0][0][0] == KEYS[5]
    assert index.search(QUERIES[1:2], 1)[0][0][0] == "new"
    np.testing.assert_allclose(index.vectors([KEYS[5]]), QUERIES[:1], atol=1e-3)
    assert len(index) == 6_001


def test_restored_it_answers_alike_and_refuses_what_does_not_fit(index: LargeIndex) -> None:
    index.remove(KEYS[:10])
    again = LargeIndex("t.one", DIM, index.plan, index.rows)
    again.restore(index.key_of_row, index.packed(), index.trained_on)
    assert again.search(QUERIES, 7) == index.search(QUERIES, 7)
    assert again.keys() == index.keys()
    for keys, packed in (
        (index.key_of_row[:-1], index.packed()),
        (index.key_of_row, index.packed()[:100]),
        ((*index.key_of_row, "more"), index.packed()),
    ):
        with pytest.raises(ValueError, match=r"fit|read"):
            LargeIndex("t.one", DIM, index.plan, index.rows).restore(keys, packed, 1)


def test_empty_and_wrong() -> None:
    empty = LargeIndex("t.one", DIM)
    empty.build()
    assert empty.search(QUERIES[:2], 3) == [[], []]
    for wrong in (QUERIES[:1] * 2.0, QUERIES[:1, :5], np.full((1, DIM), np.nan, np.float32)):
        with pytest.raises(ValueError, match="vector"):
            empty.add(["a"], wrong)
    with pytest.raises(ValueError, match="twice"):
        empty.add(["a", "a"], QUERIES[:2])


def test_few_are_looked_through_exactly() -> None:
    made = LargeIndex("t.one", DIM)
    made.add(KEYS[:500], VECTORS[:500])
    true = exact(KEYS[:500], VECTORS[:500]).search(QUERIES, 10)
    assert recall(made.search(QUERIES, 10), true) >= 0.995  # ties within 16 bits


def test_rows_in_a_file_are_those_in_memory_and_damage_is_noticed(tmp_path: Path) -> None:
    path = tmp_path / "x.rows"
    kept, held = VectorRows(DIM, path), VectorRows(DIM)
    for part in (VECTORS[:7], VECTORS[7:7], VECTORS[7:100]):
        kept.append(part)
        held.append(part)
    numbers = np.array([99, 0, 7, 7])
    np.testing.assert_array_equal(kept.take(numbers), held.take(numbers))
    np.testing.assert_array_equal(VectorRows(DIM, path, 100).take(numbers), held.take(numbers))
    shorter = VectorRows(DIM, path, 50)  # the rest was never named: it is cut off
    shorter.append(QUERIES[:1])
    assert path.stat().st_size == 51 * DIM * 2
    np.testing.assert_allclose(shorter.take(np.array([50])), QUERIES[:1], atol=1e-3)
    with pytest.raises(CollectionDamaged):
        VectorRows(DIM, path, 52)
    path.write_bytes(bytes(51 * DIM * 2))
    with pytest.raises(CollectionDamaged, match="delete it"):
        VectorRows(DIM, path, 51).take(np.array([3]))
