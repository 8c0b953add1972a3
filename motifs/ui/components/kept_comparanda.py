"""Keeping a comparandum with its reason, and the lists of what was kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.actions import comparanda as actions
from motifs.ui.components.markup import show
from motifs.ui.presenters.comparanda import kept_rows
from motifs.ui.presenters.text import safe, table
from motifs.workflows.comparanda_lists import list_csv

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows.comparanda import Comparanda

HEAD = ("Number", "Sherd", "Compared with", "Site", "Reason", "By")
CITED = (
    ("author", "Author"), ("year", "Year"), ("title", "Title"), ("pages", "Pages"), ("figure", "Figure or plate"),
    ("piece", "What it calls the piece"), ("holder", "Kept at"), ("inventory_number", "Inventory number"),
    ("rights", "Rights"),
)  # fmt: skip


def draw_keep_form(cat: Catalogue, found: Comparanda, sherd: str) -> None:
    """Keep this neighbour, with the reason."""
    names = [one.name for one in cat.comparanda_lists()]
    left, right = st.columns([2, 3])
    with left:
        st.selectbox(
            "List", names, key=actions.LIST, accept_new_options=True, index=None, placeholder="choose or type a name"
        )
    with right:
        st.text_input("Reason", key=actions.REASON, placeholder="what the two have in common")
    st.button("Keep as comparandum", on_click=actions.keep, args=(found.query, sherd))


def draw_published_form(query: str) -> None:
    """Keep a published piece by its citation."""
    columns = st.columns(3)
    for place, (name, label) in enumerate(CITED):
        columns[place % 3].text_input(label, key=actions.CITED + name)
    st.text_input("List it goes into", key=actions.PUBLISHED_LIST)
    st.text_input("Reason for the piece", key=actions.PUBLISHED_REASON)
    st.button(
        "Keep the published piece", on_click=actions.keep_published, args=(query, tuple(name for name, _ in CITED))
    )


def draw_lists(cat: Catalogue) -> None:
    """Every list, to read, to write out, and to take from."""
    lists = cat.comparanda_lists()
    if not lists:
        show('<p class="m-say">No list yet: find comparanda, look closer at one, and keep it with the reason.</p>')
        return
    name = st.selectbox("Show the list", [one.name for one in lists], key=actions.SHOWN_LIST)
    entries = cat.comparanda_in(name)
    show(table(HEAD, kept_rows(entries), caption=f"{name}: {len(entries)} comparanda"))
    st.download_button(
        "Write it as a table (CSV)",
        list_csv(cat, name).encode("utf-8-sig"),
        file_name="comparanda.csv",
        mime="text/csv",
    )
    number = st.selectbox("Take out number", [one.entry_id for one in entries], key=actions.TAKEN_OUT)
    st.button("Take it out", on_click=actions.drop, args=(number,))
    show(f'<p class="m-say">{safe("Undo in the lot brings it back.")}</p>')
