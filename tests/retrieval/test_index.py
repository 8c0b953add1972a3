"""The vector index: against brute force, its invariants, its file, and what it refuses."""

from __future__ import annotations

import io
import json
from typing import TYPE_CHECKING

import faiss
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from motifs.errors import CollectionDamaged, CollectionNotWritable, UnknownName
from motifs.retrieval import NeighbourIndex, VectorIndex

if TYPE_CHECKING:
    from pathlib import Path

TAG = "test.one"


def unit(rng: np.random.Generator, count: int, dim: int) -> np.ndarray:
    vectors = rng.normal(size=(count, dim)).astype(np.float32)
    return vectors / np.linalg.norm(vectors, axis=1, keepdims=True)


def filled(vectors: np.ndarray, keys: list[str] | None = None) -> VectorIndex:
    index = VectorIndex(TAG, vectors.shape[1])
    index.add(keys or [f"k{i:03d}" for i in range(len(vectors))], vectors)
    return index


def test_search_equals_brute_force() -> None:
    rng = np.random.default_rng(5)
    vectors, queries = unit(rng, 500, 24), unit(rng, 40, 24)
    found = filled(vectors).search(queries, 10)
    exact = queries.astype(np.float64) @ vectors.astype(np.float64).T
    for query, neighbours in enumerate(found):
        order = np.argsort(-exact[query])[:10]
        assert [key for key, _ in neighbours] == [f"k{i:03d}" for i in order]
        np.testing.assert_allclose([value for _, value in neighbours], exact[query, order], atol=2e-6)


def test_search_equals_faiss_called_directly() -> None:
    rng = np.random.default_rng(6)
    vectors, queries = unit(rng, 200, 16), unit(rng, 5, 16)
    bare = faiss.IndexFlatIP(16)
    bare.add(vectors)
    _, positions = bare.search(queries, 7)
    assert [[int(key[1:]) for key, _ in row] for row in filled(vectors).search(queries, 7)] == positions.tolist()


def test_allowed_and_excluded_equal_brute_force() -> None:
    rng = np.random.default_rng(7)
    vectors, queries = unit(rng, 120, 8), unit(rng, 6, 8)
    index = filled(vectors)
    for _ in range(20):
        allowed = {f"k{i:03d}" for i in rng.choice(140, 60, replace=False)}
        excluded = {f"k{i:03d}" for i in rng.choice(120, 20, replace=False)}
        permitted = [i for i in range(120) if f"k{i:03d}" in allowed - excluded]
        exact = queries.astype(np.float64) @ vectors[permitted].astype(np.float64).T
        for row, neighbours in zip(exact, index.search(queries, 5, allowed, excluded), strict=True):
            assert [key for key, _ in neighbours] == [f"k{permitted[i]:03d}" for i in np.argsort(-row)[:5]]


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 60), st.data())
def test_a_vector_is_its_own_nearest_neighbour_and_order_does_not_matter(
    seed: int, count: int, draw: st.DataObject
) -> None:
    vectors = unit(np.random.default_rng(seed), count, 12)
    keys = [f"k{i:03d}" for i in range(count)]
    order = draw.draw(st.permutations(range(count)))
    straight, shuffled = filled(vectors), filled(vectors[order], [keys[i] for i in order])
    found = straight.search(vectors, 4)
    assert [row[0][0] for row in found] == keys
    assert all(row[0][1] == pytest.approx(1.0, abs=1e-5) for row in found)
    assert [[key for key, _ in row] for row in shuffled.search(vectors, 4)] == [
        [key for key, _ in row] for row in found
    ]


def test_ties_are_settled_by_key_even_when_there_are_many() -> None:
    rng = np.random.default_rng(8)
    same = unit(rng, 1, 8)
    keys = [f"t{i:03d}" for i in rng.permutation(100)]
    index = filled(np.repeat(same, 100, axis=0), keys)
    index.add(["far"], -same)
    assert [key for key, _ in index.search(same, 5)[0]] == ["t000", "t001", "t002", "t003", "t004"]
    assert index.search(same, 101)[0][-1] == ("far", -1.0)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 10_000), st.lists(st.text(max_size=12), unique=True, max_size=20))
def test_saved_and_reloaded_gives_the_same_neighbours(tmp_path: Path, seed: int, keys: list[str]) -> None:
    keys = [key for key in keys if key.encode("utf-8", "ignore").decode() == key]
    rng = np.random.default_rng(seed)
    index = VectorIndex(TAG, 6)
    if keys:
        index.add(keys, unit(rng, len(keys), 6))
    index.save(tmp_path / "vectors.index")
    again = VectorIndex.load(tmp_path / "vectors.index", TAG, 6)
    queries = unit(rng, 3, 6)
    assert again.keys() == index.keys()
    assert again.search(queries, 5) == index.search(queries, 5)
    assert [path.name for path in tmp_path.iterdir()] == ["vectors.index"]


def test_add_replaces_and_remove_forgets() -> None:
    rng = np.random.default_rng(9)
    first, second = unit(rng, 3, 8), unit(rng, 1, 8)
    index = filled(first)
    index.add(["k001"], second)
    assert len(index) == 3
    np.testing.assert_array_equal(index.vectors(["k001"]), second)
    index.remove(["k001", "k000"])
    assert index.keys() == ["k002"]
    assert "k001" not in index
    assert [key for key, _ in index.search(first, 3)[0]] == ["k002"]
    index.remove(["k002"])
    assert index.search(first, 3) == [[], [], []]


