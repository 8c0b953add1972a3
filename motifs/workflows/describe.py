"""Vectors and evidence of sherds, measured once and kept.

Both are kept under the sherd's content key (photo, outline, scale, light) and under what made them (the encoder's
fingerprint; the version of the cues), so a changed outline or a changed network can never meet an old value.
"""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING

from motifs.embedding import encode_crops
from motifs.evidence import VERSION, measure_sherd
from motifs.workflows.crops import crops_of
from motifs.workflows.encoders import evidence_encoders
from motifs.workflows.evidence_json import EVIDENCE, pack_evidence, unpack_evidence

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue, SherdRow
    from motifs.embedding import EncoderSpec
    from motifs.records import CueReading, SherdCrop
    from motifs.workflows import Progress

    Vectors = dict[str, NDArray[np.float32]]

CHUNK = 32
"""Crops held in memory at a time, and kept together in one transaction."""


def vector_key(spec: EncoderSpec) -> str:
    """The tag that vectors are kept under: the encoder and the fingerprint of its preparation."""
    return f"{spec.tag}.{spec.fingerprint}"


def ensure_vectors(
    cat: Catalogue, spec: EncoderSpec, sherds: Sequence[SherdRow], *, by: str, progress: Progress | None = None
) -> Vectors:
    """Vectors of the sherds, (dim,) float32 of unit length each, by number; encoded now where there is none yet."""
    key = vector_key(spec)
    numbers = [sherd.number for sherd in sherds]
    kept = cat.vectors(key, numbers)
    absent = [sherd for sherd in sherds if sherd.number not in kept]
    done = 0
    for chunk in _chunks(crops_of(cat, absent)):
        rows = encode_crops(spec, [crop for _, crop in chunk])
        fresh = {sherd.number: row for (sherd, _), row in zip(chunk, rows, strict=True)}
        with cat.transaction(by=by):
            cat.save_vectors(key, fresh)
        kept.update(fresh)
        done += len(chunk)
        if progress is not None:
            progress(f"encoding ({spec.tag})", done, len(absent))
    return kept


def ensure_evidence(
    cat: Catalogue, sherds: Sequence[SherdRow], *, by: str, progress: Progress | None = None
) -> dict[str, dict[str, CueReading]]:
    """Readings of every cue of the sherds, by number and cue; measured now where there is none yet."""
    specs = evidence_encoders()
    vectors = {spec.tag: ensure_vectors(cat, spec, sherds, by=by, progress=progress) for spec in specs}
    basis = evidence_basis(specs)
    kept = kept_evidence(cat, [sherd.number for sherd in sherds], basis)
    absent = [sherd for sherd in sherds if sherd.number not in kept]
    done = 0
    for chunk in _chunks(crops_of(cat, absent)):
        fresh = {sherd.number: _measure(crop, sherd, vectors) for sherd, crop in chunk}
        with cat.transaction(by=by):
            cat.save_measurements({number: {EVIDENCE: pack_evidence(readings, basis)} for number, readings in fresh.items()})
        kept.update(fresh)
        done += len(chunk)
        if progress is not None:
            progress("measuring", done, len(absent))
    return kept


def evidence_basis(specs: Iterable[EncoderSpec]) -> str:
    """What the readings rest on: version of the cues, and the encoders whose vectors are among them."""
    return "|".join([VERSION, *(vector_key(spec) for spec in specs)])


def kept_evidence(cat: Catalogue, numbers: Sequence[str], basis: str) -> dict[str, dict[str, CueReading]]:
    """Readings kept for the sherds on this very basis; a sherd without is absent."""
    kept = {}
    for number, measured in cat.measurements_of(numbers).items():
        readings = unpack_evidence(measured.get(EVIDENCE), basis)
        if readings is not None:
            kept[number] = readings
    return kept


def _measure(crop: SherdCrop, sherd: SherdRow, vectors: Mapping[str, Vectors]) -> dict[str, CueReading]:
    own = {tag: of_all[sherd.number] for tag, of_all in vectors.items()}
    return dict(measure_sherd(crop, own))


def _chunks(pairs: Iterator[tuple[SherdRow, SherdCrop]]) -> Iterator[list[tuple[SherdRow, SherdCrop]]]:
    while chunk := list(islice(pairs, CHUNK)):
        yield chunk
