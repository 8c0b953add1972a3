"""A table with a search, an order by any column, and pages where it is long."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.components.markup import show
from motifs.ui.presenters.sifting import AS_IT_IS, grid_html, ordered, paged, shown_words, sifted
from motifs.ui.presenters.text import safe

if TYPE_CHECKING:
    from motifs.ui.presenters.sifting import Grid

PAGE_ROWS = 100
FEW = 8
"""Tables of up to so many rows are read at a glance and have no search."""


def draw_grid(grid: Grid, *, key: str, few: int = FEW) -> None:
    """Draw it. key: unique on the page."""
    shown = grid
    if len(grid.rows) > few:
        columns = st.columns([4, 3, 2, 3], vertical_alignment="bottom")
        text = columns[0].text_input("Search the table", key=f"{key}_text", type="search", placeholder="any word")
        column = columns[1].selectbox("Order by", [AS_IT_IS, *dict.fromkeys(grid.head)], key=f"{key}_order")
        falling = columns[2].checkbox("Falling", key=f"{key}_falling", disabled=column == AS_IT_IS)
        kept = ordered(sifted(grid, text or ""), column, is_falling=falling)
        pages = max(1, -(-len(kept.rows) // PAGE_ROWS))
        with columns[3]:
            page = st.pagination(pages, key=f"{key}_page") if pages > 1 else 1
        shown = paged(kept, page, PAGE_ROWS)
        show(f'<p class="m-say">{safe(shown_words(len(shown.rows), len(kept.rows), len(grid.rows)))}</p>')
    show(grid_html(shown))