def test_an_unknown_key_is_refused_and_nothing_is_removed() -> None:
    index = filled(unit(np.random.default_rng(10), 2, 4))
    with pytest.raises(UnknownName, match="'nowhere'"):
        index.remove(["k000", "nowhere"])
    with pytest.raises(UnknownName, match="'nowhere'"):
        index.vectors(["nowhere"])
    assert index.keys() == ["k000", "k001"]


def test_empty_index_and_empty_input() -> None:
    index: NeighbourIndex = VectorIndex(TAG, 4)
    index.add([], np.zeros((0, 4), np.float32))
    index.remove([])
    assert len(index) == 0
    assert index.search(unit(np.random.default_rng(11), 2, 4), 3) == [[], []]
    assert index.search(np.zeros((0, 4), np.float32), 3) == []
    index.add(["only"], unit(np.random.default_rng(11), 1, 4))
    assert index.search(unit(np.random.default_rng(12), 1, 4), 3, allowed=set()) == [[]]
    assert index.search(unit(np.random.default_rng(12), 1, 4), 3, excluded={"only", "stranger"}) == [[]]


@pytest.mark.parametrize(
    ("vector", "message"),
    [
        ([np.nan, 0, 0, 0], "length nan"),
        ([np.inf, 0, 0, 0], "length inf"),
        ([0, 0, 0, 0], "length 0"),
        ([0.5, 0, 0, 0], "length 0.5"),
        ([1, 0, 0], "shape"),
    ],
)
def test_vectors_that_are_no_unit_vectors_are_refused(vector: list[float], message: str) -> None:
    index = filled(unit(np.random.default_rng(13), 2, 4))
    hostile = np.array([vector], np.float32)
    with pytest.raises(ValueError, match=message):
        index.add(["new"], hostile)
    with pytest.raises(ValueError, match=message):
        index.search(hostile, 1)
    assert index.keys() == ["k000", "k001"]


def test_other_mistakes_are_refused() -> None:
    vectors = unit(np.random.default_rng(14), 2, 4)
    index = VectorIndex(TAG, 4)
    with pytest.raises(ValueError, match="twice"):
        index.add(["a", "a"], vectors)
    with pytest.raises(ValueError, match="shape"):
        index.add(["a"], vectors)
    with pytest.raises(ValueError, match="below 1"):
        index.search(vectors, 0)
    with pytest.raises(ValueError, match="below 1"):
        VectorIndex(TAG, 0)


def test_an_index_of_another_encoder_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "vectors.index"
    filled(unit(np.random.default_rng(15), 2, 4)).save(path)
    with pytest.raises(CollectionDamaged, match=r"holds tag 'test\.one', not 'test\.two'"):
        VectorIndex.load(path, "test.two", 4)
    with pytest.raises(CollectionDamaged, match="holds dim 4, not 5"):
        VectorIndex.load(path, TAG, 5)
    assert VectorIndex.load(path).tag == TAG


def _npz(**arrays: np.ndarray) -> bytes:
    buffer = io.BytesIO()
    np.savez(buffer, **arrays)  # type: ignore[arg-type]
    return buffer.getvalue()


def _header(**entries: object) -> np.ndarray:
    return np.frombuffer(json.dumps(entries).encode(), np.uint8)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (None, "missing"),
        (b"", "no vector index"),
        (b"PK\x03\x04 cut short", "no vector index"),
        (_npz(header=_header(format=1, tag=TAG, dim=2, keys=["a"])), "no vector index"),
        (_npz(header=np.array([{"a": 1}], dtype=object), vectors=np.zeros((1, 2))), "no vector index"),
        (_npz(header=_header(format=9, tag=TAG, dim=2, keys=[]), vectors=np.zeros((0, 2))), "format 9"),
        (_npz(header=_header(format=1, tag=TAG, dim=2, keys=["a"]), vectors=np.zeros((1, 2))), "damaged"),
        (_npz(header=_header(format=1, tag=TAG, dim="2", keys=["a"]), vectors=np.zeros((1, 2))), "no vector index"),
    ],
)
def test_a_damaged_file_gives_one_clear_line(tmp_path: Path, content: bytes | None, message: str) -> None:
    path = tmp_path / "vectors.index"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(CollectionDamaged, match=message) as caught:
        VectorIndex.load(path)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_every_truncation_of_a_file_is_noticed(tmp_path: Path) -> None:
    path = tmp_path / "vectors.index"
    filled(unit(np.random.default_rng(16), 3, 4)).save(path)
    whole = path.read_bytes()
    for length in range(0, len(whole), 37):
        path.write_bytes(whole[:length])
        with pytest.raises(CollectionDamaged):
            VectorIndex.load(path)


def test_a_failed_save_leaves_the_old_index(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "vectors.index"
    filled(unit(np.random.default_rng(17), 2, 4)).save(path)
    before = path.read_bytes()

    def no_space(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("motifs.retrieval.index.os.replace", no_space)
    with pytest.raises(CollectionNotWritable, match="No space left on device"):
        filled(unit(np.random.default_rng(18), 5, 4)).save(path)
    assert path.read_bytes() == before
    assert [item.name for item in tmp_path.iterdir()] == ["vectors.index"]
