"""Comparanda: a sherd, or a part of it, and the nearest decorations."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.actions import comparanda as actions
from motifs.ui.choosing import SHERD, chosen, chosen_lot
from motifs.ui.components.ask_form import draw_form, draw_query
from motifs.ui.components.kept_comparanda import draw_lists, draw_published_form
from motifs.ui.components.near_answer import draw_answer, draw_closer
from motifs.ui.components.tag_proposals import draw_proposals
from motifs.ui.frame import draw_page, empty_state

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, SherdRow


def choose_sherd(cat: Catalogue) -> SherdRow | None:
    """Lot and sherd, from lists, or from the contact sheet of the lot."""
    left, right, sheet = st.columns([4, 4, 2], vertical_alignment="bottom")
    with left:
        lot = chosen_lot([lot.name for lot in cat.lots()])
    if lot is None:
        return None
    with right:
        number = chosen(SHERD, "Sherd", cat.sherd_numbers(lot))
    with sheet:
        st.page_link("motifs/ui/pages/tagging.py", label="Choose by picture", query_params={"lot": lot})
    return None if number is None else cat.sherd(number)


def draw_below(cat: Catalogue, sherd: SherdRow) -> None:
    """Tags proposed for the sherd, and the lists of what was kept."""
    st.subheader("Tags", anchor=False)
    draw_proposals(cat, sherd)
    st.subheader("Lists of comparanda", anchor=False)
    draw_lists(cat)
    with st.expander("Add a published piece"):
        draw_published_form(cat, sherd.number)


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    sherd = None if cat is None else choose_sherd(cat)
    if cat is None or sherd is None:
        empty_state("No sherd to compare yet.", page_file="motifs/ui/pages/photographs.py", label="Add photographs")
        return
    actions.ask_after_reload(sherd.number)
    query, answers, closer = st.columns([3, 5, 4])
    with query:
        draw_query(cat, sherd)
        draw_form(cat, sherd)
    found = actions.answer(sherd.number)
    with answers:
        if found is None:
            empty_state(f"Choose what to compare {sherd.number} with, then find comparanda.")
        else:
            draw_answer(cat, found)
    with closer, st.container(key="side"):
        if found is not None and found.neighbours:
            draw_closer(cat, found)
    draw_below(cat, sherd)


draw_page("Where else this decoration is known.", draw)
