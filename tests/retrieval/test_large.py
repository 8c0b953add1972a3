"""Approximate index: against the exact one, with what was added and removed; and taking over while it answers."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

import numpy as np
import pytest

from motifs.errors import CollectionDamaged, UnknownName
from motifs.retrieval import LargeIndex, LargePlan, LiveIndex, VectorIndex, index_of, large

if TYPE_CHECKING:
    from pathlib import Path

DIM = 24


def clustered(seed: int, count: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    centres = np.random.default_rng(0).normal(size=(30, DIM))
    vectors = centres[rng.integers(30, size=count)] + 0.5 * rng.normal(size=(count, DIM))
    return (vectors / np.linalg.norm(vectors, axis=1, keepdims=True)).astype(np.float32)


KEYS = [f"k{i:05d}" for i in range(3000)]
VECTORS, QUERIES = clustered(1, 3000), clustered(2, 60)


@pytest.fixture(params=["graph", "lists"])
def index(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> LargeIndex:
    monkeypatch.setattr(large, "FEW", 50)
    made = LargeIndex("t.one", DIM, LargePlan(kind=request.param, probes=0.2))
    made.add(KEYS, VECTORS)
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


def test_removed_and_barred_ones_are_never_found(index: LargeIndex) -> None:
    index.remove(KEYS[::2])
    assert (len(index), index.is_due) == (1500, True)
    left = exact(KEYS[1::2], VECTORS[1::2])
    assert recall(index.search(QUERIES, 10), left.search(QUERIES, 10)) >= 0.95
    allowed, barred = set(KEYS[1::4]), set(KEYS[1:40:4])
    found = index.search(QUERIES, 5, allowed, barred)
    assert {key for row in found for key, _ in row} <= allowed - barred
    few = index.search(QUERIES, 5, {KEYS[1], KEYS[0], "nobody"})
    assert [[key for key, _ in row] for row in few] == [[KEYS[1]]] * 60
    with pytest.raises(UnknownName):
        index.remove([KEYS[0]])


def test_a_new_vector_takes_the_old_ones_place(index: LargeIndex) -> None:
    index.add([KEYS[5], "new"], QUERIES[:2])
    assert index.search(QUERIES[:1], 1)[0][0][0] == KEYS[5]
    assert index.search(QUERIES[1:2], 1)[0][0][0] == "new"
    np.testing.assert_allclose(index.vectors([KEYS[5]]), QUERIES[:1], atol=1e-3)
    assert len(index) == 3001


def test_saved_and_read_again(index: LargeIndex, tmp_path: Path) -> None:
    index.remove(KEYS[:10])
    index.save(tmp_path / "x.index")
    again = LargeIndex.load(tmp_path / "x.index", "t.one")
    assert again.search(QUERIES, 7) == index.search(QUERIES, 7)
    assert again.keys() == index.keys()
    with pytest.raises(CollectionDamaged, match=r"t\.one"):
        LargeIndex.load(tmp_path / "x.index", "t.two")
    whole = (tmp_path / "x.index").read_bytes()
    for broken in (b"", whole[: len(whole) // 2]):
        (tmp_path / "y.index").write_bytes(broken)
        with pytest.raises(CollectionDamaged):
            LargeIndex.load(tmp_path / "y.index", "t.one")


def test_empty_and_wrong() -> None:
    empty = LargeIndex("t.one", DIM)
    assert empty.search(QUERIES[:2], 3) == [[], []]
    for wrong in (QUERIES[:1] * 2.0, QUERIES[:1, :5], np.full((1, DIM), np.nan, np.float32)):
        with pytest.raises(ValueError, match="vector"):
            empty.add(["a"], wrong)
    with pytest.raises(ValueError, match="twice"):
        empty.add(["a", "a"], QUERIES[:2])


def test_the_size_decides() -> None:
    assert isinstance(index_of("t.one", DIM, KEYS[:100], VECTORS[:100], exact_up_to=100), VectorIndex)
    assert isinstance(index_of("t.one", DIM, KEYS[:101], VECTORS[:101], exact_up_to=100), LargeIndex)
    assert index_of("t.one", DIM, [], np.zeros((0, DIM), np.float32)).search(QUERIES[:1], 3) == [[]]


def test_a_rebuild_loses_nothing_and_never_stops_answering() -> None:
    kept = dict(zip(KEYS[:500], VECTORS[:500], strict=True))
    live = LiveIndex(index_of("t.one", DIM, list(kept), np.stack(list(kept.values()))))
    seen: list[int] = []
    stop = threading.Event()

    def read() -> tuple[list[str], np.ndarray]:
        now = kept
        return list(now), np.stack(list(now.values()))

    def ask() -> None:
        while not stop.is_set():
            seen.append(len(live.search(QUERIES[:1], 5)[0]))

    asking = threading.Thread(target=ask)
    asking.start()
    try:
        for turn in range(4):
            building = threading.Thread(target=live.rebuild, args=(read,))
            building.start()
            kept = {**kept, f"late{turn}": QUERIES[turn]}
            live.add([f"late{turn}"], QUERIES[turn : turn + 1])
            kept = {key: vector for key, vector in kept.items() if key != KEYS[turn]}
            live.remove([KEYS[turn]])
            building.join()
            assert f"late{turn}" in {key for key, _ in live.search(QUERIES[turn : turn + 1], 1)[0]}
            assert KEYS[turn] not in {key for key, _ in live.search(VECTORS[turn : turn + 1], 3)[0]}
            assert len(live) == 500
    finally:
        stop.set()
        asking.join()
    assert seen
    assert set(seen) == {5}


def test_a_rebuild_that_cannot_be_leaves_the_old_index() -> None:
    live = LiveIndex(index_of("t.one", DIM, KEYS[:50], VECTORS[:50]))
    before = live.search(QUERIES, 3)
    with pytest.raises(ValueError, match="length"):
        live.rebuild(lambda: (KEYS[:2], VECTORS[:2] * 3.0))
    assert live.search(QUERIES, 3) == before
    live.add(["later"], QUERIES[:1])
    assert (len(live), live.tag, live.dim) == (51, "t.one", DIM)
