"""The panel beside the sorting table: one sherd, why it lies where it lies, and what can be said of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import MotifsError
from motifs.ui.actions import sorting as actions
from motifs.ui.choosing import BESIDE, SHERD, chosen
from motifs.ui.components.large_pictures import show_sherds
from motifs.ui.components.markup import show
from motifs.ui.presenters.photographs import size_words
from motifs.ui.presenters.sorting import (
    VESSEL_PREFIX,
    next_best_words,
    pair_html,
    question_words,
    reasons_html,
    support_words,
    vessel_of_row,
    vessel_title,
)
from motifs.ui.presenters.text import notice, safe
from motifs.ui.session import NAMELESS, analyst, told
from motifs.workflows.moves import free_vessel_name
from motifs.workflows.pairs import reasons_of_pair
from motifs.workflows.table import LotTable, TableSherd
from motifs.workflows.tell import DIFFERENT, SAME

if TYPE_CHECKING:
    from collections.abc import Callable

    from motifs.catalogue import Catalogue
    from motifs.workflows.sorting import PairQuestion

PANEL_PICTURE_PX = 290
QUESTION_PICTURE_PX = 230
NO_SHERD = "none open"


def draw_panel(cat: Catalogue, table: LotTable, question: PairQuestion | None) -> None:
    """The list twin of the wall, and the sherd that is open; without one, the question that would help most."""
    numbers = sorted(sherd.number for sherd in table.sherds)
    number = chosen(SHERD, "Sherd", numbers, empty=NO_SHERD)
    if number is not None:
        draw_sherd(cat, table, table.sherd(number), numbers)
    elif question is not None:
        draw_question(cat, table, question)
    elif table.is_sorted:
        show('<p class="m-say">No question is open. Choose a sherd to see why it lies where it lies.</p>')
    draw_accept(table)


def draw_question(cat: Catalogue, table: LotTable, question: PairQuestion) -> None:
    """The pair whose answer would help most."""
    with st.container(border=True, key="question"):
        show(f'<p class="m-number">{safe(question_words(question))}</p>')
        show_sherds(cat, (question.a, question.b), QUESTION_PICTURE_PX, key="asked")
        answer_buttons(table, question.a, question.b, key="asked")
        show(f'<p class="m-say"><span class="m-strong">Why this pair:</span> {safe(question.why)}.</p>')
        draw_pair_reasons(cat, question.a, question.b)


def draw_sherd(cat: Catalogue, table: LotTable, sherd: TableSherd, numbers: list[str]) -> None:
    """One sherd: picture, place, reasons, and what can be done with it."""
    number = sherd.number
    show_sherds(cat, (number,), PANEL_PICTURE_PX, key="panel")
    show(f'<p class="m-say">{safe(size_words(cat.sherd(number)))}</p><p class="m-say">{safe(support_words(sherd))}</p>')
    st.subheader("Why", anchor=False)
    show(reasons_html(sherd))
    show(f'<p class="m-say"><span class="m-strong">Next best:</span> {safe(next_best_words(sherd))}</p>')
    draw_move(table, sherd)
    draw_pair(cat, table, number, numbers)
    st.page_link(
        "motifs/ui/pages/comparanda.py",
        label="Comparanda of this sherd",
        query_params={"lot": table.lot, "sherd": number},
    )


def _row_words(row: str) -> str:
    vessel = vessel_of_row(row)
    return row if vessel is None else vessel_title(vessel)


def draw_move(table: LotTable, sherd: TableSherd) -> None:
    """Move it to a vessel, to a new one, or aside."""
    st.subheader("Move", anchor=False)
    rows = [f"{VESSEL_PREFIX}{vessel.name}" for vessel in table.vessels if vessel.name != sherd.vessel]
    places = [*rows, actions.NEW_VESSEL, actions.PILE]
    place = st.selectbox("Move to", places, key=actions.MOVE_TO, format_func=_row_words)
    free = free_vessel_name(table)
    if place == actions.NEW_VESSEL:
        st.text_input("Name of the new vessel", key=actions.NEW_NAME, placeholder=free)
    st.text_input("Why (kept with your word)", key=actions.NOTE, placeholder="may stay empty")
    with st.container(horizontal=True):
        st.button("Move", on_click=actions.move_chosen, args=(table.lot, sherd.number, free))
        if sherd.judged_by is not None:
            st.button(
                "Leave to the proposals", on_click=actions.leave_to_proposals, args=(table.lot, sherd.number),
                help="Takes back the word that put it here.",
            )  # fmt: skip


def draw_pair(cat: Catalogue, table: LotTable, number: str, numbers: list[str]) -> None:
    """Set another sherd of the lot beside it."""
    st.subheader("Beside another sherd", anchor=False)
    others = [other for other in numbers if other != number]
    other = chosen(BESIDE, "Compare with", others, empty="none")
    if other is None:
        return
    show_sherds(cat, (number, other), QUESTION_PICTURE_PX, key="beside")
    draw_pair_reasons(cat, number, other)
    answer_buttons(table, number, other, key="pair")


def draw_pair_reasons(cat: Catalogue, a: str, b: str) -> None:
    """What the cues say of two sherds; where that cannot be said, one line says why."""
    try:
        show(pair_html(reasons_of_pair(cat, a, b, by=analyst() or NAMELESS)))
    except MotifsError as wrong:
        show(notice("note", told(wrong)))


def answer_buttons(table: LotTable, a: str, b: str, *, key: str) -> None:
    """Same, different, cannot tell; or take back what was said."""
    pair = (table.lot, a, b)
    with st.container(horizontal=True):
        if frozenset((a, b)) in table.told:
            show(f'<p class="m-say">Told: {safe(table.told[frozenset((a, b))])}.</p>')
            st.button("Take it back", key=f"{key}_withdraw", on_click=actions.withdraw, args=pair)
            return
        _answer("Same vessel", f"{key}_same", actions.tell, (*pair, SAME))
        _answer("Different vessels", f"{key}_different", actions.tell, (*pair, DIFFERENT))
        _answer("Can't tell", f"{key}_pass", actions.pass_over, pair)


def _answer(label: str, key: str, action: Callable[..., None], arguments: tuple[str, ...]) -> None:
    st.button(label, key=key, on_click=action, args=arguments)


def draw_accept(table: LotTable) -> None:
    """The list twin of the buttons in the rows."""
    open_rows = [f"{VESSEL_PREFIX}{vessel.name}" for vessel in table.vessels if not vessel.is_accepted]
    if not open_rows:
        return
    with st.expander("Accept a vessel"):
        st.selectbox("Vessel", open_rows, key=actions.ACCEPT, format_func=_row_words)
        st.button(
            "Accept",
            on_click=actions.accept,
            args=(table.lot,),
            help="Puts every sherd of it on your word. Undo takes it back.",
        )
