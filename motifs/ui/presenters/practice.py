"""An exercise on the page: its sherds as a wall of piles, its mark in words; a quiz and a class in words."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from motifs.ui.presenters.sifting import Grid, grid
from motifs.ui.presenters.text import counted, table
from motifs.ui.presenters.wall import Row, Tile, Wall

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import ExerciseTurnRow
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


STEPS = (
    "Look at the sherds: they come from a few pots that were broken together.",
    "Put those of one pot on one pile: drag them, tick several and move them, or click some and press a pile's key. Leave aside what you cannot tell.",
    "Ask for a hint where you are stuck, and press Mark it when you are done: the answer, and what was to be seen, come then.",
)
HOW_ALIKE = {"unrelated": 0.0, "look alike": 0.5, "very much alike": 0.8, "nearly identical": 1.0}
"""How much the pots of an exercise resemble each other, in words."""


def piles_text(keys: Sequence[str], piles: Mapping[str, str | None]) -> str:
    """How sherds lie, a sign each in the order of keys: the pile's letter, or "-" for aside."""
    return "".join(piles.get(key) or "-" for key in keys)


def piles_from(keys: Sequence[str], text: str) -> dict[str, str | None] | None:
    """Piles from such a text; None for one that is not of these sherds."""
    if len(text) != len(keys) or not set(text) <= {*PILES, "-"}:
        return None
    return {key: None if sign == "-" else sign for key, sign in zip(keys, text, strict=True)}


def answer_wall(pot_of: Mapping[str, int], piles: Mapping[str, str | None]) -> Wall:
    """The pots as they were: a row each. What lies on a pile that is mostly of another pot is set apart and says so."""
    home = _homes(pot_of, piles)
    rows, apart = [], []
    for pot in sorted(set(pot_of.values())):
        tiles = []
        for key in (key for key, of in pot_of.items() if of == pot):
            pile = piles.get(key)
            taken_for = None if pile is None else home[pile]
            marks: tuple[str, ...] = ()
            if taken_for is not None and taken_for != pot:
                marks = (f"put with pot {taken_for + 1}",)
                apart.append(key)
            tiles.append(Tile(key, ("left aside" if pile is None else f"your pile {pile}",), marks=marks))
        rows.append(Row(f"pot {pot}", f"Pot {pot + 1}", counted(len(tiles), "sherd"), tuple(tiles)))
    return Wall(tuple(rows), "The answer", dashed=tuple(apart), px_per_mm=EXERCISE_PX_PER_MM)


def _homes(pot_of: Mapping[str, int], piles: Mapping[str, str | None]) -> dict[str, int]:
    """The pot that most sherds of a pile come from, by pile."""
    counts: dict[str, Counter[int]] = {}
    for key, pile in piles.items():
        if pile is not None:
            counts.setdefault(pile, Counter())[pot_of[key]] += 1
    return {pile: min(count, key=lambda pot: (-count[pot], pot)) for pile, count in counts.items()}


def turns_grid(turns: Sequence[ExerciseTurnRow]) -> Grid:
    """What somebody sorted before, the latest first."""
    rows = [
        (
            turn.at[:10],
            turn.exercise,
            f"{turn.adjusted_rand:.2f}",
            "–" if turn.seconds is None else f"{turn.seconds / 60:.1f}",
            turn.hints,
        )
        for turn in reversed(turns)
    ]
    return grid(("On", "Exercise", "Adjusted Rand index", "Minutes", "Hints"), rows, "Sorted before")


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


def class_grids(summary: ClassSummary) -> list[Grid]:
    """How everybody does, what is taken for what, and which cues are missed."""
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
    told = [grid(head, rows, "The class")]
    if summary.confused:
        told.append(grid(("Tagged", "Answered", "Times"), summary.confused, "What is taken for what"))
    if summary.missed:
        told.append(grid(("Cue", "Exercises"), summary.missed, "Cues that were missed"))
    return told
