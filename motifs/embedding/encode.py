"""Sherds in, unit vectors out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motifs.embedding.views import View, views_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    from motifs.embedding.specs import EncoderSpec
    from motifs.records import SherdCrop

    Vectors = NDArray[np.float32]

BATCH = 16
"""Views that go through a network together; more gained nothing on two cores."""


def encode_crops(
    spec: EncoderSpec, crops: Sequence[SherdCrop], progress: Callable[[int, int], None] | None = None
) -> Vectors:
    """Embed sherds.

    Each sherd's vector is the mean of its views' vectors, weighted by the sherd's area in each view,
    brought to unit length. A graphics card is used when there is one.

    Parameters
    ----------
    spec: of the encoder.
    crops: N sherds at any px/mm; masks not empty.
    progress: called as ``progress(done, total)`` with numbers of sherds.

    Returns
    -------
    (N, dim) float32, rows of unit length, in the order of the crops; (0, dim) for no crops.

    Raises
    ------
    ModelError: weights missing, altered or of the wrong kind.
    ValueError: a crop's mask is empty, or does not fit its image.
    """
    sums = np.zeros((len(crops), spec.dim), np.float64)
    if not crops:
        return sums.astype(np.float32)
    from motifs.embedding.engines import engine_for  # noqa: PLC0415  (torch only when it is needed)

    engine = engine_for(spec, len(crops) * spec.rotations)
    for batch in _batches(_numbered_views(spec, crops)):
        found = engine(np.stack([view.image for _, view in batch]), np.stack([view.mask for _, view in batch]))
        for (position, view), vector in zip(batch, found, strict=True):
            sums[position] += view.weight * vector.astype(np.float64)
        if progress is not None:
            progress(batch[-1][0] + 1, len(crops))
    lengths = np.linalg.norm(sums, axis=1, keepdims=True)
    vectors: Vectors = (sums / np.maximum(lengths, 1e-12)).astype(np.float32)
    return vectors


def _numbered_views(spec: EncoderSpec, crops: Sequence[SherdCrop]) -> Iterator[tuple[int, View]]:
    for position, crop in enumerate(crops):
        for view in views_of(crop, spec):
            yield position, view


def _batches(views: Iterable[tuple[int, View]]) -> Iterator[list[tuple[int, View]]]:
    batch: list[tuple[int, View]] = []
    for item in views:
        batch.append(item)
        if len(batch) == BATCH:
            yield batch
            batch = []
    if batch:
        yield batch
