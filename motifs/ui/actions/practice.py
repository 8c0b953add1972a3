"""What the practice page does: make an exercise, move sherds to piles, hint, mark, and mark a quiz answer."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui.presenters.practice import ASIDE
from motifs.ui.session import act, open_collection, say
from motifs.workflows.exercise import OpenExercise, hint, mark_exercise, open_exercise, sort_by_machine
from motifs.workflows.learning import keep_turn
from motifs.workflows.practice import ExerciseSettings, prepare_exercise
from motifs.workflows.quiz import answer_question

if TYPE_CHECKING:
    from pathlib import Path

    from motifs.catalogue import Catalogue
    from motifs.workflows import Progress

MAKE, MACHINE = "make_exercise", "sort_exercise"
NAME = "exercise_name"
PILES_OF, BEGAN, HINTS, MARK, PICKED = "piles_of", "began_at", "hints_given", "exercise_mark", "picked_pieces"
OUTCOME = "quiz_outcome"


def exercise_folder(cat: Catalogue) -> Path:
    """Where the exercises of a collection lie."""
    return cat.exports_folder / "practice"


def make(settings: ExerciseSettings, name: str, _by: str, _progress: Progress) -> str:
    """Render an exercise; run as a job of the page."""
    cat = open_collection()
    if cat is None:
        raise InputError(
            "there is no collection yet; add photographs first, or make an exercise with the command practice"
        )
    made = prepare_exercise(exercise_folder(cat), name, settings=settings)
    return f"exercise '{made.answer.parent.name}': {len(made.photos)} photographs, and a sheet to cut out"


def sort_exercise(exercise: OpenExercise, by: str, progress: Progress) -> str:
    """Let the program sort it; run as a job of the page."""
    piles = sort_by_machine(exercise, by=by, progress=progress)
    return f"the program made {len({pile for pile in piles.values() if pile})} piles; mark yours to compare"


def begin(exercise: OpenExercise) -> None:
    """Start anew: nothing sorted, the clock running."""
    st.session_state[PILES_OF] = {exercise.name: {piece.key: None for piece in exercise.pieces}}
    st.session_state[BEGAN] = time.time()
    st.session_state[HINTS] = []
    st.session_state[PICKED] = []
    st.session_state.pop(MARK, None)


def piles_of(exercise: OpenExercise) -> dict[str, str | None]:
    """The piles as they lie; an exercise that was not begun is begun."""
    if exercise.name not in st.session_state.get(PILES_OF, {}):
        begin(exercise)
    piles: dict[str, str | None] = st.session_state[PILES_OF][exercise.name]
    return piles


def move(exercise: OpenExercise, keys: list[str], row: str) -> None:
    """Put sherds on a pile, or aside."""
    piles = piles_of(exercise)
    piles.update({key: None if row == ASIDE else row for key in keys if key in piles})
    st.session_state[PICKED] = []


def toggle(key: str) -> None:
    """Pick a sherd, or let go of it."""
    picked = list(st.session_state.get(PICKED, []))
    st.session_state[PICKED] = [one for one in picked if one != key] if key in picked else [*picked, key]


def give_hint(exercise: OpenExercise) -> None:
    """One hint more."""
    given = st.session_state.setdefault(HINTS, [])
    given.append(hint(exercise, piles_of(exercise), len(given)))


def mark(exercise: OpenExercise) -> None:
    """Mark the piles, and keep the mark with the learner's name."""

    def work(cat: Catalogue, by: str) -> str:
        piles = piles_of(exercise)
        if not any(piles.values()):
            raise InputError("no sherd lies on a pile yet; sort some first")
        seconds = round(time.time() - float(st.session_state.get(BEGAN, time.time())), 1)
        found = mark_exercise(exercise, piles, seconds=seconds, hints=len(st.session_state.get(HINTS, [])))
        keep_turn(cat, exercise, piles, found, learner=by)
        st.session_state[MARK] = (exercise.name, found)
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


def opened_exercise(cat: Catalogue, name: str) -> OpenExercise:
    """The exercise of that name."""
    return open_exercise(exercise_folder(cat) / name)
