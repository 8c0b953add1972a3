"""The sherds of a collection made ready to be compared: encoded, cleared of their mean, averaged inside their lots, indexed.

What was made ready is kept in memory for the next question, under the content keys of all sherds and the encoder's
fingerprint: a redrawn outline, another scale, a new or a dropped sherd or another network makes it anew, so that
a stale or a foreign vector cannot be met. Beyond EXACT_UP_TO sherds the vectors lie in an index on disk
(large_collections.py).
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

import numpy as np

from motifs.embedding.cards import MODELS_FOLDER
from motifs.retrieval import VectorIndex, averaged_with, centred
from motifs.retrieval.large import EXACT_UP_TO
from motifs.retrieval.likeness import SUFFIX, load_likeness
from motifs.workflows.large_collections import NumberedIndex, indexed_on_disk
from motifs.workflows.vectors import ensure_vectors, vector_key

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue, SherdHead
    from motifs.embedding import EncoderSpec
    from motifs.retrieval import NeighbourIndex
    from motifs.retrieval.likeness import Likeness
    from motifs.workflows import Progress

    Vectors = NDArray[np.float32]

WHOLE_SAY = 0.5
"""Weight of the whole sherd beside a part of it in a box."""
KEPT = 2
"""Collections kept ready in memory."""


@dataclass(frozen=True, slots=True)
class ComparedSherds:
    """Every kept sherd of a collection, ready.

    index: of vectors without the mean, averaged inside the lot, under catalogue numbers. likeness: None where the
    encoder has no fitted curves.
    """

    sherds: dict[str, SherdHead]
    index: NeighbourIndex
    likeness: Likeness | None

    def vector_of(self, numbers: Sequence[str]) -> NDArray[np.float32]:
        """One unit vector for one sherd or several together: the mean of theirs."""
        return _unit(self.vectors_of(numbers).mean(axis=0))

    def vectors_of(self, numbers: Sequence[str]) -> Vectors:
        """Averaged vectors of sherds, (N, dim) float32 unit rows."""
        return self.index.vectors(numbers)

    def lot_of(self, number: str) -> list[SherdHead]:
        """The sherds of a sherd's lot, itself among them."""
        lot = self.sherds[number].lot
        return [sherd for sherd in self.sherds.values() if sherd.lot == lot]

    def vector_of_detail(self, number: str, raw: NDArray[np.float32], lot: Vectors) -> NDArray[np.float32]:
        """Unit vector of a part of a sherd, averaged with the most alike sherds of its lot, and its whole sherd with less say.

        raw: (dim,) as encoded; lot: (N, dim), those of `lot_of`, as encoded. A part alone shows little; with this much of the whole it ranked as well as the whole sherd on
        tune seeds of the second renderer, where it is told only what a whole sherd shows.
        """
        detail = centred(raw[None], self.mean)
        members = np.concatenate([detail, centred(lot, self.mean)])
        part = averaged_with(detail, members)[0]
        return _unit(part + WHOLE_SAY * self.vectors_of([number])[0])

    @property
    def mean(self) -> NDArray[np.float64] | None:
        """What is taken away from every vector; None: nothing."""
        return None if self.likeness is None else np.array(self.likeness.mean)


_ready: OrderedDict[str, ComparedSherds] = OrderedDict()
_lock = threading.Lock()


def compared_sherds(cat: Catalogue, spec: EncoderSpec, *, by: str, progress: Progress | None = None) -> ComparedSherds:
    """Make every kept sherd ready, encoding what has no vector yet."""
    sherds = cat.sherd_heads()
    signature = _signature(cat.folder, spec, sherds)
    with _lock:
        if signature in _ready and _is_whole(_ready[signature].index):
            _ready.move_to_end(signature)
            return _ready[signature]
    made = _made_ready(cat, spec, sherds, by=by, progress=progress)
    with _lock:
        _ready[signature] = made
        while len(_ready) > KEPT:
            _ready.popitem(last=False)
    return made


def _is_whole(index: NeighbourIndex) -> bool:
    return not isinstance(index, NumberedIndex) or index.is_whole


def forget_compared() -> None:
    """Drop what is kept in memory."""
    with _lock:
        _ready.clear()


def likeness_of(spec: EncoderSpec, folder: Path = MODELS_FOLDER) -> Likeness | None:
    """The curves kept beside the encoder's weights, None where there are none for exactly this encoder."""
    if not spec.weights.startswith("models/"):
        return None
    return load_likeness(folder / f"{PurePosixPath(spec.weights).stem}{SUFFIX}", vector_key(spec))


def _signature(folder: Path, spec: EncoderSpec, sherds: Sequence[SherdHead]) -> str:
    digest = hashlib.sha256(f"{folder}\n{vector_key(spec)}\n".encode())
    for sherd in sherds:
        digest.update(f"{sherd.number}\t{sherd.lot}\t{sherd.site}\t{sherd.content_key}\n".encode())
    return digest.hexdigest()


def _made_ready(
    cat: Catalogue, spec: EncoderSpec, sherds: Sequence[SherdHead], *, by: str, progress: Progress | None
) -> ComparedSherds:
    likeness = likeness_of(spec)
    mean = None if likeness is None else np.array(likeness.mean)
    index: NeighbourIndex
    if len(sherds) > EXACT_UP_TO:
        index = indexed_on_disk(cat, spec, sherds, mean, by=by, progress=progress)
    else:
        index = _in_memory(cat, spec, sherds, mean, by=by, progress=progress)
    return ComparedSherds({sherd.number: sherd for sherd in sherds}, index, likeness)


def _in_memory(
    cat: Catalogue,
    spec: EncoderSpec,
    sherds: Sequence[SherdHead],
    mean: NDArray[np.float64] | None,
    *,
    by: str,
    progress: Progress | None,
) -> VectorIndex:
    index = VectorIndex(vector_key(spec), spec.dim)
    if sherds:
        vectors = ensure_vectors(cat, spec, sherds, by=by, progress=progress)
        averaged = _averaged(vectors, sherds, mean)
        del vectors
        index.add([sherd.number for sherd in sherds], averaged)
    return index


def _averaged(vectors: dict[str, Vectors], sherds: Sequence[SherdHead], mean: NDArray[np.float64] | None) -> Vectors:
    """Vectors without the mean, averaged inside their lots, (N, dim), lot by lot: of 50,000 sherds each copy is half a gigabyte."""
    of_lot: dict[str, list[int]] = {}
    for row, sherd in enumerate(sherds):
        of_lot.setdefault(sherd.lot, []).append(row)
    found = np.empty((len(sherds), len(vectors[sherds[0].number])), np.float32)
    for rows in of_lot.values():
        cleared = centred(np.stack([vectors[sherds[row].number] for row in rows]), mean)
        found[rows] = averaged_with(cleared, cleared)
    return found


def _unit(vector: NDArray[np.float32]) -> NDArray[np.float32]:
    length = float(np.linalg.norm(vector))
    found: NDArray[np.float32] = (vector / length if length > 1e-9 else vector).astype(np.float32)
    return found
