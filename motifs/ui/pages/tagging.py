"""The catalogue: a contact sheet to look through, filter and tag, page by page."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.catalogue import TAG_KINDS, SherdFilter
from motifs.ui.actions import tagging as actions
from motifs.ui.choosing import LOT, opened
from motifs.ui.components.crop_wall import pictures_of, show_wall
from motifs.ui.components.markup import show
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.contact_sheet import (
    PAGE_SIZES,
    chosen_words,
    contact_wall,
    last_page,
    page_words,
    quick_terms,
    sheet_rows,
)
from motifs.ui.presenters.text import safe
from motifs.ui.presenters.wall import DEFAULT_PX_PER_MM
from motifs.workflows.vocabulary import terms_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue, SherdPage

EVERY_LOT, EVERY_SITE, ANY = "every lot", "every site", "any"
NO_TAG = "no such tag yet"
ORDERS = {"by number": "number", "newest first": "newest", "largest first": "largest"}
VIEWS = ("Pictures", "Table")


def draw_filter(cat: Catalogue) -> SherdFilter:
    """What is shown; every change begins at the first page again."""
    lots, sites = [lot.name for lot in cat.lots()], [site.name for site in cat.sites()]
    if "sheet_lot" not in st.session_state and opened(LOT) in lots:
        st.session_state["sheet_lot"] = opened(LOT)
    again = actions.first_page
    columns = st.columns([3, 3, 2, 3, 3, 2])
    lot = columns[0].selectbox("Lot", [EVERY_LOT, *lots], key="sheet_lot", on_change=again)
    site = columns[1].selectbox("Site", [EVERY_SITE, *sites], key="sheet_site", on_change=again)
    kind = columns[2].selectbox("Tags of kind", [ANY, *TAG_KINDS], key="sheet_kind", on_change=again)
    of_kind = None if kind == ANY else kind
    terms = list(dict.fromkeys(term for _, term in cat.tag_counts(of_kind)))
    term = columns[3].selectbox("Tag", [ANY, NO_TAG, *terms], key="sheet_term", on_change=again)
    text = columns[4].text_input("Search", key="sheet_text", placeholder="number, lot, site or tag", on_change=again)
    order = columns[5].selectbox("Order", list(ORDERS), key="sheet_order", on_change=again)
    return SherdFilter(
        lot=None if lot == EVERY_LOT else lot,
        site=None if site == EVERY_SITE else site,
        kind=of_kind,
        term=None if term in {ANY, NO_TAG} else term,
        untagged=term == NO_TAG,
        text=text,
        order=ORDERS[order],
    )


def draw_pager(cat: Catalogue, wanted: SherdFilter) -> SherdPage:
    """One page of the sheet, and the way to the others."""
    left, middle, right = st.columns([3, 4, 3], vertical_alignment="bottom")
    size = left.selectbox("Sherds a page", PAGE_SIZES, index=1, key="sheet_size", on_change=actions.first_page)
    total = cat.sherd_lines(wanted, limit=1).total
    last = last_page(total, size)
    number = min(int(st.session_state.get(actions.PAGE, 1)), last)
    page = cat.sherd_lines(wanted, offset=(number - 1) * size, limit=size)
    with middle.container(horizontal=True, vertical_alignment="center"):
        st.button(
            "Page before", on_click=actions.turn_to, args=(number - 1,), disabled=number == 1, shortcut="Alt+ArrowLeft"
        )
        st.button(
            "Next page",
            on_click=actions.turn_to,
            args=(number + 1,),
            disabled=number == last,
            shortcut="Alt+ArrowRight",
        )
        show(f'<p class="m-say">{safe(page_words(page))}; page {number} of {last}</p>')
    right.segmented_control("View", VIEWS, default=VIEWS[0], key="sheet_view", label_visibility="collapsed")
    return page


def draw_sheet(cat: Catalogue, page: SherdPage) -> None:
    """The page as pictures or as a table; either chooses."""
    tags = cat.tags_of([line.number for line in page.lines])
    if st.session_state.get("sheet_view") == "Table":
        rows = st.dataframe(
            sheet_rows(page, tags),
            key="sheet_table",
            hide_index=True,
            on_select="rerun",
            selection_mode="multi-row",
            height=520,
        )
        picked = [page.lines[row].number for row in rows["selection"]["rows"] if row < len(page.lines)]
        st.button("Choose the marked rows", on_click=actions.choose, args=(picked,), disabled=not picked)
        return
    pictures = pictures_of(cat, [cat.sherd(line.number) for line in page.lines], "sheet")
    wall = contact_wall(page, tags, actions.chosen(), DEFAULT_PX_PER_MM)
    show_wall(wall, pictures, key="sheet", on_pick=actions.toggle)


def draw_tagging(cat: Catalogue, page: SherdPage, wanted: SherdFilter) -> None:
    """What is chosen, and what to put on it."""
    numbers = [line.number for line in page.lines]
    chosen = actions.chosen()
    show(f'<p class="m-say m-strong">{safe(chosen_words(chosen))}</p>')
    with st.container(horizontal=True):
        st.button("Choose the page", on_click=actions.choose, args=([*chosen, *numbers],), shortcut="Alt+A")
        st.button("Choose none", on_click=actions.choose, args=([],), disabled=not chosen, shortcut="Alt+N")
    st.multiselect(
        "Chosen, as a list",
        list(dict.fromkeys([*chosen, *numbers])),
        default=chosen,
        key=f"sheet_list_{'|'.join(chosen)}",
        on_change=lambda: actions.choose(st.session_state[f"sheet_list_{'|'.join(chosen)}"]),
        placeholder="none",
    )
    kind = st.selectbox("Kind of tag", TAG_KINDS, key=actions.KIND)
    labels = [term.label for term in terms_of(cat, kind)]
    term = st.selectbox("Term", labels, index=None, key=actions.TERM, placeholder="type to search")
    st.selectbox("How sure", list(actions.CONFIDENCES), key=actions.CONFIDENCE)
    with st.container(horizontal=True):
        st.button("Put on", type="primary", on_click=actions.put, args=(kind, term), disabled=not (chosen and term))
        st.button("Take off", on_click=actions.take_off, args=(kind, term), disabled=not (chosen and term))
    draw_keys(quick_terms(cat.tag_counts(kind), kind, labels), kind, chosen)
    if wanted.lot is not None:
        st.button("Undo in this lot", on_click=actions.undo, args=(wanted.lot,))
    st.page_link("motifs/ui/pages/vocabulary.py", label="Terms and what they mean")


def draw_keys(terms: Sequence[str], kind: str, chosen: Sequence[str]) -> None:
    """A key for each of the nine terms used most; names stand beside the keys, since buttons would read them as markup."""
    entries = "".join(f"<li>{safe(term)}</li>" for term in terms)
    show(f'<p class="m-say">Keys of this kind:</p><ol class="m-plain">{entries}</ol>')
    with st.container(horizontal=True):
        for place, term in enumerate(terms, start=1):
            st.button(
                str(place),
                key=f"key_{place}",
                on_click=actions.put,
                args=(kind, term),
                disabled=not chosen,
                shortcut=f"Alt+{place}",
            )


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    if cat is None or not cat.lots():
        empty_state("No sherd to tag yet.", page_file="motifs/ui/pages/photographs.py", label="Add photographs")
        return
    wanted = draw_filter(cat)
    page = draw_pager(cat, wanted)
    sheet, tagging = st.columns([9, 3])
    with sheet:
        draw_sheet(cat, page)
    with tagging:
        draw_tagging(cat, page, wanted)


draw_page("Look through the sherds, and say what is on them.", draw)
