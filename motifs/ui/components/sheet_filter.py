"""What of the catalogue is shown, and which page of it: kept in the address, so that a reload shows the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.catalogue import TAG_KINDS, SherdFilter
from motifs.ui.actions import tagging as actions
from motifs.ui.choosing import LOT, opened
from motifs.ui.components.markup import show
from motifs.ui.once import term_counts
from motifs.ui.presenters.contact_sheet import PAGE_SIZES, last_page, page_words
from motifs.ui.presenters.text import safe

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, SherdPage

EVERY_LOT, EVERY_SITE, ANY = "every lot", "every site", "any"
NO_TAG = "no such tag yet"
ORDERS = {"by number": "number", "newest first": "newest", "largest first": "largest"}
PICTURES, TABLE, PLATES = VIEWS = ("Pictures", "Table", "Plates")


def draw_filter(cat: Catalogue) -> SherdFilter:
    """What is shown; every change begins at the first page again."""
    lots, sites = [lot.name for lot in cat.lots()], [site.name for site in cat.sites()]
    if "sheet_lot" not in st.session_state and "sheet_lot" not in st.query_params and opened(LOT) in lots:
        st.session_state["sheet_lot"] = opened(LOT)
    again = actions.first_page
    columns = st.columns([3, 3, 2, 3, 3, 2])
    lot = columns[0].selectbox(
        "Lot", [EVERY_LOT, *lots], key="sheet_lot", on_change=actions.change_lot, args=(EVERY_LOT,), bind="query-params"
    )
    site = columns[1].selectbox("Site", [EVERY_SITE, *sites], key="sheet_site", on_change=again, bind="query-params")
    kind = columns[2].selectbox(
        "Tags of kind", [ANY, *TAG_KINDS], key="sheet_kind", on_change=again, bind="query-params"
    )
    of_kind = None if kind == ANY else kind
    terms = list(dict.fromkeys(term for _, term in term_counts(cat, of_kind)))
    term = columns[3].selectbox("Tag", [ANY, NO_TAG, *terms], key="sheet_term", on_change=again, bind="query-params")
    text = columns[4].text_input(
        "Search",
        key="sheet_text",
        type="search",
        placeholder="number, lot, site or tag",
        on_change=again,
        bind="query-params",
    )
    order = columns[5].selectbox("Order", list(ORDERS), key="sheet_order", on_change=again, bind="query-params")
    return SherdFilter(
        lot=None if lot == EVERY_LOT else lot,
        site=None if site == EVERY_SITE else site,
        kind=of_kind,
        term=None if term in {ANY, NO_TAG} else term,
        untagged=term == NO_TAG,
        text=text or "",
        order=ORDERS[order],
    )


def draw_pager(cat: Catalogue, wanted: SherdFilter) -> tuple[SherdPage, int, int]:
    """One page of the sheet, the way to the others; returns it, its number from 1, and the number of the last."""
    with st.container(horizontal=True, vertical_alignment="bottom"):
        view = st.segmented_control(
            "View", VIEWS, default=PICTURES, required=True, key="sheet_view", bind="query-params"
        )
        size = st.selectbox(
            "Sherds a page",
            PAGE_SIZES,
            index=1,
            key="sheet_size",
            on_change=actions.first_page,
            bind="query-params",
            width=130,
        )
        del view
        total = cat.sherd_lines(wanted, limit=1).total
        last = last_page(total, size)
        st.session_state[actions.PAGE] = min(max(1, int(st.session_state.get(actions.PAGE) or _page_asked())), last)
        number = int(st.number_input("Page", 1, last, key=actions.PAGE, width=130))
        st.query_params[actions.PAGE] = str(number)
        page = cat.sherd_lines(wanted, offset=(number - 1) * size, limit=size)
        st.button(
            "Page before",
            on_click=actions.turn_to,
            args=(number - 1,),
            disabled=number == 1,
            shortcut="Alt+PageUp",
        )
        st.button(
            "Next page", on_click=actions.turn_to, args=(number + 1,), disabled=number == last, shortcut="Alt+PageDown"
        )
        show(f'<p class="m-say">{safe(page_words(page))}; page {number} of {last}</p>')
    return page, number, last


def _page_asked() -> int:
    asked = opened(actions.PAGE) or ""
    return int(asked) if asked.isdecimal() and len(asked) < 7 else 1
