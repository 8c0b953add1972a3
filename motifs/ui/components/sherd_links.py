"""A sherd that was clicked in a picture: its number, and the pages that open it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.components.markup import show
from motifs.ui.presenters.text import safe

if TYPE_CHECKING:
    from motifs.catalogue import SherdRow

PAGES = {
    "tagging": "Catalogue",
    "comparanda": "Comparanda",
    "records": "Record",
    "sorting_table": "Sorting table",
}
"""Pages that open a sherd by the address, and what they are called here."""


def draw_sherd_links(sherd: SherdRow, *, but: str = "", is_named: bool = True) -> None:
    """Links in one line. but: the page this is drawn on."""
    with st.container(horizontal=True, vertical_alignment="center"):
        if is_named:
            show(f'<p class="m-say m-strong">{safe(sherd.number)}</p>')
        for name, label in PAGES.items():
            if name != but:
                there = {"lot": sherd.lot, "sherd": sherd.number}
                st.page_link(f"motifs/ui/pages/{name}.py", label=label, query_params=there)
