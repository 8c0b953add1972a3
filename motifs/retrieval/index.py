"""Nearest neighbours by exact inner product of unit vectors, under text keys.

The interface is small on purpose: a server engine or an approximate index can stand behind the same
six methods when a collection outgrows one machine.
"""

from __future__ import annotations

import io
import json
import os
import zipfile
from typing import TYPE_CHECKING, Any

import faiss
import numpy as np

from motifs.errors import CollectionDamaged, CollectionNotWritable, UnknownName

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    Vectors = NDArray[np.float32]
    Neighbours = list[tuple[str, float]]

FORMAT = 1
UNIT_TOLERANCE = 1e-3
"""How far a vector's length may be from 1."""
DECIMALS = 6
"""Similarities are rounded to this many decimals, below which a sum's order of adding shows."""
TIE = 2e-6
SPARE = 16
"""Neighbours fetched beyond those asked for, so that ties at the edge are settled by key."""


_parameters: Any = faiss.SearchParameters
_selector_of: Any = faiss.IDSelectorBitmap


class VectorIndex:
    """Vectors of one encoder, findable by similarity.

    Parameters
    ----------
    tag: of the encoder; kept in the file and checked on loading.
    dim: length of the vectors.
    """

    def __init__(self, tag: str, dim: int) -> None:
        if dim < 1:
            raise ValueError(f"dim {dim} is below 1")
        self.tag = tag
        self.dim = dim
        self._faiss: Any = faiss.IndexIDMap2(faiss.IndexFlatIP(dim))  # its stubs know only the C++ signatures
        self._number_of: dict[str, int] = {}
        self._key_of: dict[int, str] = {}
        self._next = 0

    def __len__(self) -> int:
        """Count the keys."""
        return len(self._number_of)

    def __contains__(self, key: object) -> bool:
        """Tell whether a key is in the index."""
        return key in self._number_of

    def keys(self) -> list[str]:
        """Every key, sorted."""
        return sorted(self._number_of)

    def add(self, keys: Sequence[str], vectors: Vectors) -> None:
        """Add vectors; a key that is there already gets the new vector.

        Parameters
        ----------
        keys: N texts, each once.
        vectors: (N, dim) float32, rows of unit length.

        Raises
        ------
        ValueError: counts or shapes differ, a key comes twice, or a vector is not finite or not of unit length.
        """
        rows = checked_vectors(vectors, len(keys), self.dim)
        if len(set(keys)) != len(keys):
            raise ValueError("a key comes twice in one call to add")
        self.remove([key for key in keys if key in self._number_of])
        if not keys:
            return
        numbers = np.arange(self._next, self._next + len(keys), dtype=np.int64)
        self._faiss.add_with_ids(rows, numbers)
        self._next += len(keys)
        for key, number in zip(keys, numbers.tolist(), strict=True):
            self._number_of[key] = number
            self._key_of[number] = key

    def remove(self, keys: Collection[str]) -> None:
        """Take vectors out.

        Raises
        ------
        UnknownName: a key is not in the index; then nothing is removed.
        """
        unknown = sorted(key for key in keys if key not in self._number_of)
        if unknown:
            raise UnknownName(f"No vector under {unknown[0]!r} in the index {self.tag!r}; rebuild the index.")
        if not keys:
            return
        numbers = np.array(sorted(self._number_of[key] for key in keys), dtype=np.int64)
        self._faiss.remove_ids(numbers)
        for number in numbers.tolist():
            del self._number_of[self._key_of.pop(number)]

    def vectors(self, keys: Sequence[str]) -> Vectors:
        """Stored vectors of some keys, (N, dim) float32. UnknownName for a key that is not there."""
        rows = np.empty((len(keys), self.dim), np.float32)
        for row, key in enumerate(keys):
            if key not in self._number_of:
                raise UnknownName(f"No vector under {key!r} in the index {self.tag!r}; rebuild the index.")
            rows[row] = self._faiss.reconstruct(self._number_of[key])
        return rows

    def search(
        self,
        queries: Vectors,
        top: int,
        allowed: Collection[str] | None = None,
        excluded: Collection[str] = (),
    ) -> list[Neighbours]:
        """Find the nearest neighbours of each query.

        Parameters
        ----------
        queries: (Q, dim) float32, rows of unit length.
        top: most neighbours a query, >= 1.
        allowed: keys that may be found; None for all. Keys not in the index are ignored.
        excluded: keys that may not be found (the query's own vessel or site, say).

        Returns
        -------
        One list a query of (key, similarity), similarity -1..1 falling, ties in order of key.

        Raises
        ------
        ValueError: top below 1, or a query of wrong shape, not finite or not of unit length.
        """
        if top < 1:
            raise ValueError(f"top {top} is below 1")
        rows = checked_vectors(queries, len(queries), self.dim)
        chosen = self._chosen(allowed, excluded)
        count = len(self) if chosen is None else len(chosen)
        if count == 0 or len(rows) == 0:
            return [[] for _ in range(len(rows))]
        similarities, numbers = self._nearest(rows, chosen, top, count)
        return [self._ranked(*row, top) for row in zip(similarities, numbers, strict=True)]

    def save(self, path: Path) -> None:
        """Write the index so that it is there whole or not at all.

        Raises
        ------
        CollectionNotWritable: no permission or no space.
        """
        keys = self.keys()
        header = json.dumps({"format": FORMAT, "tag": self.tag, "dim": self.dim, "keys": keys})
        buffer = io.BytesIO()
        np.savez(buffer, header=np.frombuffer(header.encode(), np.uint8), vectors=self.vectors(keys))
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
    def load(cls, path: Path, tag: str | None = None, dim: int | None = None) -> VectorIndex:
        """Read an index.

        Parameters
        ----------
        path: as given to save.
        tag, dim: what the index must hold; None for whatever is there.

        Raises
        ------
        CollectionDamaged: missing, not an index, of a newer format, or of another encoder.
        """
        header, vectors = _read(path)
        index = cls(header["tag"], header["dim"])
        for name, wanted in (("tag", tag), ("dim", dim)):
            if wanted is not None and header[name] != wanted:
                raise CollectionDamaged(
                    f"{path} holds {name} {header[name]!r}, not {wanted!r}; delete it to rebuild it."
                )
        try:
            index.add(header["keys"], vectors)
        except ValueError as problem:
            raise CollectionDamaged(f"{path} is damaged ({problem}); delete it to rebuild it.") from problem
        return index

    def _chosen(self, allowed: Collection[str] | None, excluded: Collection[str]) -> NDArray[np.int64] | None:
        """Numbers that may be found, or None for all."""
        if allowed is None and not excluded:
            return None
        keys = set(self._number_of if allowed is None else allowed).difference(excluded)
        return np.array(sorted(self._number_of[key] for key in keys if key in self._number_of), dtype=np.int64)

    def _nearest(
        self, rows: Vectors, chosen: NDArray[np.int64] | None, top: int, count: int
    ) -> tuple[Vectors, NDArray[np.int64]]:
        """Fetch enough neighbours that no tie with the last one asked for is left outside."""
        settings = None if chosen is None else _parameters(sel=self._selector(chosen))
        fetched = min(count, top + SPARE)
        while True:
            similarities, numbers = self._faiss.search(rows, fetched, params=settings)
            last = similarities[:, min(top, fetched) - 1]
            if fetched == count or not (similarities[:, -1] >= last - TIE).any():
                return similarities, numbers
            fetched = min(count, fetched * 4)

    def _selector(self, chosen: NDArray[np.int64]) -> Any:
        is_chosen = np.zeros(self._next, np.uint8)
        is_chosen[chosen] = 1
        return _selector_of(np.packbits(is_chosen, bitorder="little"))

    def _ranked(self, similarities: Vectors, numbers: NDArray[np.int64], top: int) -> Neighbours:
        found = [
            (self._key_of[number], round(min(1.0, max(-1.0, similarity)), DECIMALS))
            for number, similarity in zip(numbers.tolist(), similarities.tolist(), strict=True)
        ]
        return sorted(found, key=lambda pair: (-pair[1], pair[0]))[:top]


