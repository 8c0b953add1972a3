"""Keeping a comparandum with its reason, and the lists of what was kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.actions import comparanda as actions
from motifs.ui.actions.tagging import undo
from motifs.ui.components.crop_wall import pictures_of, show_wall
from motifs.ui.components.markup import show
from motifs.ui.components.sherd_links import draw_sherd_links
from motifs.ui.presenters.comparanda import KEPT_HEAD, KEPT_ORDERS, kept_rows, kept_sifted, kept_wall
from motifs.ui.presenters.text import counted, safe, table
from motifs.workflows.comparanda_lists import list_csv

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, ComparandumRow
    from motifs.workflows.comparanda import Comparanda

CITED = (
    ("author", "Author"), ("year", "Year"), ("title", "Title"), ("pages", "Pages"), ("figure", "Figure or plate"),
    ("piece", "What it calls the piece"), ("holder", "Kept at"), ("inventory_number", "Inventory number"),
    ("rights", "Rights"),
)  # fmt: skip
PICKED = "picked_of_list"
MOST_SHOWN = 100
"""Entries of a list on one page."""


def draw_keep_form(cat: Catalogue, found: Comparanda, sherd: str) -> None:
    """Keep this neighbour, with the reason."""
    names = [one.name for one in cat.comparanda_lists()]
    st.selectbox(
        "List", names, key=actions.LIST, accept_new_options=True, index=None, placeholder="choose or type a name"
    )
    st.text_input("Reason", key=actions.REASON, placeholder="what the two have in common")
    st.button("Keep as comparandum", on_click=actions.keep, args=(found.query, sherd), shortcut="Alt+K")


def draw_published_form(cat: Catalogue, query: str) -> None:
    """Keep a published piece by its citation."""
    show(
        '<p class="m-say">A piece that is not in this collection is kept by its citation: at least the author, the title or what '
        "the publication calls it.</p>"
    )
    columns = st.columns(3)
    for place, (name, label) in enumerate(CITED):
        columns[place % 3].text_input(label, key=actions.CITED + name)
    names = ", ".join(one.name for one in cat.comparanda_lists()[:5])
    st.text_input("List it goes into", key=actions.PUBLISHED_LIST, placeholder=names or "a name, such as hooked bands")
    st.text_input("Reason for the piece", key=actions.PUBLISHED_REASON, placeholder="what the two have in common")
    st.button(
        "Keep the published piece", on_click=actions.keep_published, args=(query, tuple(name for name, _ in CITED))
    )


def draw_lists(cat: Catalogue) -> None:
    """Every list, to look at, to read, to write out, and to take from."""
    lists = cat.comparanda_lists()
    if not lists:
        show('<p class="m-say">No list yet: find comparanda, look closer at one, and keep it with the reason.</p>')
    else:
        columns = st.columns([3, 3, 2, 2])
        name = columns[0].selectbox(
            "Show the list", [one.name for one in lists], key=actions.SHOWN_LIST, bind="query-params"
        )
        text = columns[1].text_input("Search in it", key="kept_text", type="search", placeholder="any word")
        order = columns[2].selectbox("Order", KEPT_ORDERS, key="kept_order")
        entries = cat.comparanda_in(name)
        found = kept_sifted(entries, text or "", order)
        pages = max(1, -(-len(found) // MOST_SHOWN))
        with columns[3]:
            page = st.pagination(pages, key="kept_page") if pages > 1 else 1
        draw_list(cat, name, found[(page - 1) * MOST_SHOWN : page * MOST_SHOWN], len(entries))
    lot = st.session_state.get(actions.KEPT_LOT)
    if lot is not None and (waiting := cat.next_undo(lot)):
        st.button("Undo", key="undo_kept", on_click=undo, args=(lot,))
        show(f'<p class="m-say">{safe(f"Would take back: {waiting[0].verb} {waiting[0].subject}")}</p>')


def pick(number: str) -> None:
    """A click on a sherd of a list: which pages open it is told."""
    st.session_state[PICKED] = number


def draw_list(cat: Catalogue, name: str, entries: list[ComparandumRow], total: int) -> None:
    """The entries of a list as pictures and as a table."""
    numbers = dict.fromkeys(number for one in entries for number in (one.query, one.sherd) if number)
    pictures = pictures_of(cat, [cat.sherd(number) for number in numbers], "kept")
    at = st.session_state.get(PICKED)
    if at in numbers:
        draw_sherd_links(cat.sherd(at), but="comparanda")
        st.button("Ask with it", on_click=actions.ask_with, args=(cat.sherd(at).lot, at))
    show_wall(kept_wall(entries, at), pictures, key="kept", on_pick=pick)
    caption = f"{name}: {len(entries)} of {counted(total, 'comparandum', 'comparanda')}"
    with st.expander("As a table", expanded=True):
        show(table(KEPT_HEAD, kept_rows(entries), caption=caption))
    with st.container(horizontal=True, vertical_alignment="bottom"):
        st.download_button(
            "Write it as a table (CSV)",
            list_csv(cat, name).encode("utf-8-sig"),
            file_name="comparanda.csv",
            mime="text/csv",
            on_click="ignore",
            help="Every field of the citations, the reasons, and who judged when.",
        )
        number = st.selectbox("Take out number", [one.entry_id for one in entries], key=actions.TAKEN_OUT, width=180)
        st.button("Take it out", on_click=actions.drop, args=(number,), disabled=number is None)
