"""Nearest neighbours in collections too large to be looked through: approximate search, exact similarities.

Candidates come from faiss, by their main components [1]_: a navigable graph [2]_, or inverted lists of vectors coded
in 8 bits a number or in product codes [3]_. Their similarities are then computed from the whole vectors (kept in 16
bits, on disk for a collection), so that only which ones are looked at is approximate. Which structure, and how far it
is searched, was chosen by ``python -m tests.retrieval.measure_index``.

References
----------
.. [1] Jégou & Chum 2012, "Negative evidences and co-occurrences in image retrieval: the benefit of PCA and whitening",
       ECCV (here without whitening).
.. [2] Malkov & Yashunin 2020, "Efficient and robust approximate nearest neighbor search using Hierarchical Navigable
       Small World graphs", TPAMI 42.
.. [3] Jégou, Douze & Schmid 2011, "Product Quantization for Nearest Neighbor Search", TPAMI 33.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import faiss
import numpy as np

from motifs.errors import UnknownName
from motifs.retrieval.index import DECIMALS, checked_vectors
from motifs.retrieval.rows import VectorRows

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from numpy.typing import NDArray

    Vectors = NDArray[np.float32]
    Numbers = NDArray[np.int64]

EXACT_UP_TO = 200_000
"""Collections of up to so many vectors are looked through one by one."""
FEW = 2_000
"""Where no more than this may be found, they are looked through one by one."""
MOST_REMOVED = 0.25
"""Share of removed vectors from which on the structure is due to be built anew."""
MOST_GROWTH = 2.0
"""Times the vectors it was trained on that a structure may hold before it is due to be built anew."""
CHUNK = 10_000
"""Rows that are held in memory at a time while a structure is built."""
TRAINED_A_LIST = 39
"""Vectors a list is trained on; what faiss asks for at least."""
MOST_DEEPER = 16.0
"""Times deeper a graph is searched, at most, where only few of its vectors may be found."""
CODE_ROUNDS, CODE_POINTS = 10, 64
"""Rounds that product codes are trained for, and vectors for each of their 256 values."""

_swig: Any = faiss  # its stubs know only the C++ signatures


@dataclass(frozen=True, slots=True)
class LargePlan:
    """How to build and search.

    kind: graph, lists (8 bits a number), flat (lists, 32 bits a number) or codes (lists of product codes). components: main components the structure knows a
    vector by; 0 for all numbers. links: neighbours a node of the graph has. build_depth, search_depth: candidates kept
    in view while building and searching the graph. probes: share of the lists that are searched. code_bytes: of a
    product code. looked_at: candidates whose exact similarity is computed, as a multiple of the neighbours asked for.
    trained_on: most vectors it is trained on.
    """

    kind: Literal["graph", "lists", "flat", "codes"] = "graph"
    components: int = 256
    links: int = 32
    build_depth: int = 80
    search_depth: int = 200
    probes: float = 0.01
    code_bytes: int = 64
    looked_at: int = 10
    trained_on: int = 100_000


class LargeIndex:
    """Vectors of one encoder, findable by similarity, approximately; methods promise what VectorIndex's do.

    Parameters
    ----------
    tag, dim: of the encoder.
    plan: None for the measured one.
    rows: where the vectors lie; None for memory. Rows that are there already get their keys by `restore`.
    """

    def __init__(self, tag: str, dim: int, plan: LargePlan | None = None, rows: VectorRows | None = None) -> None:
        if dim < 1:
            raise ValueError(f"dim {dim} is below 1")
        self.tag, self.dim, self.plan = tag, dim, plan or LargePlan()
        self.rows = rows if rows is not None else VectorRows(dim)
        self._structure: Any = None
        self._trained_on = 0
        self._keys: list[str | None] = []
        self._is_there: NDArray[np.bool_] = np.zeros(0, np.bool_)
        self._number_of: dict[str, int] = {}

    def __len__(self) -> int:
        """Count the keys."""
        return len(self._number_of)

    def __contains__(self, key: object) -> bool:
        """Tell whether a key is in the index."""
        return key in self._number_of

    def keys(self) -> list[str]:
        """Every key, sorted."""
        return sorted(self._number_of)

    def numbers(self) -> dict[str, int]:
        """Row of every key, in the order of adding; a copy."""
        return dict(self._number_of)

    @property
    def key_of_row(self) -> tuple[str | None, ...]:
        """Key of every row, None where it was removed."""
        return tuple(self._keys)

    @property
    def is_due(self) -> bool:
        """Whether so much was removed or added that the structure had better be built anew."""
        used = len(self._keys)
        grown = self._structure is not None and used > MOST_GROWTH * self._trained_on
        return grown or (used > FEW and 1.0 - len(self) / used > MOST_REMOVED)

    def add(self, keys: Sequence[str], vectors: Vectors) -> None:
        """Add vectors; a key that is there already gets the new vector. ValueError as VectorIndex.add."""
        rows = checked_vectors(vectors, len(keys), self.dim)
        if len(set(keys)) != len(keys):
            raise ValueError("a key comes twice in one call to add")
        if not keys:
            return
        self.remove([key for key in keys if key in self._number_of])
        self.rows.append(rows)
        if self._structure is not None:
            self._structure.add(rows)
        self._is_there = np.append(self._is_there, np.ones(len(keys), np.bool_))
        for key in keys:
            self._number_of[key] = len(self._keys)
            self._keys.append(key)

    def build(self) -> None:
        """Make the structure over all rows that stand now; until then, and below FEW rows, all are looked through."""
        used = len(self._keys)
        if used <= FEW:
            self._structure = None
            return
        structure = empty_structure(self.plan, self.dim, used)
        sample = np.sort(np.random.default_rng(0).permutation(used)[: self._sample_size(used)])
        structure.train(self.rows.take(sample))
        for numbers in _chunks(used):
            structure.add(self.rows.take(numbers))
        self._structure, self._trained_on = structure, used

    def remove(self, keys: Collection[str]) -> None:
        """Bar vectors from being found; UnknownName for a key that is not there, and then nothing is removed."""
        self._check_known(keys)
        for key in keys:
            number = self._number_of.pop(key)
            self._keys[number] = None
            self._is_there[number] = False

    def vectors(self, keys: Sequence[str]) -> Vectors:
        """Stored vectors of some keys, (N, dim) float32, to 3 decimals; UnknownName for a key that is not there."""
        self._check_known(keys)
        return self.rows.take(np.array([self._number_of[key] for key in keys], np.int64))

    def search(
        self, queries: Vectors, top: int, allowed: Collection[str] | None = None, excluded: Collection[str] = ()
    ) -> list[list[tuple[str, float]]]:
        """Find neighbours, most of the nearest among them; parameters, result and errors as VectorIndex.search."""
        if top < 1:
            raise ValueError(f"top {top} is below 1")
        rows = checked_vectors(queries, len(queries), self.dim)
        may = self._may_be_found(allowed, excluded)
        count = int(np.count_nonzero(may))
        if not count or not len(rows):
            return [[] for _ in rows]
        if count <= FEW or self._structure is None:
            return self._looked_through(rows, np.flatnonzero(may), top)
        found = self._candidates(rows, may, min(count, top * self.plan.looked_at))
        return [self._ranked(row, numbers[numbers >= 0], top) for row, numbers in zip(rows, found, strict=True)]

    def packed(self) -> NDArray[np.uint8]:
        """The structure as bytes; none below FEW rows."""
        if self._structure is None:
            return np.zeros(0, np.uint8)
        found: NDArray[np.uint8] = _swig.serialize_index(self._structure)
        return found

    def restore(self, key_of_row: Sequence[str | None], packed: NDArray[np.uint8], trained_on: int) -> None:
        """Take up what was kept: keys of the rows, the structure's bytes, and how many vectors it was trained on.

        Raises
        ------
        ValueError: keys, rows and structure do not fit.
        """
        try:
            structure = _swig.deserialize_index(packed) if len(packed) else None
        except RuntimeError as problem:  # faiss's own for bytes that are no structure
            raise ValueError("the structure cannot be read") from problem
        held = len(key_of_row) if structure is None else structure.ntotal
        if not len(key_of_row) == len(self.rows) == held or (structure is not None and structure.d != self.dim):
            raise ValueError("keys, rows and structure do not fit")
        self._structure, self._trained_on, self._keys = structure, trained_on, list(key_of_row)
        self._is_there = np.array([key is not None for key in self._keys], np.bool_)
        self._number_of = {key: number for number, key in enumerate(self._keys) if key is not None}

    @property
    def trained_on(self) -> int:
        """How many vectors stood when the structure was made; 0 without one."""
        return self._trained_on

    def _sample_size(self, used: int) -> int:
        lists = _list_count(used) if self.plan.kind != "graph" else 0
        return min(used, max(self.plan.trained_on, TRAINED_A_LIST * lists))

    def _check_known(self, keys: Collection[str]) -> None:
        unknown = sorted(key for key in keys if key not in self._number_of)
        if unknown:
            raise UnknownName(f"No vector under {unknown[0]!r} in the index {self.tag!r}; rebuild the index.")

    def _may_be_found(self, allowed: Collection[str] | None, excluded: Collection[str]) -> NDArray[np.bool_]:
        numbers = self._number_of
        may = self._is_there.copy()
        if allowed is not None:
            may[:] = False
            may[[numbers[key] for key in allowed if key in numbers]] = True
        may[[numbers[key] for key in excluded if key in numbers]] = False
        return may

    def _candidates(self, rows: Vectors, may: NDArray[np.bool_], count: int) -> Numbers:
        selector = None if may.all() else _swig.IDSelectorBitmap(np.packbits(may, bitorder="little"))
        settings = search_settings(
            self.plan, self._structure, count, selector, len(may) / max(int(np.count_nonzero(may)), 1)
        )
        found: Numbers = self._structure.search(rows, count, params=settings)[1]
        return found

    def _looked_through(self, rows: Vectors, numbers: Numbers, top: int) -> list[list[tuple[str, float]]]:
        """Exactly, a chunk at a time."""
        best: list[list[tuple[str, float]]] = [[] for _ in rows]
        for start in range(0, len(numbers), CHUNK):
            part = numbers[start : start + CHUNK]
            similarities = rows @ self.rows.take(part).T
            for row, values in enumerate(similarities):
                best[row] = _first(best[row] + self._named(part, values), top)
        return best

    def _ranked(self, row: NDArray[np.float32], numbers: Numbers, top: int) -> list[tuple[str, float]]:
        return _first(self._named(numbers, self.rows.take(numbers) @ row), top)

    def _named(self, numbers: Numbers, similarities: NDArray[np.float32]) -> list[tuple[str, float]]:
        return [
            (self._keys[number] or "", round(min(1.0, max(-1.0, similarity)), DECIMALS))
            for number, similarity in zip(numbers.tolist(), similarities.tolist(), strict=True)
        ]


def _first(found: list[tuple[str, float]], top: int) -> list[tuple[str, float]]:
    return sorted(found, key=lambda pair: (-pair[1], pair[0]))[:top]


def _chunks(count: int) -> Iterator[Numbers]:
    for start in range(0, count, CHUNK):
        yield np.arange(start, min(start + CHUNK, count), dtype=np.int64)


def _list_count(count: int) -> int:
    return max(1, min(round(4 * math.sqrt(count)), count // TRAINED_A_LIST))


def empty_structure(plan: LargePlan, dim: int, count: int) -> Any:
    """An empty structure of faiss for about so many vectors of a length."""
    components = min(plan.components, dim)
    kept = components or dim
    if plan.kind == "graph":
        inner = _swig.IndexHNSWSQ(kept, _swig.ScalarQuantizer.QT_8bit, plan.links, _swig.METRIC_INNER_PRODUCT)
        inner.hnsw.efConstruction = plan.build_depth
    else:
        coded = {"lists": "SQ8", "flat": "Flat", "codes": f"PQ{plan.code_bytes}"}[plan.kind]
        inner = _swig.index_factory(kept, f"IVF{_list_count(count)},{coded}", _swig.METRIC_INNER_PRODUCT)
        if plan.kind == "codes":  # faiss's own settings train codes for many times as long
            inner.pq.cp.niter, inner.pq.cp.max_points_per_centroid = CODE_ROUNDS, CODE_POINTS
    if not components or components == dim:
        return inner
    return _swig.IndexPreTransform(_swig.PCAMatrix(dim, components), inner)  # it keeps both alive


def search_settings(plan: LargePlan, structure: Any, count: int, selector: Any = None, rarity: float = 1.0) -> Any:
    """What faiss is asked with for so many candidates.

    Parameters
    ----------
    selector: of those that may be found; None for all. rarity: all over those that may be found, >= 1: the fewer they
        are, the more lists are opened, and the deeper a graph is searched.
    """
    if plan.kind == "graph":
        depth = round(max(plan.search_depth, count) * min(rarity, MOST_DEEPER))
        inner = _swig.SearchParametersHNSW(efSearch=depth, sel=selector)
    else:
        lists = _swig.extract_index_ivf(structure).nlist
        opened = min(lists, max(1, round(plan.probes * rarity * lists)))
        inner = _swig.SearchParametersIVF(nprobe=opened, sel=selector)
    if isinstance(structure, _swig.IndexPreTransform):
        return _swig.SearchParametersPreTransform(index_params=inner)
    return inner
