"""What to ask for comparanda with: the sherd or a part of it, what may be found, and the button."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui import jobs
from motifs.ui.actions import comparanda as actions
from motifs.ui.components.box_picture import draw_box_numbers, show_box_picture
from motifs.ui.components.markup import show
from motifs.ui.once import periods, term_counts
from motifs.ui.presenters.comparanda import box_words
from motifs.ui.presenters.photographs import size_words
from motifs.ui.presenters.text import facts, safe
from motifs.workflows.compared import likeness_of
from motifs.workflows.vectors import comparanda_encoder

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, SherdRow


def draw_query(cat: Catalogue, sherd: SherdRow) -> None:
    """The sherd asked for, with the box on it if only a part is compared."""
    box_px = actions.box(sherd.number)
    show_box_picture(cat, sherd, box_px, key="query", on_box=lambda drawn: actions.set_box(sherd.number, drawn))
    show(f'<p class="m-say">{safe(box_words(box_px))}</p>')
    if box_px is not None:
        st.button("Take the whole sherd", on_click=actions.set_box, args=(sherd.number, None))
    show(facts([("Site", sherd.site or "not recorded"), ("Lot", sherd.lot), ("Size", size_words(sherd))]))


def draw_form(cat: Catalogue, sherd: SherdRow) -> None:
    """What to look among, and the button; numbers for the box that can be dragged."""
    st.checkbox(
        "Other sites only",
        key=actions.OTHER_SITES,
        bind="query-params",
        help="Leaves out the sherd's own site, and lots whose site is not recorded.",
    )
    st.button("Find comparanda", type="primary", on_click=jobs.ask_for, args=(actions.FIND,), shortcut="Alt+F")
    jobs.do_waiting(actions.FIND, partial(actions.find, sherd.number))
    with st.expander("Narrow down"):
        draw_narrowing(cat)
    with st.expander("More sherds of the same decoration"):
        others = [number for number in cat.sherd_numbers(sherd.lot) if number != sherd.number]
        kept = [number for number in st.session_state.get(actions.ALSO, []) if number in others]
        st.session_state[actions.ALSO] = kept
        st.multiselect(
            "Ask with these sherds too",
            others,
            key=actions.ALSO,
            placeholder="none",
            help="Several sherds that show the same decoration are one question: their vectors are averaged.",
        )
    with st.expander("The part to compare, in numbers"):
        draw_box_numbers(cat, sherd, actions.BOX)


def draw_narrowing(cat: Catalogue) -> None:
    """What may be found."""
    sites = [site.name for site in cat.sites()]
    st.multiselect("Only these sites", sites, key=actions.SITES, placeholder="all sites", bind="query-params")
    counts = term_counts(cat)
    for label, key, kind in (
        ("Only with these tags", actions.TERMS, None),
        ("Only these techniques", actions.TECHNIQUES, "technique"),
        ("Only these positions", actions.POSITIONS, "position"),
    ):
        terms = sorted({term for of_kind, term in counts if kind in {None, of_kind}})
        if terms:
            st.multiselect(label, terms, key=key, placeholder="any", bind="query-params")
    if named := periods(cat):
        st.multiselect("Only of these periods", named, key=actions.PERIODS, placeholder="any", bind="query-params")
    st.text_input("Words in the record", key=actions.WORDS, placeholder="number, lot, site or tag", bind="query-params")
    st.number_input("At most", min_value=1, max_value=200, value=12, key=actions.TOP, bind="query-params")
    if likeness_of(comparanda_encoder()) is not None:
        st.slider(
            "Least probability of the same motif", 0.0, 1.0, 0.0, 0.05, key=actions.PROBABLE, bind="query-params",
            help="Fitted on practice pots: in a collection where few sherds share a motif it is too high.",
        )  # fmt: skip
    st.slider(
        "Least similarity", -1.0, 1.0, -1.0, 0.05, key=actions.LEAST, bind="query-params",
        help="From -1 to 1, larger is closer. It is no probability.",
    )  # fmt: skip
    st.checkbox(
        "Look for mirror images too",
        key=actions.MIRROR,
        bind="query-params",
        help="Lays the sherd's mirror image over the nearest as well, when it looks where two decorations agree.",
    )
