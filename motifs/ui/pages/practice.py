"""Practice: pots broken for practice, sorted by hand and marked; quizzes on style; how the class does."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from motifs.practice import TECHNIQUES
from motifs.ui import jobs
from motifs.ui.actions import practice as actions
from motifs.ui.components.exercise_table import draw_exercise
from motifs.ui.components.quiz_desk import draw_quiz
from motifs.ui.components.sifted_table import draw_grid
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.practice import CAUTIONS, HOW_ALIKE, class_grids
from motifs.workflows.exercise import exercises_in
from motifs.workflows.learning import class_summary
from motifs.workflows.practice import ExerciseSettings

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

SORT, MAKE, QUIZ, CLASS = VIEWS = ("Sort an exercise", "Make an exercise", "Quiz", "The class")
DRAWN = "drawn by chance"


def draw_make(cat: Catalogue | None) -> None:
    """A form for a new exercise."""
    proposed = actions.free_name(cat)
    columns = st.columns([3, 2, 3, 2])
    name = columns[0].text_input("Name of the exercise", value=proposed, key=actions.NAME)
    pots = int(columns[1].number_input("Pots", 2, 4, 2, key="exercise_pots"))
    alike = columns[2].select_slider(
        "The pots", list(HOW_ALIKE), value="look alike", key="exercise_alike", help="The more alike, the harder."
    )
    sherds = int(columns[3].number_input("Sherds, about", 8, 120, 30, key="exercise_sherds"))
    with st.expander("More"):
        more = st.columns(3)
        lost = more[0].slider(
            "Share lost", 0.0, 0.6, 0.15, 0.05, key="exercise_lost", help="Part of each pot that is not there."
        )
        technique = more[1].selectbox("Technique", [DRAWN, *TECHNIQUES], key="exercise_technique")
        seed = int(
            more[2].number_input("Seed: the same number gives the same exercise", 0, 1_000_000, 1, key="exercise_seed")
        )
    wish = ExerciseSettings(pots, HOW_ALIKE[alike], seed, sherds, lost, None if technique == DRAWN else technique)
    st.button("Make it", type="primary", on_click=jobs.ask_for, args=(actions.MAKE,), disabled=not name.strip())
    jobs.do_waiting(actions.MAKE, partial(actions.make, wish, name.strip()))


def draw_sorting(cat: Catalogue | None) -> None:
    """The exercise that is open, or the making of a first one."""
    names = () if cat is None else exercises_in(actions.exercise_folder(cat))
    if cat is None or not names:
        empty_state("There is no exercise in this collection yet. Make one: it takes a few seconds.")
        draw_make(cat)
    else:
        draw_exercise(cat, names)


def draw_class(cat: Catalogue) -> None:
    """How everybody does."""
    summary = class_summary(cat)
    if not summary.learners:
        empty_state("Nobody practised here yet: sort an exercise and mark it, or answer the quiz.")
        return
    for place, grid in enumerate(class_grids(summary)):
        draw_grid(grid, key=f"class_{place}")


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    is_made = actions.open_made()
    view = st.segmented_control(
        "View",
        VIEWS,
        default=None if is_made else SORT,
        required=True,
        key=actions.VIEW,
        label_visibility="collapsed",
        bind="query-params",
    )
    if view == MAKE:
        draw_make(cat)
    elif view == SORT:
        draw_sorting(cat)
    elif cat is None:
        empty_state(
            "There is no collection yet: make an exercise, or add photographs and tag the sherds.",
            page_file="motifs/ui/pages/photographs.py",
            label="Add photographs",
        )
    else:
        (draw_quiz if view == QUIZ else draw_class)(cat)


draw_page("Sort pots that were broken for practice, and learn what tells.", draw, CAUTIONS)
