"""Nearest neighbours in collections too large to be looked through: approximate search, exact similarities.

Candidates come from faiss: a navigable graph [1]_ or inverted lists [2]_ over vectors coded in 8 bits a number.
Their similarities are then computed from the vectors themselves (kept in 16 bits), so that only which ones are
looked at is approximate. Which structure, and how far it is searched, was chosen by
``python -m tests.retrieval.measure_index``.

References
----------
.. [1] Malkov & Yashunin 2020, "Efficient and robust approximate nearest neighbor search using Hierarchical Navigable
       Small World graphs", TPAMI 42.
.. [2] Jégou, Douze & Schmid 2011, "Product Quantization for Nearest Neighbor Search", TPAMI 33.
"""

from __future__ import annotations

import hashlib
import io
import json
import math
import os
import zipfile
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Literal

import faiss
import numpy as np

from motifs.errors import CollectionDamaged, CollectionNotWritable, UnknownName
from motifs.retrieval.index import DECIMALS, VectorIndex, checked_vectors

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from motifs.retrieval.interface import NeighbourIndex

    Vectors = NDArray[np.float32]
    Numbers = NDArray[np.int64]

FORMAT = 1
EXACT_UP_TO = 200_000
"""Collections of up to so many vectors are looked through one by one."""
FEW = 2_000
"""Where no more than this may be found, they are looked through one by one."""
MOST_REMOVED = 0.25
"""Share of removed vectors from which on the structure is due to be built anew."""

_swig: Any = faiss  # its stubs know only the C++ signatures


@dataclass(frozen=True, slots=True)
class LargePlan:
    """How to build and search.

    kind: graph or lists. links: neighbours a node of the graph has. build_depth, search_depth: candidates kept in view
    while building and searching the graph. probes: share of the lists that are searched. looked_at: candidates whose
    exact similarity is computed, as a multiple of the neighbours asked for.
    """

    kind: Literal["graph", "lists"] = "lists"
    links: int = 32
    build_depth: int = 80
    search_depth: int = 96
    probes: float = 0.01
    looked_at: int = 4


