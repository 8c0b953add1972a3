"""An exercise on the page: its sherds as a wall of piles, its mark in words; a quiz and a class in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.ui.presenters.text import counted, table
from motifs.ui.presenters.wall import Row, Tile, Wall

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.workflows.exercise import ExerciseMark
    from motifs.workflows.learning import ClassSummary

ASIDE = "aside"
PILES = ("A", "B", "C", "D", "E", "F")
EXERCISE_PX_PER_MM = 1.2

CAUTIONS = (
    "For real pots: new commercial ones only, bought to be broken. Never artefacts.",
    "Break them in a cloth bag, with eye protection; gloves for the pieces, a damp wipe for the dust.",
    "Mend with low-tack tape and washable glue only: everything must come apart again.",
    "School rules and the law of the place come first.",
)


def pile_wall(keys: Sequence[str], piles: Mapping[str, str | None], number: int, picked: Sequence[str]) -> Wall:
    """All sherds: those left aside, then a row for each pile; several more piles than pots may be used."""
    rows = [_row(ASIDE, "Not sorted, or left aside", [key for key in keys if not piles.get(key)], picked)]
    rows += [
        _row(pile, f"Pile {pile}", [key for key in keys if piles.get(key) == pile], picked) for pile in PILES[:number]
    ]
    return Wall(tuple(rows), "Piles", dashed=tuple(picked), px_per_mm=EXERCISE_PX_PER_MM, is_movable=True)


def _row(key: str, title: str, members: Sequence[str], picked: Sequence[str]) -> Row:
    tiles = tuple(Tile(member, marks=("picked",) if member in picked else ()) for member in members)
    return Row(key, title, counted(len(members), "sherd"), tiles, takes=True, empty="Drop sherds here.")


def mark_html(mark: ExerciseMark) -> str:
    """The mark beside the program's."""
    sorted_by = [("you", mark.own), *([("the program", mark.machine)] if mark.machine is not None else [])]
    rows = [
        [who, f"{one.adjusted_rand:.2f}", one.joined_wrongly, one.split_wrongly, f"{one.unassigned} of {one.sherds}"]
        for who, one in sorted_by
    ]
    taken = "" if mark.seconds is None else f", in {mark.seconds / 60:.1f} minutes with {counted(mark.hints, 'hint')}"
    head = ("Sorted by", "Adjusted Rand index", "Pairs joined wrongly", "Pairs split wrongly", "Left aside")
    return table(head, rows, caption=f"The mark{taken}; 1 is right, 0 is chance")


def class_html(summary: ClassSummary) -> str:
    """How everybody does."""
    rows = [
        [
            one.learner,
            one.exercises,
            "–" if one.mean_adjusted_rand is None else f"{one.mean_adjusted_rand:.2f}",
            one.answers,
            "–" if one.right is None else f"{one.right.share:.0%} ({one.right.low:.0%} to {one.right.high:.0%})",
        ]
        for one in summary.learners
    ]
    head = ("Learner", "Exercises", "Mean adjusted Rand", "Quiz answers", "Right (95 %, Wilson)")
    told = table(head, rows, caption="The class")
    if summary.confused:
        told += table(("Tagged", "Answered", "Times"), summary.confused, caption="What is taken for what")
    if summary.missed:
        told += table(("Cue", "Exercises"), summary.missed, caption="Cues that were missed")
    return told
