"""Backs, numbers, rims: what the program proposes, confirmed or refused by a person."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.actions.sorting import undo
from motifs.ui.choosing import chosen_lot
from motifs.ui.components.confirming import draw_backs, draw_numbers, draw_rims
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.cautions import PHOTOGRAPHING

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

PANELS = {"Backs": draw_backs, "Numbers": draw_numbers, "Rims": draw_rims}


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    lots = [] if cat is None else [lot.name for lot in cat.lots()]
    if cat is None or not lots:
        empty_state("No sherd to look at yet.", page_file="motifs/ui/pages/photographs.py", label="Add photographs")
        return
    with st.container(horizontal=True, vertical_alignment="bottom"):
        lot = chosen_lot(lots, width_px=260)
        if lot is None:
            return
        # One panel at a time is drawn: each picture is cut from its original.
        panel = st.segmented_control(
            "What to confirm", list(PANELS), default="Backs", key="panel", bind="query-params", width="content"
        )
        st.button(
            "Undo",
            on_click=undo,
            args=(lot,),
            shortcut="Alt+Z",
            help="Takes back the lot's latest change, whatever it was.",
        )
    PANELS[panel or "Backs"](cat, lot)


draw_page("What the program proposes becomes a record when you say so.", draw, PHOTOGRAPHING)
