"""Unit vectors in 16 bits, appended to and picked from: in memory, or in a file that is read where it lies."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import numpy as np

from motifs.errors import CollectionDamaged, CollectionNotWritable

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    Vectors = NDArray[np.float32]
    Numbers = NDArray[np.int64]

LENGTH_TOLERANCE = 0.02
"""How far a stored row's length may be from 1; rounding to 16 bits moves it by less than 0.001."""


class VectorRows:
    """Rows numbered from 0 in the order of adding; a row never changes.

    Parameters
    ----------
    dim: length of a row.
    path: of the file; None for memory. A file that is there is read on from its first `count` rows; what an
        interrupted addition left behind them is cut off.
    count: rows the file must hold at least.

    Raises
    ------
    CollectionDamaged: the file is missing or too short.
    """

    def __init__(self, dim: int, path: Path | None = None, count: int = 0) -> None:
        self.dim, self.path = dim, path
        self._used = count
        self._rows: NDArray[np.float16] = np.zeros((0, dim), np.float16)
        if path is not None and count:
            self._rows = _mapped(path, count, dim)

    def __len__(self) -> int:
        """Count the rows."""
        return self._used

    def append(self, vectors: Vectors) -> None:
        """Add (N, dim) rows; CollectionNotWritable where the file cannot take them."""
        if not len(vectors):
            return
        if self.path is None:
            self._append_in_memory(vectors)
        else:
            self._append_to_file(self.path, vectors)

    def take(self, numbers: Numbers) -> Vectors:
        """Rows by number, (N, dim) float32.

        Raises
        ------
        CollectionDamaged: a row that was kept as a unit vector is none any more.
        """
        found: Vectors = self._rows[numbers].astype(np.float32)
        lengths = np.einsum("nd,nd->n", found, found)
        if not (np.abs(lengths - 1.0) <= 2.0 * LENGTH_TOLERANCE).all():  # NaN is none either
            raise CollectionDamaged(f"{self.path or 'the index'} holds damaged vectors; delete it to rebuild it.")
        return found

    def _append_in_memory(self, vectors: Vectors) -> None:
        """Room grows by halves, so that adding one by one stays cheap."""
        needed = self._used + len(vectors)
        if needed > len(self._rows):
            grown = np.empty((max(needed, len(self._rows) * 3 // 2), self.dim), np.float16)
            grown[: self._used] = self._rows[: self._used]
            self._rows = grown
        self._rows[self._used : needed] = vectors
        self._used = needed

    def _append_to_file(self, path: Path, vectors: Vectors) -> None:
        try:
            with path.open("r+b" if path.exists() else "w+b") as stream:
                stream.truncate(self._used * self.dim * 2)
                stream.seek(0, os.SEEK_END)
                stream.write(np.ascontiguousarray(vectors, np.float16).tobytes())
                stream.flush()
                os.fsync(stream.fileno())
        except OSError as problem:
            raise CollectionNotWritable(
                f"{path} cannot be written ({problem.strerror}); free it and retry."
            ) from problem
        self._used += len(vectors)
        self._rows = _mapped(path, self._used, self.dim)


def _mapped(path: Path, count: int, dim: int) -> NDArray[np.float16]:
    try:
        return np.memmap(path, np.float16, "r", shape=(count, dim))
    except (OSError, ValueError) as problem:
        raise CollectionDamaged(f"{path} is missing or too short; delete its folder to rebuild it.") from problem
