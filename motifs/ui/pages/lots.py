"""Lots: how far each has got, and what waits for a person."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.components.markup import show
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.lots import next_step, sifted, standing_facts
from motifs.ui.presenters.text import counted, facts, safe
from motifs.workflows.overview import LotStanding, lots_at_a_glance

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

ORDERS = ("as they came in", "name", "site", "most to do")
LOTS_A_PAGE = 24
LOTS_A_ROW = 3


def draw_lot(lot: LotStanding) -> None:
    """One lot as a card with the ways on."""
    step = next_step(lot)
    here = {"lot": lot.lot}
    with st.container(border=True, height="stretch"):
        show(f'<p class="m-number">{safe(lot.lot)}</p>{facts(standing_facts(lot))}')
        st.page_link(f"motifs/ui/pages/{step.page}.py", label=f"Next: {step.words}", query_params=here)
        with st.container(horizontal=True, gap="xxsmall"):
            st.page_link("motifs/ui/pages/photographs.py", label="Photographs", query_params=here)
            st.page_link("motifs/ui/pages/sorting_table.py", label="Sorting table", query_params=here)
            st.page_link("motifs/ui/pages/comparanda.py", label="Comparanda", query_params=here)


def draw_lots(lots: tuple[LotStanding, ...]) -> None:
    """All lots, sifted and ordered as asked."""
    left, right = st.columns([3, 1])
    words = left.text_input("Find a lot or site", placeholder="part of a name")
    order = right.selectbox("Order", ORDERS)
    kept = sifted(lots, words, order)
    show(f'<p class="m-say">{counted(len(kept), "lot")} of {len(lots)}</p>')
    pages = max(1, -(-len(kept) // LOTS_A_PAGE))
    at = int(st.number_input("Page", 1, pages, 1)) if pages > 1 else 1
    shown = kept[(at - 1) * LOTS_A_PAGE : at * LOTS_A_PAGE]
    for start in range(0, len(shown), LOTS_A_ROW):
        for column, lot in zip(st.columns(LOTS_A_ROW), shown[start:], strict=False):
            with column:
                draw_lot(lot)


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    lots = () if cat is None else lots_at_a_glance(cat)
    if lots:
        draw_lots(lots)
    else:
        empty_state(
            "Nothing here yet. Begin with photographs of one lot: washed, dried sherds on a plain backdrop, with a scale bar.",
            page_file="motifs/ui/pages/photographs.py",
            label="Add photographs",
        )


draw_page("How far each lot has got, and what waits for you.", draw)
