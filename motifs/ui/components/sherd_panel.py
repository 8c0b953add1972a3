"""The panel beside the sorting table: one sherd, why it lies where it lies, and what can be said of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import MotifsError
from motifs.ui.actions import sorting as actions
from motifs.ui.choosing import BESIDE, SHERD, chosen
from motifs.ui.components.large_pictures import show_sherds
from motifs.ui.components.markup import show
from motifs.ui.components.vessel_desk import draw_places, draw_vessels
from motifs.ui.presenters.photographs import size_words
from motifs.ui.presenters.sorting import (
    changes_html,
    next_best_words,
    pair_html,
    question_words,
    reasons_html,
    support_words,
)
from motifs.ui.presenters.text import notice, safe
from motifs.ui.session import NAMELESS, analyst, told
from motifs.workflows.changing import pair_changes, sherd_changes
from motifs.workflows.pairs import reasons_of_pair
from motifs.workflows.tell import DIFFERENT, SAME

if TYPE_CHECKING:
    from collections.abc import Callable

    from motifs.catalogue import Catalogue
    from motifs.workflows.sorting import PairQuestion
    from motifs.workflows.table import LotTable, TableSherd

PANEL_PICTURE_PX = 200
QUESTION_PICTURE_PX = 170
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
    draw_vessels(table)


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
    show(changes_html(sherd_changes(table, sherd)))
    draw_move(table, sherd)
    draw_pair(cat, table, number, numbers)
    st.page_link(
        "motifs/ui/pages/comparanda.py",
        label="Comparanda of this sherd",
        query_params={"lot": table.lot, "sherd": number},
    )


def draw_move(table: LotTable, sherd: TableSherd) -> None:
    """Move it to a vessel, to a new one, or aside."""
    st.subheader("Move", anchor=False)
    draw_places(table, [sherd.number], without=sherd.vessel)
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
        reasons = reasons_of_pair(cat, a, b, by=analyst() or NAMELESS)
        show(pair_html(reasons) + changes_html(pair_changes(reasons)))
    except MotifsError as wrong:
        show(notice("note", told(wrong)))


def answer_buttons(table: LotTable, a: str, b: str, *, key: str, by_keys: bool = True) -> None:
    """Same, different, cannot tell; or take back what was said. by_keys: keys answer this pair, which only one of a page can have."""
    pair = (table.lot, a, b)
    with st.container(horizontal=True):
        if frozenset((a, b)) in table.told:
            show(f'<p class="m-say">Told: {safe(table.told[frozenset((a, b))])}.</p>')
            st.button("Take it back", key=f"{key}_withdraw", on_click=actions.withdraw, args=pair)
            return
        _answer("Same vessel", f"{key}_same", actions.tell, (*pair, SAME), "Alt+S" if by_keys else None)
        _answer("Different vessels", f"{key}_different", actions.tell, (*pair, DIFFERENT), "Alt+D" if by_keys else None)
        if frozenset((a, b)) in table.left_open:
            show('<p class="m-say">Left open: looked at, and could not be told.</p>')
            st.button("Ask again", key=f"{key}_again", on_click=actions.withdraw, args=pair)
        else:
            _answer("Can't tell", f"{key}_pass", actions.leave_open, pair, "Alt+T" if by_keys else None)


def _answer(
    label: str, key: str, action: Callable[..., None], arguments: tuple[str, ...], shortcut: str | None
) -> None:
    st.button(label, key=key, on_click=action, args=arguments, shortcut=shortcut)
