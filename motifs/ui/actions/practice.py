"""What the practice page does: make an exercise, move sherds to piles, hint, mark, mark a quiz answer, write a question bank.

How an exercise lies is kept in the address, so that a reload, or a closed laptop, costs nothing.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import streamlit as st

from motifs.catalogue import Catalogue
from motifs.errors import InputError
from motifs.ui.choosing import open_, opened
from motifs.ui.presenters.practice import ASIDE, piles_from, piles_text
from motifs.ui.session import act, collection_folder, open_collection, say
from motifs.workflows.exercise import OpenExercise, exercises_in, hint, mark_exercise, open_exercise, sort_by_machine
from motifs.workflows.learning import keep_turn
from motifs.workflows.practice import ExerciseSettings, prepare_exercise
from motifs.workflows.quiz import answer_question, write_bank

if TYPE_CHECKING:
    from pathlib import Path

    from motifs.workflows import Progress

MAKE, MACHINE, BANK = "make_exercise", "sort_exercise", "quiz_bank"
NAME, OPEN, VIEW = "exercise_name", "exercise_open", "practice_view"
PILES_OF, BEGAN, HINTS, MARK, PICKED = "piles_of", "began_at", "hints_given", "exercise_mark", "picked_pieces"
NEXT = "exercise_made"
"""The exercise that was made a moment ago, to be opened at the next drawing."""

LYING, LYING_OF, SINCE, HINTED = "piles", "exercise", "since", "hints"
"""In the address: how the sherds lie, of which exercise, since when (seconds), and how many hints were given."""


def exercise_folder(cat: Catalogue) -> Path:
    """Where the exercises of a collection lie."""
    return cat.exports_folder / "practice"


def free_name(cat: Catalogue | None) -> str:
    """A name for the next exercise."""
    taken = set() if cat is None else set(exercises_in(exercise_folder(cat)))
    return next(name for number in range(1, len(taken) + 2) if (name := f"exercise {number}") not in taken)


def make(settings: ExerciseSettings, name: str, _by: str, progress: Progress) -> str:
    """Render an exercise; run as a job of the page. The first one begins the collection too."""
    cat = open_collection()
    if cat is None:
        Catalogue.open(collection_folder(), create=True).close()
        cat = open_collection()
    if cat is None:
        raise InputError("the collection that was begun for the exercise is gone; make the exercise again")
    made = prepare_exercise(exercise_folder(cat), name, settings=settings, progress=progress)
    st.session_state[NEXT] = made.answer.parent.name
    return f"exercise '{made.answer.parent.name}': {len(made.photos)} photographs, and a sheet to cut out"


def open_made() -> bool:
    """Before anything is drawn: open the exercise that was made a moment ago, if one was; whether one was."""
    name = st.session_state.pop(NEXT, None)
    if name is None:
        return False
    st.session_state[OPEN] = name
    st.session_state[VIEW] = "Sort an exercise"
    return True


def sort_exercise(exercise: OpenExercise, by: str, progress: Progress) -> str:
    """Let the program sort it; run as a job of the page."""
    piles = sort_by_machine(exercise, by=by, progress=progress)
    return f"the program made {len({pile for pile in piles.values() if pile})} piles; mark yours to compare"


def begin(exercise: OpenExercise) -> None:
    """Start anew: nothing sorted, the clock running."""
    _lay(exercise, {piece.key: None for piece in exercise.pieces}, time.time(), 0)
    st.session_state.pop(MARK, None)


def _lay(exercise: OpenExercise, piles: dict[str, str | None], began: float, hints: int) -> None:
    st.session_state[PILES_OF] = {exercise.name: piles}
    st.session_state[BEGAN] = began
    st.session_state[HINTS] = [""] * hints
    st.session_state[PICKED] = []
    _to_address(exercise, piles)


def _to_address(exercise: OpenExercise, piles: dict[str, str | None]) -> None:
    open_(LYING_OF, exercise.name)
    open_(LYING, piles_text([piece.key for piece in exercise.pieces], piles))
    open_(SINCE, str(int(st.session_state[BEGAN])))
    open_(HINTED, str(len(st.session_state.get(HINTS, []))))


def piles_of(exercise: OpenExercise) -> dict[str, str | None]:
    """The piles as they lie; after a reload as the address has them; an exercise that was not begun is begun."""
    if exercise.name not in st.session_state.get(PILES_OF, {}):
        keys = [piece.key for piece in exercise.pieces]
        kept = piles_from(keys, opened(LYING) or "") if opened(LYING_OF) == exercise.name else None
        if kept is None:
            begin(exercise)
        else:
            _lay(exercise, kept, float(_number(SINCE) or time.time()), min(_number(HINTED), 99))
    piles: dict[str, str | None] = st.session_state[PILES_OF][exercise.name]
    return piles


def _number(name: str) -> int:
    text = opened(name) or ""
    return int(text) if text.isdecimal() and len(text) < 12 else 0


def move(exercise: OpenExercise, keys: list[str], row: str) -> None:
    """Put sherds on a pile, or aside."""
    piles = piles_of(exercise)
    piles.update({key: None if row == ASIDE else row for key in keys if key in piles})
    st.session_state[PICKED] = []
    _to_address(exercise, piles)


def toggle(key: str) -> None:
    """Pick a sherd, or let go of it."""
    picked = list(st.session_state.get(PICKED, []))
    st.session_state[PICKED] = [one for one in picked if one != key] if key in picked else [*picked, key]


def give_hint(exercise: OpenExercise) -> None:
    """One hint more."""
    piles = piles_of(exercise)
    given = st.session_state.setdefault(HINTS, [])
    given.append(hint(exercise, piles, len(given)))
    _to_address(exercise, piles)


def mark(exercise: OpenExercise) -> None:
    """Mark the piles, and keep the mark with the learner's name."""

    def work(cat: Catalogue, by: str) -> str:
        piles = piles_of(exercise)
        if not any(piles.values()):
            raise InputError("no sherd lies on a pile yet; sort some first")
        seconds = round(time.time() - float(st.session_state.get(BEGAN, time.time())), 1)
        found = mark_exercise(exercise, piles, seconds=seconds, hints=len(st.session_state.get(HINTS, [])))
        keep_turn(cat, exercise, piles, found, learner=by)
        st.session_state[MARK] = (exercise.name, found, dict(piles))
        return f"marked: adjusted Rand index {found.own.adjusted_rand:.2f}"

    act(work)


def answer(sherd: str, kind: str, term: str) -> None:
    """Mark an answer of the quiz."""

    def work(cat: Catalogue, by: str) -> None:
        outcome = answer_question(cat, by, sherd, kind, term)
        if outcome.is_right:
            say("done", f"right: {outcome.term}; asked again on {outcome.due_on}")
        else:
            say("note", f"not {term}: {outcome.tagged_by} tagged it {outcome.term}; asked again on {outcome.due_on}")

    act(work)


def bank(kind: str | None, _by: str, progress: Progress) -> str:
    """Write every question with its picture into exports/; run as a job of the page."""
    cat = open_collection()
    if cat is None:
        raise InputError("there is no collection yet; add photographs and tag sherds first")
    taken = {folder.name for folder in cat.exports_folder.glob("questions *")}
    name = next(name for number in range(1, len(taken) + 2) if (name := f"questions {number}") not in taken)
    count = write_bank(cat, cat.exports_folder / name, kind=kind, progress=progress)
    return f"{count} questions are in exports/{name} of the collection, as tables and pictures"


def opened_exercise(cat: Catalogue, name: str) -> OpenExercise:
    """The exercise of that name."""
    return open_exercise(exercise_folder(cat) / name)
