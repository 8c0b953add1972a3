"""Words for what the cues said: each sherd set beside the middle of its vessel."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from motifs.evidence import vessel_votes
from motifs.evidence.comparing import middle_reading

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.records import Assignment, CueReading, CueVote

    Readings = Mapping[str, CueReading]


def with_words(assignments: Sequence[Assignment], evidence: Sequence[Readings]) -> tuple[Assignment, ...]:
    """The assignments, each vote with its reason in plain words.

    The middle is taken once for each vessel, the sherd itself included, so that large lots stay quick. A sherd that
    no vessel holds is set beside the vessel it would go to next.
    """
    middles = {
        vessel: _middle([evidence[place] for place, at in enumerate(assignments) if at.vessel == vessel])
        for vessel in {at.vessel for at in assignments if at.vessel is not None}
    }
    told = []
    for assignment, readings in zip(assignments, evidence, strict=True):
        near = assignment.vessel if assignment.vessel is not None else assignment.next_best
        middle = middles.get(near) if near is not None else None
        votes = vessel_votes(readings, [middle], assignment.votes) if middle else assignment.votes
        told.append(replace(assignment, votes=tuple(_never_empty(vote) for vote in votes)))
    return tuple(told)


def _middle(members: Sequence[Readings]) -> dict[str, CueReading]:
    cues = {cue for readings in members for cue in readings}
    found = {cue: middle_reading(cue, members) for cue in sorted(cues)}
    return {cue: reading for cue, reading in found.items() if reading is not None}


def _never_empty(vote: CueVote) -> CueVote:
    return vote if vote.why else replace(vote, why=f"{vote.cue}: {'for' if vote.llr > 0 else 'against'}")
