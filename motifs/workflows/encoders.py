"""Which encoder answers which question, and which there are on this machine."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.embedding import EFFICIENTNET_LITE0, ENCODERS, encoder_named, shipped_encoders
from motifs.evidence.measuring import VESSEL_ENCODER

if TYPE_CHECKING:
    from motifs.embedding import EncoderSpec

MOTIF_ENCODER = "motif"
"""First part of the tag of the project's own encoder for decoration."""


@dataclass(frozen=True, slots=True)
class EncoderListing:
    """One encoder as a user chooses it. used_for: the commands that take it unless told otherwise."""

    spec: EncoderSpec
    used_for: tuple[str, ...]


def comparanda_encoder(tag: str | None = None) -> EncoderSpec:
    """The encoder of that tag; without one, the project's own motif encoder where it is shipped.

    Raises
    ------
    UnknownName
        No encoder of that tag.
    """
    return encoder_named(tag) if tag is not None else _shipped(MOTIF_ENCODER) or EFFICIENTNET_LITE0


def evidence_encoders() -> tuple[EncoderSpec, ...]:
    """The encoders whose vectors are evidence for one vessel: the project's vessel encoder, where it is shipped.

    A general network's vector says which part of the decoration a sherd shows, not which pot it is of.
    """
    own = _shipped(VESSEL_ENCODER)
    return () if own is None else (own,)


def list_encoders() -> tuple[EncoderListing, ...]:
    """Every encoder that needs no further file, the default of comparanda first."""
    first = comparanda_encoder()
    others = [spec for spec in (*shipped_encoders(), *ENCODERS) if spec.tag != first.tag]
    for_sorting = {spec.tag for spec in evidence_encoders()}
    return tuple(
        EncoderListing(spec, (("comparanda",) if spec is first else ()) + (("sort",) if spec.tag in for_sorting else ()))
        for spec in (first, *others)
    )


def _shipped(kind: str) -> EncoderSpec | None:
    """The newest shipped encoder of a kind: the last by tag."""
    own = [spec for spec in shipped_encoders() if spec.tag.split(".")[0] == kind]
    return max(own, key=lambda spec: spec.tag, default=None)