class LargeIndex:
    """Vectors of one encoder, findable by similarity, approximately; methods promise what VectorIndex's do.

    The structure is made by the first add, so that should bring most of the vectors.
    """

    def __init__(self, tag: str, dim: int, plan: LargePlan | None = None) -> None:
        if dim < 1:
            raise ValueError(f"dim {dim} is below 1")
        self.tag, self.dim, self.plan = tag, dim, plan or LargePlan()
        self._faiss: Any = None
        self._rows: NDArray[np.float16] = np.zeros((0, dim), np.float16)
        self._used = 0
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

    @property
    def is_due(self) -> bool:
        """Whether so much was removed that the structure had better be built anew."""
        return self._used > 0 and 1.0 - len(self) / self._used > MOST_REMOVED

    def add(self, keys: Sequence[str], vectors: Vectors) -> None:
        """Add vectors; a key that is there already gets the new vector. ValueError as VectorIndex.add."""
        rows = checked_vectors(vectors, len(keys), self.dim)
        if len(set(keys)) != len(keys):
            raise ValueError("a key comes twice in one call to add")
        self.remove([key for key in keys if key in self._number_of])
        if not keys:
            return
        if self._faiss is None:
            self._faiss = empty_structure(self.plan, self.dim, len(keys))
        if not self._faiss.is_trained:
            self._faiss.train(rows)
        self._faiss.add(rows)
        self._keep(rows)
        for key in keys:
            self._number_of[key] = len(self._keys)
            self._keys.append(key)

    def remove(self, keys: Collection[str]) -> None:
        """Bar vectors from being found; UnknownName for a key that is not there, and then nothing is removed."""
        unknown = sorted(key for key in keys if key not in self._number_of)
        if unknown:
            raise UnknownName(f"No vector under {unknown[0]!r} in the index {self.tag!r}; rebuild the index.")
        for key in keys:
            number = self._number_of.pop(key)
            self._keys[number] = None
            self._is_there[number] = False

    def vectors(self, keys: Sequence[str]) -> Vectors:
        """Stored vectors of some keys, (N, dim) float32, to 3 decimals; UnknownName for a key that is not there."""
        for key in keys:
            if key not in self._number_of:
                raise UnknownName(f"No vector under {key!r} in the index {self.tag!r}; rebuild the index.")
        return self._rows[[self._number_of[key] for key in keys]].astype(np.float32)

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
        if count <= FEW:
            everyone = np.flatnonzero(may)
            return [self._ranked(row, everyone, top) for row in rows]
        found = self._candidates(rows, may, min(count, top * self.plan.looked_at))
        return [self._ranked(row, numbers[numbers >= 0], top) for row, numbers in zip(rows, found, strict=True)]

    def save(self, path: Path) -> None:
        """Write the index so that it is there whole or not at all; CollectionNotWritable otherwise."""
        packed = np.zeros(0, np.uint8) if self._faiss is None else _swig.serialize_index(self._faiss)
        header = {"format": FORMAT, "tag": self.tag, "dim": self.dim, "keys": self._keys, "plan": asdict(self.plan)}
        header |= {"sha256": hashlib.sha256(packed.tobytes()).hexdigest()}
        buffer = io.BytesIO()
        text = np.frombuffer(json.dumps(header).encode(), np.uint8)
        np.savez(buffer, header=text, structure=packed, vectors=self._rows[: self._used])
        draft = path.with_name(path.name + ".part")
        try:
            draft.write_bytes(buffer.getbuffer())
            os.replace(draft, path)
        except OSError as problem:
            draft.unlink(missing_ok=True)
            raise CollectionNotWritable(
                f"{path} cannot be written ({problem.strerror}); free it and retry."
            ) from problem

    @classmethod
    def load(cls, path: Path, tag: str) -> LargeIndex:
        """Read an index of one encoder; CollectionDamaged where it is missing, damaged or of another encoder."""
        try:
            with path.open("rb") as stream, np.load(stream, allow_pickle=False) as stored:
                header = json.loads(stored["header"].tobytes())
                packed, vectors = stored["structure"], stored["vectors"]
            index = cls(header["tag"], header["dim"], LargePlan(**header["plan"]))
            is_whole = hashlib.sha256(packed.tobytes()).hexdigest() == header["sha256"]
            is_whole &= vectors.shape == (len(header["keys"]), index.dim) and header["format"] == FORMAT
        except (OSError, ValueError, KeyError, TypeError, EOFError, zipfile.BadZipFile) as problem:
            raise CollectionDamaged(f"{path} is no vector index; delete it to rebuild it.") from problem
        if not is_whole:
            raise CollectionDamaged(f"{path} is damaged; delete it to rebuild it.")
        if index.tag != tag:
            raise CollectionDamaged(f"{path} holds tag {index.tag!r}, not {tag!r}; delete it to rebuild it.")
        index._faiss = _swig.deserialize_index(packed) if len(packed) else None
        index._rows, index._used, index._keys = vectors, len(vectors), list(header["keys"])
        index._number_of = {key: number for number, key in enumerate(index._keys) if key is not None}
        index._is_there = np.array([key is not None for key in index._keys], np.bool_)
        return index

    def _keep(self, rows: Vectors) -> None:
        """Keep vectors in 16 bits; room grows by halves, so that adding one by one stays cheap."""
        needed = self._used + len(rows)
        if needed > len(self._rows):
            room = max(needed, len(self._rows) * 3 // 2)
            grown = np.empty((room, self.dim), np.float16)
            grown[: self._used] = self._rows[: self._used]
            self._rows = grown
            self._is_there = np.resize(self._is_there, room) if self._used else np.zeros(room, np.bool_)
        self._rows[self._used : needed] = rows
        self._is_there[self._used : needed] = True
        self._used = needed

    def _may_be_found(self, allowed: Collection[str] | None, excluded: Collection[str]) -> NDArray[np.bool_]:
        may = self._is_there[: self._used].copy()
        if allowed is not None:
            may[:] = False
            may[[self._number_of[key] for key in allowed if key in self._number_of]] = True
        may[[self._number_of[key] for key in excluded if key in self._number_of]] = False
        return may

    def _candidates(self, rows: Vectors, may: NDArray[np.bool_], count: int) -> Numbers:
        selector = None if may.all() else _swig.IDSelectorBitmap(np.packbits(may, bitorder="little"))
        if self.plan.kind == "graph":
            settings = _swig.SearchParametersHNSW(efSearch=max(self.plan.search_depth, count), sel=selector)
        else:
            # The fewer may be found, the more lists have to be opened; what is barred there costs next to nothing.
            share = self.plan.probes * len(may) / max(int(np.count_nonzero(may)), 1)
            lists = min(self._faiss.nlist, max(1, round(share * self._faiss.nlist)))
            settings = _swig.SearchParametersIVF(nprobe=lists, sel=selector)
        found: Numbers = self._faiss.search(rows, count, params=settings)[1]
        return found

    def _ranked(self, row: NDArray[np.float32], numbers: Numbers, top: int) -> list[tuple[str, float]]:
        similarities = self._rows[numbers].astype(np.float32) @ row
        found = [
            (self._keys[number] or "", round(min(1.0, max(-1.0, similarity)), DECIMALS))
            for number, similarity in zip(numbers.tolist(), similarities.tolist(), strict=True)
        ]
        return sorted(found, key=lambda pair: (-pair[1], pair[0]))[:top]


def empty_structure(plan: LargePlan, dim: int, count: int) -> Any:
    """An empty structure of faiss for about so many vectors of a length."""
    if plan.kind == "graph":
        graph = _swig.IndexHNSWSQ(dim, _swig.ScalarQuantizer.QT_8bit, plan.links, _swig.METRIC_INNER_PRODUCT)
        graph.hnsw.efConstruction = plan.build_depth
        return graph
    lists = max(1, min(round(4 * math.sqrt(count)), count // 39))
    return _swig.index_factory(dim, f"IVF{lists},SQ8", _swig.METRIC_INNER_PRODUCT)


def index_of(
    tag: str, dim: int, keys: Sequence[str], vectors: Vectors, *, exact_up_to: int = EXACT_UP_TO
) -> NeighbourIndex:
    """Build the index that suits so many vectors: exact up to EXACT_UP_TO, approximate beyond.

    Raises
    ------
    ValueError: as VectorIndex.add.
    """
    index: NeighbourIndex = VectorIndex(tag, dim) if len(keys) <= exact_up_to else LargeIndex(tag, dim)
    index.add(keys, vectors)
    return index
