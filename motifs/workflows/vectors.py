"""Vectors of sherds, encoded once and kept.

They are kept under the sherd's content key (photo, outline, scale, light) and the encoder's fingerprint, so a changed
outline or a changed network can never meet an old vector.
"""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING

from motifs.embedding import EFFICIENTNET_LITE0, encode_crops, encoder_named, shipped_encoders
from motifs.workflows.crops import crops_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue
    from motifs.embedding import EncoderSpec
    from motifs.records import SherdCrop
    from motifs.workflows import Progress
    from motifs.workflows.crops import Sherd

    Vectors = dict[str, NDArray[np.float32]]

CHUNK = 32
"""Crops held in memory at a time, and kept together in one transaction."""

MOTIF_ENCODER = "motif"
"""First part of the tag of the project's own encoder for decoration."""


def vector_key(spec: EncoderSpec) -> str:
    """The tag that vectors are kept under: the encoder and the fingerprint of its preparation."""
    return f"{spec.tag}.{spec.fingerprint}"


def comparanda_encoder(tag: str | None = None) -> EncoderSpec:
    """The encoder of that tag; without one, the project's own motif encoder where it is shipped.

    Raises
    ------
    UnknownName
        No encoder of that tag.
    """
    return encoder_named(tag) if tag is not None else newest_shipped(MOTIF_ENCODER) or EFFICIENTNET_LITE0


def newest_shipped(kind: str) -> EncoderSpec | None:
    """The newest of the project's own encoder of a kind: the last by tag."""
    own = [spec for spec in shipped_encoders() if spec.tag.split(".")[0] == kind]
    return max(own, key=lambda spec: spec.tag, default=None)


def ensure_vectors(
    cat: Catalogue, spec: EncoderSpec, sherds: Sequence[Sherd], *, by: str, progress: Progress | None = None
) -> Vectors:
    """Vectors of the sherds, (dim,) float32 of unit length each, by number; encoded now where there is none yet."""
    key = vector_key(spec)
    numbers = [sherd.number for sherd in sherds]
    kept = cat.vectors(key, numbers)
    absent = [sherd for sherd in sherds if sherd.number not in kept]
    done = 0
    for chunk in chunks(crops_of(cat, absent)):
        rows = encode_crops(spec, [crop for _, crop in chunk])
        fresh = {sherd.number: row for (sherd, _), row in zip(chunk, rows, strict=True)}
        with cat.transaction(by=by):
            cat.save_vectors(key, fresh)
        kept.update(fresh)
        done += len(chunk)
        if progress is not None:
            progress(f"encoding ({spec.tag})", done, len(absent))
    return kept


def chunks(pairs: Iterator[tuple[Sherd, SherdCrop]]) -> Iterator[list[tuple[Sherd, SherdCrop]]]:
    """Sherds with their crops, CHUNK at a time."""
    while chunk := list(islice(pairs, CHUNK)):
        yield chunk
