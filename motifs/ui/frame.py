"""What every page has: its looks, its head, the person's name, notices, and a boundary for errors."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.jobs import tell_of_stopped
from motifs.ui.presenters.cautions import TITLE as CAUTIONS_TITLE
from motifs.ui.presenters.text import lines, safe
from motifs.ui.session import collection_folder, one_line_errors, open_collection, show_notices
from motifs.ui.sign_in import draw_name, draw_style
from motifs.ui.unseen import remember_drawing

if TYPE_CHECKING:
    from collections.abc import Callable

    from motifs.catalogue import Catalogue


def frame(title: str) -> None:
    """Draw what stands above every page; called by app.py before the page itself."""
    draw_style()
    left, right = st.columns([5, 2], vertical_alignment="bottom")
    with left:
        st.html(f'<p class="m-collection">Collection <strong>{safe(collection_folder().name)}</strong></p>')
        st.title(title, anchor=False)
    with right:
        draw_name()


def draw_page(
    lead: str,
    draw: Callable[[Catalogue | None], None],
    cautions: tuple[str, ...] = (),
    *,
    cautions_title: str = CAUTIONS_TITLE,
) -> None:
    """What the page is for, the usual cautions, notices, and the page itself.

    draw gets the open collection, or None where there is none yet; what it cannot draw becomes one line.
    """
    with st.container(horizontal=True, vertical_alignment="center"):
        st.html(f'<p class="m-lead">{safe(lead)}</p>', width="content")
        if cautions:
            with st.popover(cautions_title, type="tertiary"):
                st.html(lines(cautions))
    # A place of their own, also where there are none: what is drawn below must not move in the page's tree, or the browser
    # would build its components anew and forget what was being drawn on them.
    with st.container(key="notices"):
        with one_line_errors():
            tell_of_stopped(open_collection())
        show_notices()
    with one_line_errors():
        cat = open_collection()
        if cat is not None:
            remember_drawing(cat)
        draw(cat)


def empty_state(text: str, *, page_file: str | None = None, label: str = "") -> None:
    """What to do where nothing is there yet."""
    st.html(f'<p class="m-empty">{safe(text)}</p>')
    if page_file is not None:
        st.page_link(page_file, label=label)
