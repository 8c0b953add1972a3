"""An index that goes on answering while it is built anew."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

from motifs.retrieval.large import EXACT_UP_TO, index_of

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

    from motifs.retrieval.interface import NeighbourIndex

    Vectors = NDArray[np.float32]
    Change = tuple[list[str], "Vectors | None"]


class LiveIndex:
    """Vectors of one encoder behind one name; `rebuild` puts a new index in the old one's place in one step.

    Searches take whichever index stands when they begin. What is added or removed while a new index is being built
    goes into the old one at once and into the new one before it takes over, so that nothing is lost.
    """

    def __init__(self, index: NeighbourIndex, *, exact_up_to: int = EXACT_UP_TO) -> None:
        self._index = index
        self._exact_up_to = exact_up_to
        self._lock = threading.RLock()
        self._building = threading.Lock()
        self._missed: list[Change] | None = None

    @property
    def tag(self) -> str:
        """The encoder's."""
        return self._index.tag

    @property
    def dim(self) -> int:
        """Length of the vectors."""
        return self._index.dim

    def __len__(self) -> int:
        """Count the keys."""
        return len(self._index)

    def add(self, keys: Sequence[str], vectors: Vectors) -> None:
        """Add or replace vectors; ValueError as VectorIndex.add."""
        with self._lock:
            self._index.add(keys, vectors)
            if self._missed is not None:
                self._missed.append((list(keys), vectors.copy()))

    def remove(self, keys: Collection[str]) -> None:
        """Take vectors out; a key that is not there is no error, since a rebuild may have left it out already."""
        with self._lock:
            self._index.remove([key for key in keys if key in self._index])
            if self._missed is not None:
                self._missed.append((list(keys), None))

    def vectors(self, keys: Sequence[str]) -> Vectors:
        """Give stored vectors back."""
        with self._lock:
            return self._index.vectors(keys)

    def search(
        self, queries: Vectors, top: int, allowed: Collection[str] | None = None, excluded: Collection[str] = ()
    ) -> list[list[tuple[str, float]]]:
        """Find neighbours; as VectorIndex.search."""
        with self._lock:
            return self._index.search(queries, top, allowed, excluded)

    def save(self, path: Path) -> None:
        """Write the index that stands."""
        with self._lock:
            self._index.save(path)

    def rebuild(self, read: Callable[[], tuple[Sequence[str], Vectors]]) -> None:
        """Build a new index, then let it take over. One at a time; the old one answers meanwhile.

        Parameters
        ----------
        read: gives keys and vectors as they are kept now. It is called after changes have begun to be noted, so that
            what is kept first and added then is in what it gives, or noted, or both.

        Raises
        ------
        ValueError: a vector cannot be in an index; then the old one stays.
        """
        with self._building:
            with self._lock:
                self._missed = []
            try:
                keys, vectors = read()
                fresh = index_of(self.tag, self.dim, keys, vectors, exact_up_to=self._exact_up_to)
                with self._lock:
                    for changed, rows in self._missed:
                        _replay(fresh, changed, rows)
                    self._index = fresh
            finally:
                with self._lock:
                    self._missed = None


def _replay(index: NeighbourIndex, keys: list[str], rows: Vectors | None) -> None:
    if rows is None:
        index.remove([key for key in keys if key in index])
    else:
        index.add(keys, rows)
