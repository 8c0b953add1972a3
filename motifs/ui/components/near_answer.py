"""The answer to a question for comparanda: neighbours as a wall, and one of them closer, to keep."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.actions import comparanda as actions
from motifs.ui.choosing import BESIDE, opened
from motifs.ui.components.agreement import show_agreement
from motifs.ui.components.crop_wall import pictures_of, show_wall
from motifs.ui.components.kept_comparanda import draw_keep_form
from motifs.ui.components.markup import show
from motifs.ui.frame import empty_state
from motifs.ui.presenters.comparanda import (
    ORDERS,
    neighbour_rows,
    neighbours_wall,
    nothing_words,
    sifted,
    verdict_words,
)
from motifs.ui.presenters.text import lines, safe, table

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows.comparanda import Comparanda

HEAD = ("Rank", "Sherd", "Site", "Lot", "Similarity", "Same motif", "Places that agree")


def draw_answer(cat: Catalogue, found: Comparanda) -> None:
    """The neighbours, or that there are none."""
    show(lines(found.notes, kind="warn"))
    if not found.neighbours:
        empty_state(nothing_words(found))
        return
    show(f'<p class="m-say m-strong">{safe(verdict_words(found))}</p>' if found.is_comparable is not None else "")
    left, right = st.columns([3, 2])
    order = left.selectbox("Laid out", ORDERS, key=actions.ORDER, bind="query-params") or ORDERS[0]
    text = right.text_input(
        "Search", key=actions.SIFT, type="search", placeholder="number, lot or site", bind="query-params"
    )
    numbers = (found.query, *found.others, *(near.sherd for near in sifted(found.neighbours, text or "")))
    pictures = pictures_of(cat, [cat.sherd(number) for number in numbers], "near")
    wall = neighbours_wall(found, order, text or "", opened(BESIDE))
    show_wall(wall, pictures, key="near", on_pick=actions.look_closer)
    with st.expander("As a list"):
        show(table(HEAD, neighbour_rows(found), caption=f"Nearest to {found.query}, by {found.encoder}"))
    show(
        '<p class="m-say">Looking alike is not being of one vessel, or of one time: look at the sherds themselves.</p>'
    )


def draw_closer(cat: Catalogue, found: Comparanda) -> None:
    """One neighbour beside the sherd asked for, with the regions that agree; and keeping it."""
    st.subheader("Look closer", anchor=False)
    names = [near.sherd for near in found.neighbours]
    at = opened(BESIDE)
    st.session_state[actions.CLOSER] = at if at in names else names[0]

    def changed() -> None:
        actions.look_closer(st.session_state[actions.CLOSER])

    chosen = st.selectbox("Neighbour", names, key=actions.CLOSER, on_change=changed)
    with st.container(horizontal=True):
        place = names.index(chosen)
        for label, step, key in (("Before", -1, "Alt+Up"), ("Next", 1, "Alt+Down")):
            is_there = 0 <= place + step < len(names)
            there = names[place + step] if is_there else chosen
            st.button(label, on_click=actions.look_closer, args=(there,), disabled=not is_there, shortcut=key)
    near = next(near for near in found.neighbours if near.sherd == chosen)
    show_agreement(cat, found, near)
    draw_keep_form(cat, found, near.sherd)
    st.button(
        "Ask with this sherd instead",
        on_click=actions.ask_with,
        args=(near.lot, near.sherd),
        help="Opens the neighbour as the sherd to find comparanda for.",
    )
