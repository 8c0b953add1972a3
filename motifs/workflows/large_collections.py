"""The vectors of a collection too large to be looked through: indexed in a folder under derived/.

Every vector lies there under a key made of all it depends on: the sherd's number and content, the content of every
sherd it was averaged with, the mean that was taken away, and the encoder's fingerprint (which the folder bears too).
What a search may find are the keys of the sherds as they are now; whatever else the folder holds cannot be found, and
goes when the index is next built anew. A new sherd, a redrawn outline or one moved to another lot adds the vectors of
the lots it touches, and nothing is built anew for it.
"""

from __future__ import annotations

import hashlib
import threading
from typing import TYPE_CHECKING
from urllib.parse import quote

import numpy as np

from motifs.retrieval import LotAverage, averaged_in_lots, centred
from motifs.retrieval.large import MOST_REMOVED
from motifs.retrieval.live import kept_index
from motifs.workflows.vectors import ensure_vectors, vector_key

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue, SherdHead
    from motifs.embedding import EncoderSpec
    from motifs.retrieval.live import LiveIndex
    from motifs.workflows import Progress

    Vectors = NDArray[np.float32]

INDEXES = "indexes"
AT_ONCE = 20_000
"""Sherds whose vectors are held in memory at a time."""
AVERAGING = 1
"""Raised when the way vectors are averaged inside lots changes otherwise than by its settings."""


class NumberedIndex:
    """An index under keys of content, asked by catalogue numbers, for the sherds as they were when it was made."""

    def __init__(self, live: LiveIndex, key_of: Mapping[str, str]) -> None:
        self.tag, self.dim = live.tag, live.dim
        self._live = live
        self._key_of = dict(key_of)
        self._number_of = {key: number for number, key in key_of.items()}
        self._generation = live.generation

    @property
    def is_whole(self) -> bool:
        """Whether every sherd's vector still lies on disk; one of another view of the collection may have had to go."""
        if self._live.generation != self._generation:
            if not all(key in self._live for key in self._number_of):
                return False
            self._generation = self._live.generation
        return True

    def __len__(self) -> int:
        """Count the numbers."""
        return len(self._key_of)

    def __contains__(self, key: object) -> bool:
        """Tell whether a number is there."""
        return key in self._key_of

    def vectors(self, keys: Sequence[str]) -> Vectors:
        """Vectors by number, (N, dim) float32 unit rows, to 3 decimals."""
        found = self._live.vectors([self._key_of[number] for number in keys])
        unit: Vectors = found / np.linalg.norm(found, axis=1, keepdims=True)
        return unit

    def search(
        self, queries: Vectors, top: int, allowed: Collection[str] | None = None, excluded: Collection[str] = ()
    ) -> list[list[tuple[str, float]]]:
        """Find (number, similarity), nearest first, among the sherds as they are now."""
        numbers = self._key_of if allowed is None else (number for number in allowed if number in self._key_of)
        barred = set(excluded)
        may = [self._key_of[number] for number in numbers if number not in barred]
        found = self._live.search(queries, top, may)
        return [[(self._number_of[key], similarity) for key, similarity in row] for row in found]


def indexed_on_disk(
    cat: Catalogue,
    spec: EncoderSpec,
    sherds: Sequence[SherdHead],
    mean: NDArray[np.float64] | None,
    *,
    by: str,
    progress: Progress | None = None,
) -> NumberedIndex:
    """Bring the index on disk up to the sherds as they are now; where it is due it is built anew beside the answer.

    Parameters
    ----------
    sherds : all that may be compared, whole lots.
    mean : (dim,) taken away from every vector; None for nothing.
    """
    tag = vector_key(spec)
    live = kept_index(cat.derived_folder / INDEXES / quote(tag, safe=""), tag, spec.dim)
    key_of = keys_of(sherds, mean)
    live.add_batches(_absent(cat, spec, live, sherds, key_of, mean, by=by, progress=progress))
    wanted = set(key_of.values())
    if live.is_due or len(live) * (1.0 - MOST_REMOVED) > len(wanted):
        _rebuild_beside(live, wanted)
    return NumberedIndex(live, key_of)


def keys_of(sherds: Sequence[SherdHead], mean: NDArray[np.float64] | None) -> dict[str, str]:
    """What each sherd's averaged vector depends on, as one key by number."""
    how = hashlib.sha256(f"{AVERAGING}\n{LotAverage()}\n".encode())
    how.update(b"" if mean is None else np.ascontiguousarray(mean, np.float64).tobytes())
    members = _by_lot(sherds)
    found = {}
    for lot in members.values():
        digest = how.copy()
        digest.update("\n".join(sorted(sherd.content_key for sherd in lot)).encode())
        for sherd in lot:
            own = digest.copy()
            own.update(f"\n\n{sherd.number}\n{sherd.content_key}".encode())
            found[sherd.number] = own.hexdigest()[:32]
    return found


def _by_lot(sherds: Sequence[SherdHead]) -> dict[str, list[SherdHead]]:
    members: dict[str, list[SherdHead]] = {}
    for sherd in sherds:
        members.setdefault(sherd.lot, []).append(sherd)
    return members


def _absent(
    cat: Catalogue,
    spec: EncoderSpec,
    live: LiveIndex,
    sherds: Sequence[SherdHead],
    key_of: Mapping[str, str],
    mean: NDArray[np.float64] | None,
    *,
    by: str,
    progress: Progress | None,
) -> Iterator[tuple[list[str], Vectors]]:
    """Keys and averaged vectors of lots that the index lacks, some lots at a time."""
    lots = [lot for lot in _by_lot(sherds).values() if any(key_of[sherd.number] not in live for sherd in lot)]
    for group in _groups(lots):
        vectors = ensure_vectors(cat, spec, group, by=by, progress=progress)
        raw = np.stack([vectors[sherd.number] for sherd in group])
        averaged = averaged_in_lots(centred(raw, mean), [sherd.lot for sherd in group])
        yield [key_of[sherd.number] for sherd in group], averaged


def _groups(lots: Sequence[list[SherdHead]]) -> Iterator[list[SherdHead]]:
    group: list[SherdHead] = []
    for lot in lots:
        group += lot
        if len(group) >= AT_ONCE:
            yield group
            group = []
    if group:
        yield group


def _rebuild_beside(live: LiveIndex, wanted: Collection[str]) -> None:
    """Build anew in a thread of its own, one at a time; searches go on meanwhile."""
    with _starting:
        if any(thread.is_alive() for thread in _rebuilding.get(str(live.folder), [])):
            return
        thread = threading.Thread(target=live.rebuild, args=(wanted,), name="index built anew")
        _rebuilding[str(live.folder)] = [thread]
        thread.start()


def wait_for_rebuilding() -> None:
    """Return when no index is being built anew."""
    for threads in list(_rebuilding.values()):
        for thread in threads:
            thread.join()


_rebuilding: dict[str, list[threading.Thread]] = {}
_starting = threading.Lock()
