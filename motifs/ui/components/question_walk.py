"""Open questions for one walk round the table: pairs side by side, each with its three answers."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.actions import sorting as actions
from motifs.ui.components.crop_wall import pictures_of
from motifs.ui.components.markup import show
from motifs.ui.components.sherd_panel import answer_buttons
from motifs.ui.presenters.figures import Figure, figures_html
from motifs.ui.presenters.sorting import question_words
from motifs.ui.presenters.text import counted, safe, table
from motifs.workflows.sorting_sheets import QUESTIONS_A_WALK, question_sheet_pdf

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows.table import LotTable

SIDE_PX = 170


def draw_walk(cat: Catalogue, lot_table: LotTable) -> None:
    """The questions, the most useful first; then what was left open."""
    asked = lot_table.questions[:QUESTIONS_A_WALK]
    if asked:
        with st.container(horizontal=True, vertical_alignment="center"):
            words = f"{counted(len(asked), 'question')} for one walk round the table, the most useful first."
            show(f'<p class="m-say">{words} Sort again after your answers.</p>')
            st.download_button(
                "Print the questions",
                data=partial(question_sheet_pdf, cat, lot_table.lot),
                file_name=f"{lot_table.lot} questions.pdf",
                mime="application/pdf",
                on_click="ignore",
            )
    else:
        show(f'<p class="m-say">{"No question is open." if lot_table.is_sorted else "Sort the lot first."}</p>')
    pictures = pictures_of(cat, [cat.sherd(n) for n in dict.fromkeys(n for q in asked for n in (q.a, q.b))], "walk")
    for place, question in enumerate(asked):
        with st.container(border=True, key=f"walk_{place}"):
            left, right = st.columns([2, 3], vertical_alignment="center")
            shown = [(number, pictures[number]) for number in (question.a, question.b)]
            with left:
                show(figures_html([Figure(n, p.url, p.width_mm, p.height_mm) for n, p in shown], SIDE_PX))
            with right:
                show(f'<p class="m-number">{safe(question_words(question))}</p>')
                show(f'<p class="m-say">{safe(question.why[:1].upper() + question.why[1:])}.</p>')
                answer_buttons(lot_table, question.a, question.b, key=f"walk_{place}", by_keys=place == 0)
    draw_left_open(cat, lot_table)


def draw_left_open(cat: Catalogue, lot_table: LotTable) -> None:
    """Pairs that were looked at and could not be told."""
    pairs = cat.open_pairs(lot_table.lot)
    if not pairs:
        return
    with st.expander(f"Left open ({len(pairs)})"):
        rows = [(pair.a, pair.b, pair.by, pair.at[:10]) for pair in pairs]
        show(table(("Sherd", "Sherd", "By", "When"), rows, caption="Could not be told; not asked again"))
        names = [f"{pair.a}, {pair.b}" for pair in pairs]
        at = st.selectbox("Pair", range(len(pairs)), format_func=names.__getitem__, key="left_open_pair")
        st.button("Ask again", on_click=actions.withdraw, args=(lot_table.lot, pairs[at].a, pairs[at].b))
