"""Practice: pots broken for practice, sorted by hand and marked; quizzes on style; how the class does."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.practice import TECHNIQUES
from motifs.ui import jobs
from motifs.ui.actions import practice as actions
from motifs.ui.components.browser_code import address_of
from motifs.ui.components.crop_wall import pictures_of, show_wall
from motifs.ui.components.markup import show
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.figures import Figure, figures_html
from motifs.ui.presenters.practice import CAUTIONS, PILES, class_html, mark_html, pile_wall
from motifs.ui.presenters.text import lines, notice, safe
from motifs.ui.presenters.wall import Picture
from motifs.ui.session import analyst
from motifs.workflows.cut_out import piece_pictures
from motifs.workflows.exercise import exercises_in, machine_piles
from motifs.workflows.learning import class_summary
from motifs.workflows.practice import CUT_OUT, ExerciseSettings
from motifs.workflows.quiz import KINDS, next_question

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows.exercise import OpenExercise

VIEWS = ("Sort an exercise", "Make an exercise", "Quiz", "The class")
DRAWN = "drawn by chance"


@st.cache_resource(max_entries=4, show_spinner="Getting the pictures")
def _pictures(_exercise: OpenExercise, folder: str, sha256: str) -> dict[str, tuple[bytes, float, float]]:
    """Pictures of an exercise; its answer's checksum tells one exercise from another of the same name."""
    return {piece.key: (shown.webp(), shown.width_mm, shown.height_mm) for piece, shown in piece_pictures(_exercise)}


def draw_make(cat: Catalogue) -> None:
    """A form for a new exercise."""
    name = st.text_input("Name of the exercise", key=actions.NAME)
    columns = st.columns(5)
    pots = int(columns[0].number_input("Pots", 2, 4, 2, key="exercise_pots"))
    alike = columns[1].slider(
        "How alike", 0.0, 1.0, 0.5, 0.05, key="exercise_alike", help="0 unrelated, 1 nearly identical"
    )
    sherds = int(columns[2].number_input("Sherds, about", 8, 120, 30, key="exercise_sherds"))
    lost = columns[3].slider("Share lost", 0.0, 0.6, 0.15, 0.05, key="exercise_lost")
    technique = columns[4].selectbox("Technique", [DRAWN, *TECHNIQUES], key="exercise_technique")
    seed = int(st.number_input("Seed: the same number gives the same exercise", 0, 1_000_000, 1, key="exercise_seed"))
    wish = ExerciseSettings(pots, alike, seed, sherds, lost, None if technique == DRAWN else technique)
    st.button("Make it", type="primary", on_click=jobs.ask_for, args=(actions.MAKE,), disabled=not name.strip())
    jobs.do_waiting(actions.MAKE, partial(actions.make, wish, name.strip()))


def draw_sorting(cat: Catalogue) -> None:
    """The wall of piles, hints, and the mark."""
    names = exercises_in(actions.exercise_folder(cat))
    if not names:
        show('<p class="m-say">There is no exercise in this collection yet: make one.</p>')
        return
    left, right = st.columns([2, 1], vertical_alignment="bottom")
    name = left.selectbox("Exercise", names, key="exercise_open")
    number = int(right.number_input("Piles", 2, len(PILES), 3, key="exercise_piles"))
    exercise = actions.opened_exercise(cat, name)
    jobs.do_waiting(actions.MACHINE, partial(actions.sort_exercise, exercise))
    piles = actions.piles_of(exercise)
    draw_tools(exercise)
    picked = st.session_state.get(actions.PICKED, [])
    draw_moving(exercise, picked, number)
    pictures = {
        key: Picture(address_of(webp, "image/webp", f"exercise-{key}"), width, height, True)
        for key, (webp, width, height) in _pictures(exercise, str(exercise.folder), _sealed(exercise)).items()
    }
    wall = pile_wall([piece.key for piece in exercise.pieces], piles, number, picked)
    show_wall(wall, pictures, key="exercise", on_pick=actions.toggle, on_move=partial(actions.move, exercise))


