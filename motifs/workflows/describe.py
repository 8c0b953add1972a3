"""Evidence of sherds, measured once and kept under what it rests on: the crop, the cues, the encoders."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.evidence import VERSION, measure_sherd
from motifs.evidence.measuring import VESSEL_ENCODER
from motifs.workflows.crops import crops_of
from motifs.workflows.evidence_json import EVIDENCE, pack_evidence, unpack_evidence
from motifs.workflows.vectors import chunks, ensure_vectors, newest_shipped, vector_key

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from motifs.catalogue import Catalogue, SherdRow
    from motifs.embedding import EncoderSpec
    from motifs.records import CueReading, SherdCrop
    from motifs.workflows import Progress
    from motifs.workflows.vectors import Vectors


def evidence_encoders() -> tuple[EncoderSpec, ...]:
    """The encoders whose vectors are evidence for one vessel: the project's vessel encoder, where it is shipped.

    A general network's vector says which part of the decoration a sherd shows, not which pot it is of.
    """
    own = newest_shipped(VESSEL_ENCODER)
    return () if own is None else (own,)


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
    for chunk in chunks(crops_of(cat, absent)):
        fresh = {sherd.number: _measure(crop, sherd, vectors) for sherd, crop in chunk}
        with cat.transaction(by=by):
            cat.save_measurements(
                {number: {EVIDENCE: pack_evidence(readings, basis)} for number, readings in fresh.items()}
            )
        # As kept (rounded), not as measured, so that the first sort and the next are the same.
        kept.update(kept_evidence(cat, list(fresh), basis))
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
