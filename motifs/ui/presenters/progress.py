"""Words for what a long job is doing."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection

STAGES = {
    "reading photographs": "Finding sherds: photograph {next} of {total}",
    "cutting crops": "Cutting the sherds out: photograph {next} of {total}",
    "drawing small pictures": "Drawing small pictures: photograph {next} of {total}",
    "measuring": "Measuring paste, paint and lines: {done} of {total} sherds",
    "laying out plates": "Laying out plates: {next} of {total}",
    "laying out": "Laying the sherds out: step {next} of {total}",
    "laying decorations": "Laying decorations over each other: {done} of {total}",
    "reading edges": "Reading the edges: {done} of {total} sherds",
    "matching edges": "Matching edges, the longest part",
    "testing pairs of sites": "Testing pairs of sites: {done} of {total}",
    "writing crops": "Writing pictures: {done} of {total} sherds",
    "packing": "Packing: {done} of {total} files",
    "writing records": "Writing records: {done} of {total}",
    "painting pots": "Painting pots: {done} of {total}",
    "photographing sherds": "Photographing sherds: {done} of {total}",
    "drawing the questions": "Drawing the questions: {done} of {total}",
    "putting the report together": "Putting the report together: step {next} of {total}",
    "reading labels": "Reading numbers: photograph {next} of {total}",
    "encoding": "Looking at the decoration: {done} of {total} sherds",
}


def stage_words(stage: str, done: int, total: int) -> str:
    """What to show; a stage that is not known is shown as work going on, since its name may hold any sign."""
    pattern = next((words for known, words in STAGES.items() if stage.startswith(known)), "Working: {done} of {total}")
    return pattern.format(done=done, next=min(done + 1, total), total=total)


def share_done(done: int, total: int) -> float:
    """0..1, whatever the two say."""
    return min(1.0, max(0.0, done / total)) if total > 0 else 0.0


def stopped_words(verbs: Collection[str]) -> str:
    """What is left of work that was stopped. verbs: what the history has of it since it began."""
    if not verbs:
        return "Stopped. The catalogue is as it was."
    if set(verbs) <= {"measured"}:
        return (
            "Stopped. The catalogue is as it was, but for measurements made so far; they are kept and not made again."
        )
    return (
        "Stopped. Steps that were finished before are kept, and Undo takes them back; of the one that ran nothing is."
    )