def checked_vectors(vectors: Vectors, count: int, dim: int) -> Vectors:
    """Vectors as an index takes them.

    Parameters
    ----------
    vectors: (count, dim), rows of unit length.

    Returns
    -------
    The same, contiguous float32.

    Raises
    ------
    ValueError: another shape, or a row that is not finite or not of unit length.
    """
    rows = np.ascontiguousarray(vectors, dtype=np.float32)
    if rows.size == 0 and count == 0:
        return np.zeros((0, dim), np.float32)
    if rows.shape != (count, dim):
        raise ValueError(f"vectors of shape {rows.shape} where {(count, dim)} is wanted")
    lengths = np.linalg.norm(rows, axis=1)
    bad = np.flatnonzero(~(np.abs(lengths - 1.0) <= UNIT_TOLERANCE))  # NaN is bad too
    if len(bad):
        raise ValueError(f"vector {bad[0]} has length {lengths[bad[0]]:.4g}, not 1")
    return rows


def _read(path: Path) -> tuple[dict[str, Any], Vectors]:
    """Read and check an index file without running anything that is in it."""
    try:
        with path.open("rb") as stream, np.load(stream, allow_pickle=False) as stored:
            header = json.loads(stored["header"].tobytes())
            vectors = stored["vectors"]
        known = header["format"] == FORMAT
        if not (isinstance(header["tag"], str) and isinstance(header["dim"], int) and isinstance(header["keys"], list)):
            raise ValueError("header")
    except FileNotFoundError as problem:
        raise CollectionDamaged(f"{path} is missing; it will be rebuilt from the crops.") from problem
    except (OSError, ValueError, KeyError, TypeError, EOFError, zipfile.BadZipFile) as problem:
        raise CollectionDamaged(f"{path} is no vector index; delete it to rebuild it.") from problem
    if not known:
        raise CollectionDamaged(f"{path} has index format {header['format']!r}, not {FORMAT}; delete it to rebuild it.")
    return header, vectors