def draw_tools(exercise: OpenExercise) -> None:
    """Begin, hint, mark, the program's try, paper; and what was said."""
    with st.container(horizontal=True):
        st.button("Begin again", on_click=actions.begin, args=(exercise,))
        st.button("A hint", on_click=actions.give_hint, args=(exercise,))
        st.button("Mark it", type="primary", on_click=actions.mark, args=(exercise,))
        is_sorted = machine_piles(exercise) is not None
        st.button("Let the program sort it", on_click=jobs.ask_for, args=(actions.MACHINE,), disabled=is_sorted)
        sheet = exercise.folder / CUT_OUT
        if sheet.is_file():
            st.download_button(
                "Sheet to cut out (PDF)",
                sheet.read_bytes(),
                file_name=f"{exercise.name} {CUT_OUT}",
                mime="application/pdf",
                on_click="ignore",
            )
    show(lines(st.session_state.get(actions.HINTS, [])))
    marked = st.session_state.get(actions.MARK)
    if marked is not None and marked[0] == exercise.name:
        show(mark_html(marked[1]))
        show(lines(marked[1].explained))


def draw_moving(exercise: OpenExercise, picked: list[str], number: int) -> None:
    """The list twin of dragging: choose sherds and their pile."""
    with st.expander("Move by list"):
        keys = [piece.key for piece in exercise.pieces]
        chosen = st.multiselect(
            "Sherds", keys, default=[key for key in picked if key in keys], key="exercise_chosen_" + "-".join(picked)
        )
        target = st.selectbox("To", [*PILES[:number], "aside"], key="exercise_target")
        st.button("Move them", on_click=actions.move, args=(exercise, chosen, target), disabled=not chosen)


def draw_quiz(cat: Catalogue) -> None:
    """The next question, with its picture."""
    kind = st.selectbox("Ask about", ["anything", *KINDS], key="quiz_kind")
    learner = analyst()
    if not learner:
        show(notice("note", "type your name at the top of the page: the quiz keeps where you stand"))
        return
    try:
        question = next_question(cat, learner, kind=None if kind == "anything" else kind)
    except InputError as reason:
        show(notice("note", str(reason)))
        return
    if question is None:
        show('<p class="m-say">Nothing is due today. Come back tomorrow.</p>')
        return
    shown = pictures_of(cat, [cat.sherd(question.sherd)], "quiz")[question.sherd]
    show(figures_html([Figure("", shown.url, shown.width_mm, shown.height_mm)], 420))
    place = "new" if question.box == 0 else f"box {question.box}"
    show(f'<p class="m-number">{safe(question.words)} ({place})</p>')
    # A list shows terms exactly as they are; radio buttons would read them as markup.
    term = st.selectbox(
        "Your answer",
        question.options,
        index=None,
        placeholder="choose",
        key=f"quiz_{question.sherd}_{question.kind}_{question.box}",
    )
    st.button(
        "Answer",
        type="primary",
        on_click=actions.answer,
        args=(question.sherd, question.kind, term or ""),
        disabled=term is None,
    )


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    if cat is None:
        empty_state(
            "There is no collection yet. Add photographs, or make an exercise with the command practice.",
            page_file="motifs/ui/pages/photographs.py",
            label="Add photographs",
        )
        return
    view = st.segmented_control("View", VIEWS, default=VIEWS[0], key="practice_view", label_visibility="collapsed")
    if view == "Make an exercise":
        draw_make(cat)
    elif view == "Quiz":
        draw_quiz(cat)
    elif view == "The class":
        summary = class_summary(cat)
        show(class_html(summary) if summary.learners else '<p class="m-say">Nobody practised here yet.</p>')
    else:
        draw_sorting(cat)


def _sealed(exercise: OpenExercise) -> str:
    return (
        f"{exercise.answer['seed']}-{len(exercise.pieces)}-{exercise.pieces[0].outline_px[0] if exercise.pieces else 0}"
    )


draw_page("Sort pots that were broken for practice, and learn what tells.", draw, CAUTIONS)
