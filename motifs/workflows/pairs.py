"""Two sherds side by side: what each cue says for or against one vessel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.errors import InputError
from motifs.evidence import compare_sherds, load_calibration
from motifs.evidence.comparing import SILENT_NATS
from motifs.workflows.describe import ensure_evidence
from motifs.workflows.entered import entered_readings

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue


@dataclass(frozen=True, slots=True)
class PairReason:
    """What one cue says of a pair. nats: natural-log likelihood ratio, above 0 for one vessel. verdict: "for", "against" or "does not tell"."""

    cue: str
    words: str
    nats: float

    @property
    def verdict(self) -> str:
        """Which way it points, in words."""
        if abs(self.nats) < SILENT_NATS:
            return "does not tell"
        return "for" if self.nats > 0 else "against"


def reasons_of_pair(cat: Catalogue, a: str, b: str, *, by: str) -> tuple[PairReason, ...]:
    """Compare two sherds cue by cue, strongest first; measures what is not measured yet.

    Raises
    ------
    UnknownName
        No such sherd.
    InputError
        A sherd with itself.
    ModelError
        The calibration is missing.
    """
    if a == b:
        raise InputError(f"'{a}' cannot be set beside itself; choose another sherd")
    sherds = [cat.sherd(a), cat.sherd(b)]
    evidence = ensure_evidence(cat, sherds, by=by)
    for sherd in sherds:
        evidence[sherd.number] |= entered_readings(cat, sherd.lot, [sherd]).get(sherd.number, {})
    votes = compare_sherds(
        evidence[a], evidence[b], load_calibration(), same_photo=sherds[0].photo_id == sherds[1].photo_id
    )
    return tuple(PairReason(vote.cue, vote.why, vote.llr) for vote in votes)
