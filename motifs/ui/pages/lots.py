"""Lots: how far each lot has got, and what waits for a person."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.components.markup import show
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.lots import ORDERS, sifted, stages_html, standing_facts, waiting, way_html
from motifs.ui.presenters.text import counted, facts, safe
from motifs.workflows.overview import LotStanding, lots_at_a_glance

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

LOTS_A_PAGE = 12
LOTS_A_ROW = 3
STEPS_SHOWN = 3


def draw_lot(lot: LotStanding) -> None:
    """One lot as a card: what it is, how far it has got, what waits, and the ways on."""
    here = {"lot": lot.lot}
    steps = waiting(lot)
    with st.container(border=True, height="stretch"):
        show(f'<p class="m-number">{safe(lot.lot)}</p>{facts(standing_facts(lot))}{stages_html(lot)}')
        show(f'<p class="m-say m-strong">{"Waits for you" if steps else "Nothing waits for you"}</p>')
        for step in steps[:STEPS_SHOWN]:
            st.page_link(f"motifs/ui/pages/{step.page}.py", label=step.words, query_params=here)
        if len(steps) > STEPS_SHOWN:
            show(f'<p class="m-say">and {counted(len(steps) - STEPS_SHOWN, "more thing")}</p>')
        with st.container(horizontal=True, gap="xxsmall"):
            st.page_link("motifs/ui/pages/photographs.py", label="Photographs", query_params=here)
            st.page_link("motifs/ui/pages/tagging.py", label="Catalogue", query_params=here)
            st.page_link("motifs/ui/pages/sorting_table.py", label="Sorting table", query_params=here)
            st.page_link("motifs/ui/pages/comparanda.py", label="Comparanda", query_params=here)


def draw_lots(cat: Catalogue) -> None:
    """All lots, sifted and ordered as asked; only those in sight are looked at closely."""
    left, right = st.columns([3, 1])
    words = left.text_input("Find a lot or site", placeholder="part of a name")
    order = right.selectbox("Order", ORDERS)
    lots = cat.lots()
    kept = sifted(lots, cat.lot_tallies(), words, order)
    show(f'<p class="m-say">{counted(len(kept), "lot")} of {len(lots)}</p>')
    pages = max(1, -(-len(kept) // LOTS_A_PAGE))
    at = int(st.number_input("Page", 1, pages, 1)) if pages > 1 else 1
    shown = lots_at_a_glance(cat, kept[(at - 1) * LOTS_A_PAGE : at * LOTS_A_PAGE])
    for start in range(0, len(shown), LOTS_A_ROW):
        for column, lot in zip(st.columns(LOTS_A_ROW), shown[start:], strict=False):
            with column:
                draw_lot(lot)
    st.page_link("motifs/ui/pages/photographs.py", label="Add photographs of another lot")


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    if cat is not None and cat.lots():
        draw_lots(cat)
        return
    empty_state(
        "Nothing here yet. Begin with photographs of one lot: washed, dried sherds on a plain backdrop, with a scale bar.",
        page_file="motifs/ui/pages/photographs.py",
        label="Add photographs",
    )
    st.subheader("The way through", anchor=False)
    show(way_html())


draw_page("How far each lot has got, and what waits for you.", draw)
