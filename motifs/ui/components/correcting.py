"""Beside the photograph: what is chosen, what can be done with it, and the numeric twin of every gesture."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import MotifsError
from motifs.ui.actions import outlines as actions
from motifs.ui.components.large_pictures import show_sherds
from motifs.ui.components.markup import show
from motifs.ui.presenters.photographs import figure_facts, next_to_look, outline_words, rim_words, size_words
from motifs.ui.presenters.text import counted, facts, lines, notice, safe
from motifs.ui.session import NAMELESS, analyst, told
from motifs.workflows.figure_words import measured_lines
from motifs.workflows.measurements import ensure_figures

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue, PhotoRow, SherdRow

PICTURE_PX = 240
QUARTERS_DEG = (0, 90, 180, 270)


def draw_corrections(cat: Catalogue, photo: PhotoRow, sherds: tuple[SherdRow, ...], of_lot: Sequence[SherdRow]) -> None:
    """Everything that can be done with outlines of this photograph, by list and by number."""
    draw_waiting(of_lot)
    st.multiselect(
        "Chosen outlines",
        [sherd.number for sherd in sherds],
        key=actions.CHOICE,
        on_change=actions.choice_changed,
        placeholder="click on the photograph, or choose here",
    )
    draw_buttons(cat, photo.lot)
    draw_question()
    chosen = [sherd for sherd in sherds if sherd.number in actions.choice()]
    if len(chosen) == 1:
        draw_sherd(cat, chosen[0])
    if chosen:
        draw_turning()
    draw_numbers(photo)


def draw_waiting(of_lot: Sequence[SherdRow]) -> None:
    """How many outlines of the lot ask for a look, and the way to the next."""
    waiting = [sherd for sherd in of_lot if sherd.look is not None]
    following = next_to_look(of_lot, actions.choice())
    if not waiting:
        show('<p class="m-say">No outline of this lot asks for a look.</p>')
        return
    with st.container(horizontal=True, vertical_alignment="center"):
        show(f'<p class="m-say m-strong">{counted(len(waiting), "outline")} of this lot to look at</p>')
        if following is not None:
            st.button(
                "Next to look at",
                on_click=actions.go_to,
                args=(following,),
                help=f"{following.number}: {following.look}",
            )


def draw_buttons(cat: Catalogue, lot: str) -> None:
    """What is done with the chosen outlines, and taking it back."""
    back, forth = cat.next_undo(lot), cat.next_redo(lot)
    with st.container(horizontal=True, gap="xxsmall"):
        st.button(
            "Looked over", on_click=actions.accept_chosen, help="The outline may stand: it asks for no look any more."
        )
        st.button(
            "Drop", on_click=actions.drop_chosen, help="What is no sherd after all. Its number is not used again."
        )
        st.button("Merge", on_click=actions.merge_chosen, help="Two or more outlines that are one sherd.")
    with st.container(horizontal=True, gap="xxsmall"):
        st.button(
            "Undo", on_click=actions.undo, args=(lot,), disabled=not back,
            help="Takes back the lot's latest change" + (f": {back[0].verb} {back[0].subject}." if back else "."),
        )  # fmt: skip
        st.button(
            "Redo", on_click=actions.redo, args=(lot,), disabled=forth is None,
            help="Does again what was taken back" + (f": {forth}." if forth else "."),
        )  # fmt: skip


def draw_question() -> None:
    """Before something goes of which people have spoken."""
    said = actions.asked_to_drop()
    if not said:
        return
    with st.container(border=True, key="drop_question"):
        show(f'<p class="m-say m-strong">{safe("Drop it all the same? This was said of it:")}</p>{lines(said)}')
        show('<p class="m-say">It stays in the history; undo brings everything back.</p>')
        with st.container(horizontal=True):
            st.button("Drop all the same", on_click=actions.drop_chosen)
            st.button("Keep", on_click=actions.forget_drop)


def draw_sherd(cat: Catalogue, sherd: SherdRow) -> None:
    """One sherd: as it stands, what was measured on it."""
    try:
        show_sherds(cat, (sherd.number,), PICTURE_PX, key="chosen")
    except MotifsError as wrong:
        show(notice("note", told(wrong)))
    pairs: list[tuple[str, object]] = [
        ("Size", size_words(sherd)), ("Outline", outline_words(sherd)), ("Rim up", rim_words(sherd)), ("Look at", sherd.look),
    ]  # fmt: skip
    show(facts(pairs))
    with st.expander("Measurements"):
        draw_figures(cat, sherd)


def draw_figures(cat: Catalogue, sherd: SherdRow) -> None:
    """Everything that was measured; where that cannot be done, one line says why."""
    try:
        ensure_figures(cat, [sherd], by=analyst() or NAMELESS)
    except MotifsError as wrong:
        show(notice("note", told(wrong)))
    else:
        show(facts(figure_facts(measured_lines(cat, sherd))))


def draw_turning() -> None:
    """The numeric twin of the arrow to the rim."""
    with st.expander("Rim up"):
        st.number_input(
            "Turn clockwise, degrees", min_value=-360.0, max_value=360.0, value=None, step=5.0, key=actions.TURN_DEG,
            placeholder="0 to 360", help="How far the photograph has to be turned for the rim to be at the top.",
        )  # fmt: skip
        with st.container(horizontal=True, gap="xxsmall"):
            st.button("Turn", on_click=actions.turn_chosen)
            for quarter in QUARTERS_DEG:
                st.button(f"{quarter}°", on_click=actions.turn_to, args=(float(quarter),))
            st.button("Not known", on_click=actions.forget_rim)


def draw_numbers(photo: PhotoRow) -> None:
    """The numeric twin of drawing: points as text."""
    with st.expander("Draw by numbers"):
        st.text_area(
            "Points, one x, y on each line", key=actions.POINTS, height=140,
            placeholder="412.5, 300\n480, 310.5\n455, 372",
            help=f"In px of the photograph, which is {photo.width_px} wide and {photo.height_px} high; 0, 0 is its upper left.",
        )  # fmt: skip
        with st.container(horizontal=True, gap="xxsmall"):
            st.button("Show the chosen outline", on_click=actions.show_points)
            st.button(
                "Redraw with these",
                on_click=actions.redraw_by_points,
                help="The points are the chosen sherd's outline.",
            )
            st.button(
                "Split along these",
                on_click=actions.split_by_points,
                help="The points are a stroke over the chosen sherd.",
            )
            st.button(
                "Add a sherd",
                on_click=actions.add_by_points,
                args=(photo.photo_id,),
                help="The points are its outline.",
            )
