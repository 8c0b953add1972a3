"""Which encoders there are on this machine, and which answers what."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.embedding import ENCODERS, shipped_encoders
from motifs.workflows.describe import evidence_encoders
from motifs.workflows.vectors import comparanda_encoder

if TYPE_CHECKING:
    from motifs.embedding import EncoderSpec


@dataclass(frozen=True, slots=True)
class EncoderListing:
    """One encoder as a user chooses it. used_for: the commands that take it unless told otherwise."""

    spec: EncoderSpec
    used_for: tuple[str, ...]


def list_encoders() -> tuple[EncoderListing, ...]:
    """Every encoder that needs no further file, the default of comparanda first."""
    first = comparanda_encoder()
    others = [spec for spec in (*shipped_encoders(), *ENCODERS) if spec.tag != first.tag]
    for_sorting = {spec.tag for spec in evidence_encoders()}
    return tuple(
        EncoderListing(
            spec, (("comparanda",) if spec is first else ()) + (("sort",) if spec.tag in for_sorting else ())
        )
        for spec in (first, *others)
    )
