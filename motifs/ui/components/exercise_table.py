"""An exercise to sort: its sherds on a wall of piles, hints, the mark, and then the answer."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui import jobs
from motifs.ui.actions import practice as actions
from motifs.ui.components.browser_code import address_of
from motifs.ui.components.crop_wall import show_wall
from motifs.ui.components.markup import show
from motifs.ui.components.sifted_table import draw_grid
from motifs.ui.presenters.practice import PILES, STEPS, answer_wall, mark_html, pile_wall, turns_grid
from motifs.ui.presenters.text import counted, lines, safe
from motifs.ui.presenters.wall import Picture
from motifs.ui.session import analyst
from motifs.workflows.cut_out import piece_pictures
from motifs.workflows.exercise import machine_piles, pots_of_pieces
from motifs.workflows.practice import CUT_OUT

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows.exercise import OpenExercise


@st.cache_resource(max_entries=4, show_spinner="Getting the pictures")
def _kept_pictures(_exercise: OpenExercise, folder: str, sealed: str) -> dict[str, tuple[bytes, float, float]]:
    """Pictures of an exercise; its answer's checksum tells one exercise from another of the same name."""
    return {piece.key: (shown.webp(), shown.width_mm, shown.height_mm) for piece, shown in piece_pictures(_exercise)}


def draw_exercise(cat: Catalogue, names: tuple[str, ...]) -> None:
    """Choose one and sort it."""
    left, right = st.columns([2, 1], vertical_alignment="bottom")
    name = left.selectbox("Exercise", names, key=actions.OPEN, bind="query-params")
    number = int(right.number_input("Piles", 2, len(PILES), 3, key="exercise_piles", bind="query-params"))
    exercise = actions.opened_exercise(cat, name)
    jobs.do_waiting(actions.MACHINE, partial(actions.sort_exercise, exercise))
    piles = actions.piles_of(exercise)
    steps = "".join(f"<li>{safe(step)}</li>" for step in STEPS)
    show(f'<ol class="m-way">{steps}</ol>')
    draw_tools(exercise)
    picked = st.session_state.get(actions.PICKED, [])
    draw_keys(exercise, picked, number)
    pictures = exercise_pictures(exercise)
    wall = pile_wall([piece.key for piece in exercise.pieces], piles, number, picked)
    show_wall(wall, pictures, key="exercise", on_pick=actions.toggle, on_move=partial(actions.move, exercise))
    draw_moving(exercise, picked, number)
    draw_mark(exercise, pictures)
    if turns := cat.turns(analyst()) if analyst() else ():
        with st.expander("What you sorted before"):
            draw_grid(turns_grid(turns), key="turns")


def exercise_pictures(exercise: OpenExercise) -> dict[str, Picture]:
    """Every sherd's picture by its key."""
    sealed = (
        f"{exercise.answer['seed']}-{len(exercise.pieces)}-{exercise.pieces[0].outline_px[0] if exercise.pieces else 0}"
    )
    return {
        key: Picture(address_of(webp, "image/webp", f"exercise-{key}"), width, height, True)
        for key, (webp, width, height) in _kept_pictures(exercise, str(exercise.folder), sealed).items()
    }


def draw_tools(exercise: OpenExercise) -> None:
    """Begin, hint, mark, the program's try, paper; and what was said."""
    with st.container(horizontal=True):
        with st.popover("Begin again"):
            show('<p class="m-say">Every sherd goes back aside, and the clock starts anew.</p>')
            st.button("Put all back", on_click=actions.begin, args=(exercise,))
        st.button("A hint", on_click=actions.give_hint, args=(exercise,), shortcut="Alt+H")
        st.button("Mark it", type="primary", on_click=actions.mark, args=(exercise,), shortcut="Alt+M")
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
    hints = st.session_state.get(actions.HINTS, [])
    show(lines([one or "a hint that was given before the page was loaded anew" for one in hints]))


def draw_keys(exercise: OpenExercise, picked: list[str], number: int) -> None:
    """A key for each pile."""
    show(
        f'<p class="m-say m-strong">{safe(counted(len(picked), "sherd"))} picked'
        f"{'' if picked else ': click on some, then press a pile'}</p>"
    )
    with st.container(horizontal=True):
        for place, target in enumerate((*PILES[:number], "aside"), start=1):
            label = "Aside" if target == "aside" else f"Pile {target}"
            key = "Alt+0" if target == "aside" else f"Alt+{place}"
            st.button(
                label,
                key=f"to_{target}",
                on_click=actions.move,
                args=(exercise, picked, target),
                disabled=not picked,
                shortcut=key,
            )


def draw_moving(exercise: OpenExercise, picked: list[str], number: int) -> None:
    """The list twin of dragging: choose sherds and their pile."""
    with st.expander("Move by list"):
        keys = [piece.key for piece in exercise.pieces]
        chosen = st.multiselect(
            "Sherds", keys, default=[key for key in picked if key in keys], key="exercise_chosen_" + "-".join(picked)
        )
        target = st.selectbox("To", [*PILES[:number], "aside"], key="exercise_target")
        st.button("Move them", on_click=actions.move, args=(exercise, chosen, target), disabled=not chosen)


def draw_mark(exercise: OpenExercise, pictures: dict[str, Picture]) -> None:
    """After the mark: how it went, what was to be seen, and the pots as they were."""
    marked = st.session_state.get(actions.MARK)
    if marked is None or marked[0] != exercise.name:
        return
    _, found, piles = marked
    st.subheader("Your mark", anchor=False)
    show(mark_html(found))
    show(lines(found.explained))
    st.subheader("The pots as they were", anchor=False)
    show_wall(answer_wall(pots_of_pieces(exercise), piles), pictures, key="answer", on_pick=lambda _: None)
