"""Compare two sherds, or a sherd with its vessel, cue by cue, in numbers and in plain words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import t as student

from motifs.evidence.calibration import lot_blocks
from motifs.evidence.components import READING_OF
from motifs.records import CueReading, CueVote

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.evidence.calibration import Calibration
    from motifs.records import CueBlock

LENGTH_WORDS = {"line": ("line", 2), "gap": ("gap between lines", 2), "wall": ("wall", 1), "rim": ("rim diameter", 0)}
"""What a length is called, and decimals of its mm."""
SILENT_NATS = 0.35
"""A cue that moves the odds by less than this does not tell."""


def compare_sherds(
    a: Mapping[str, CueReading], b: Mapping[str, CueReading], calibration: Calibration, *, same_photo: bool = False
) -> tuple[CueVote, ...]:
    """Votes of every cue that both sherds show, strongest first.

    The log-likelihood ratio is that of the calibrated difference: Student with the two spreads (and, across photographs, what
    a photograph adds) if they are one vessel, with twice the between-vessel variance on top if they are not.
    """
    votes = [
        CueVote(block.name, difference_llr(block, same_photo=same_photo), difference_words(block.name, a, b))
        for block in lot_blocks(calibration, [a, b])
        if block.present.all()
    ]
    return tuple(sorted(votes, key=lambda vote: (-abs(vote.llr), vote.cue)))


def difference_llr(block: CueBlock, *, same_photo: bool) -> float:
    """Natural-log likelihood ratio of rows 0 and 1 of a block being one vessel."""
    gap = block.x[0] - block.x[1]
    within = block.spread.sum() + (0.0 if same_photo else 2 * block.photo_sd**2)
    one, two = np.sqrt(within + np.zeros_like(gap)), np.sqrt(within + 2 * block.between)
    return float((student.logpdf(gap, block.tail, scale=one) - student.logpdf(gap, block.tail, scale=two)).sum())


def vessel_votes(
    sherd: Mapping[str, CueReading],
    vessel: Sequence[Mapping[str, CueReading]],
    votes: Sequence[CueVote],
) -> tuple[CueVote, ...]:
    """The same votes with words that set the sherd beside the middle of its vessel's other sherds."""
    readings = {READING_OF.get(vote.cue, vote.cue) for vote in votes}
    middle = {reading: middle_reading(reading, vessel) for reading in sorted(readings)}
    typical = {cue: reading for cue, reading in middle.items() if reading is not None}
    return tuple(
        CueVote(vote.cue, vote.llr, _with_verdict(difference_words(vote.cue, sherd, typical), vote.llr))
        if READING_OF.get(vote.cue, vote.cue) in typical and READING_OF.get(vote.cue, vote.cue) in sherd
        else vote
        for vote in votes
    )


def middle_reading(cue: str, sherds: Sequence[Mapping[str, CueReading]]) -> CueReading | None:
    """Median reading of several sherds, or None when none of them shows the cue."""
    values = [sherd[cue].value for sherd in sherds if cue in sherd]
    if not values:
        return None
    length = max(len(value) for value in values)
    table = np.array([value for value in values if len(value) == length])
    return CueReading(tuple(map(float, np.median(table, axis=0))), (0.0,) * length)


def difference_words(cue: str, a: Mapping[str, CueReading], b: Mapping[str, CueReading]) -> str:
    """Plain words with values and units, for instance "line 1.1 mm against 1.5 mm"."""
    reading = READING_OF.get(cue, cue)
    first, second = a[reading].value, b[reading].value
    if cue == "tone":
        return f"ground lightness {first[0]:.0f} against {second[0]:.0f} (L*, 0 to 100)"
    if cue in ("paste", "paint"):
        return f"{cue} {colour_difference(first, second):.1f} apart (CIEDE2000)"
    if cue in LENGTH_WORDS:
        name, places = LENGTH_WORDS[cue]
        return f"{name} {first[0]:.{places}f} mm against {second[0]:.{places}f} mm"
    if cue == "texture":
        change = float(np.mean(np.subtract(first[:3], second[:3])))
        return (
            "grain of the ground alike"
            if abs(change) < 0.1
            else f"ground {'grainier' if change > 0 else 'smoother'} by {abs(np.expm1(change)):.0%}"
        )
    return f"surface likeness {float(np.dot(first, second)) / max(float(np.linalg.norm(first) * np.linalg.norm(second)), 1e-9):.2f}"


def colour_difference(first: Sequence[float], second: Sequence[float]) -> float:
    """CIEDE2000 of two L*a*b* colours (CIE 142-2001; Sharma, Wu & Dalal 2005), by scikit-image."""
    from skimage.color import deltaE_ciede2000  # noqa: PLC0415 - heavy, and only words need it

    return float(deltaE_ciede2000(np.asarray(first, float), np.asarray(second, float)))  # type: ignore[no-untyped-call]


def _with_verdict(words: str, llr: float) -> str:
    if abs(llr) < SILENT_NATS:
        return f"{words}: does not tell"
    return f"{words}: {'for' if llr > 0 else 'against'}"
