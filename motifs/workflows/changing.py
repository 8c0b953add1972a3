"""What would change an answer: which cues carry it, and what a person would have to say to turn it round."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from motifs.records import CueVote
    from motifs.workflows.pairs import PairReason
    from motifs.workflows.table import LotTable, TableSherd

CUE_WORDS = {
    "tone": "lightness of the ground",
    "paste": "colour of the paste",
    "texture": "grain of the ground",
    "vessel_vector": "likeness of the surface",
    "paint": "colour of the paint",
    "line": "width of the lines",
    "gap": "gap between the lines",
    "joins": "edges that fit",
}
"""What a cue is called in a sentence; one that is not listed goes by its own name."""

LEAST_NATS = 0.5
"""Evidence that is weaker than this settles nothing."""

MOST_CARRIERS = 3
MOST_ODDS = 1000.0


def cue_words(cue: str) -> str:
    """A cue's name in a sentence."""
    return CUE_WORDS.get(cue, cue.replace("_", " "))


def carriers(nats: Sequence[tuple[str, float]]) -> tuple[str, ...]:
    """The fewest cues without which the others would say the contrary, strongest first; empty for no evidence either way.

    Parameters
    ----------
    nats : cue and natural-log likelihood ratio, each.
    """
    total = sum(value for _, value in nats)
    sign = 1.0 if total > 0 else -1.0
    left, taken = sign * total, []
    for cue, value in sorted(nats, key=lambda one: (-sign * one[1], one[0])):
        if left <= 0 or sign * value <= 0:
            break
        left -= sign * value
        taken.append(cue)
    return tuple(taken) if left <= 0 else ()


def sherd_changes(table: LotTable, sherd: TableSherd) -> tuple[str, ...]:
    """What would put a sherd elsewhere, in sentences: a person's word, the cues that hold it, the answer that would move it."""
    if sherd.is_locked:
        return (f"Its vessel is locked: unlock vessel {sherd.vessel} to let a sort move it.",)
    if sherd.judged_by is not None:
        return (f"It lies on the word of {sherd.judged_by}: take that back to let the evidence decide.",)
    if sherd.next_best is None or sherd.is_new:
        return ()
    return (*_cue_change(sherd.votes, f"it would go to vessel {sherd.next_best}"), *_word_change(table, sherd))


def pair_changes(reasons: Iterable[PairReason]) -> tuple[str, ...]:
    """What the cues of a pair come to together, and without which of them it would be the contrary."""
    nats = [(reason.cue, reason.nats) for reason in reasons]
    total = sum(value for _, value in nats)
    if not nats:
        return ()
    if abs(total) < LEAST_NATS:
        return ("Together the cues do not tell: a better photograph, a rim, a wall thickness or a join would.",)
    side, other = ("one vessel", "two") if total > 0 else ("two vessels", "one")
    return (
        f"Together the cues speak for {side}, {odds_words(abs(total))}.",
        *_without(carriers(nats), len(nats), f"they would speak for {other}"),
    )


def odds_words(nats: float) -> str:
    """Evidence of so many nats, 0 or more, as odds: "about 12 to 1"."""
    if nats >= math.log(MOST_ODDS):
        return f"over {MOST_ODDS:.0f} to 1"
    return f"about {math.exp(nats):.3g} to 1"


def _cue_change(votes: Sequence[CueVote], then: str) -> tuple[str, ...]:
    nats = [(vote.cue, vote.llr) for vote in votes]
    if sum(value for _, value in nats) <= 0:
        return ("Its own cues do not hold it here: what was said of other sherds, or a join, does.",) if nats else ()
    return _without(carriers(nats), len(nats), then)


def _without(cues: Sequence[str], of: int, then: str) -> tuple[str, ...]:
    if not cues or len(cues) == of:
        return ("No cue speaks against it, so leaving out any of them changes nothing.",)
    named = " and ".join(cue_words(cue) for cue in cues[:MOST_CARRIERS])
    more = f" and {len(cues) - MOST_CARRIERS} more" if len(cues) > MOST_CARRIERS else ""
    return (f"Without the {named}{more} {then}.",)


def _word_change(table: LotTable, sherd: TableSherd) -> tuple[str, ...]:
    """The answer at the table that would move it."""
    rival = next((vessel for vessel in table.vessels if vessel.name == sherd.next_best and vessel.sherds), None)
    if rival is None or rival.name == sherd.vessel:
        return ()
    surest = rival.sherds[0].number
    return (
        f"Your word would move it: that it is of one vessel with {surest}, the surest sherd of vessel {rival.name}.",
    )
