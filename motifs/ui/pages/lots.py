"""Lots: how far each lot has got, and what waits for a person."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.components.markup import show
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.lots import ORDERS, WAITS, sifted, stages, stages_html, standing_words, waiting, way_html
from motifs.ui.presenters.text import counted, safe
from motifs.workflows.overview import LotStanding, lots_at_a_glance

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

LOTS_A_PAGE = 12
STEPS_SHOWN = 3


def draw_lot(lot: LotStanding) -> None:
    """One lot as a card: what it is, what waits, and how far each kind of work has got, each a way to its page."""
    here = {"lot": lot.lot}
    steps = waiting(lot)
    with st.container(border=True, height="stretch", gap="xsmall"):
        show(f'<p class="m-number">{safe(lot.lot)}</p><p class="m-say">{safe(standing_words(lot))}</p>')
        show(f'<p class="m-say m-strong">{"Waits for you" if steps else "Nothing waits for you"}</p>')
        for step in steps[:STEPS_SHOWN]:
            st.page_link(f"motifs/ui/pages/{step.page}.py", label=step.words, query_params=here)
        if len(steps) > STEPS_SHOWN:
            show(f'<p class="m-say">and {counted(len(steps) - STEPS_SHOWN, "more thing")}</p>')
        show('<p class="m-say m-strong">How far it has got</p>')
        names, state = st.columns([4, 7], gap="small")
        with names, st.container(key=f"stages_{lot.lot}", gap=None):
            for stage in stages(lot):
                st.page_link(f"motifs/ui/pages/{stage.page}.py", label=stage.name, query_params=here)
        with state:
            show(stages_html(lot))


def draw_lots(cat: Catalogue) -> None:
    """All lots, sifted and ordered as asked; only those in sight are looked at closely."""
    with st.container(horizontal=True, vertical_alignment="bottom"):
        words = st.text_input("Find a lot or site", placeholder="part of a name", key="find", bind="query-params")
        waits_for = st.selectbox("Show lots with", WAITS, key="with", bind="query-params", width=260)
        order = st.selectbox("Order", ORDERS, key="order", bind="query-params", width=200)
        st.page_link("motifs/ui/pages/photographs.py", label="Add photographs of another lot")
    lots, tallies = cat.lots(), cat.lot_tallies()
    kept = sifted(lots, tallies, words, order, waits_for)
    show(f'<p class="m-say">{counted(len(kept), "lot")} of {len(lots)}</p>')
    if not kept:
        empty_state("No lot is like that. Shorten what you look for, or show all lots.")
    pages = max(1, -(-len(kept) // LOTS_A_PAGE))
    at = int(st.number_input("Page", 1, pages, 1, key="page", bind="query-params", width=160)) if pages > 1 else 1
    with st.container(key="lot_cards"):
        for lot in lots_at_a_glance(cat, kept[(at - 1) * LOTS_A_PAGE : at * LOTS_A_PAGE], tallies):
            draw_lot(lot)


def draw_practice() -> None:
    """The learner's own way in."""
    with st.container(border=True, key="practice_entrance"):
        show('<p class="m-number">Learning to sort?</p>')
        show(
            '<p class="m-say">Pots made and broken for practice: sort them by hand, with hints, and be marked. Nothing of it '
            "touches the lots.</p>"
        )
        st.page_link("motifs/ui/pages/practice.py", label="Practice")


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    if cat is not None and cat.lots():
        draw_lots(cat)
        draw_practice()
        return
    empty_state(
        "Nothing here yet. Begin with photographs of one lot: washed, dried sherds on a plain backdrop, with a scale bar.",
        page_file="motifs/ui/pages/photographs.py",
        label="Add photographs",
    )
    st.subheader("The way through", anchor=False)
    show(way_html())
    draw_practice()


draw_page("How far each lot has got, and what waits for you.", draw)
