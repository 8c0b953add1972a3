"""The sorting table: vessels as rows of crops at one scale, the pile, the questions that would help most, a map, counts."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui import jobs
from motifs.ui.actions import sorting as actions
from motifs.ui.choosing import BESIDE, SHERD, chosen_lot, open_sherd, opened
from motifs.ui.components.crop_wall import pictures_of, show_wall
from motifs.ui.components.lot_map import draw_map
from motifs.ui.components.markup import show
from motifs.ui.components.question_walk import draw_walk
from motifs.ui.components.sherd_panel import draw_panel
from motifs.ui.components.sifted_table import draw_grid
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.cautions import SORTING
from motifs.ui.presenters.sifting import grid
from motifs.ui.presenters.sorting import history_rows, link_rows, standing_words, table_wall
from motifs.ui.presenters.table_views import COUNTS, MAP, QUESTIONS, VIEWS, counts_html
from motifs.ui.presenters.text import lines, notice, safe
from motifs.workflows.counts import lot_counts
from motifs.workflows.sorting_sheets import sorting_sheet_pdf
from motifs.workflows.table import LotTable, lay_out_table

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

HISTORY_LINES, HISTORY_ROWS = 1000, 60
VIEW = "view"


def draw_tools(cat: Catalogue) -> str | None:
    """Lot, number of vessels, sort, undo, redo, history, sheet; returns the lot."""
    lots = [lot.name for lot in cat.lots()]
    with st.container(horizontal=True, vertical_alignment="bottom"):
        lot = chosen_lot(lots, width_px=220)
        if lot is None:
            return None
        known = st.selectbox(
            "Number of vessels", (actions.FOUND_WORDS, actions.GIVEN_WORDS), key=actions.HOW_MANY, width=200
        )
        if known == actions.GIVEN_WORDS:
            st.number_input("How many", min_value=1, value=2, key=actions.GIVEN, width=130)
        st.button(
            "Sort",
            type="primary",
            on_click=jobs.ask_for,
            args=(actions.SORT,),
            help="Proposes vessels by the evidence. What people judged or locked stays.",
        )
        st.button(
            "Undo", on_click=actions.undo, args=(lot,), shortcut="Alt+Z", help="Takes back the lot's latest change."
        )
        st.button("Redo", on_click=actions.redo, args=(lot,), help="Does again what was taken back last.")
        with st.popover("History"):
            draw_history(cat, lot)
        st.download_button(
            "Print the table",
            data=partial(sorting_sheet_pdf, cat, lot),
            file_name=f"{lot} sorting table.pdf",
            mime="application/pdf",
            on_click="ignore",
            help="A PDF: crops at half size, number, vessel, support, a box to tick.",
        )
    return lot


def draw_history(cat: Catalogue, lot: str) -> None:
    """What was done, and what was told of pairs."""
    rows = history_rows(cat.history(lot, limit=HISTORY_LINES), most=HISTORY_ROWS)
    draw_grid(grid(("When", "Who", "What", ""), rows, f"Lot {lot}, newest first"), key="history")
    links = cat.links(lot)
    if links:
        draw_grid(grid(("Sherd", "Beside", "Told", "By", "When"), link_rows(links), "Words on pairs"), key="told")


def draw_table(cat: Catalogue, lot_table: LotTable) -> None:
    """The wall, and beside it the sherd that is open or else the question."""
    wall, side = st.columns([7, 3])
    lot = lot_table.lot
    question = lot_table.questions[0] if lot_table.questions and not opened(SHERD) else None
    with wall:
        show_wall(
            table_wall(lot_table, chosen=opened(SHERD), beside=opened(BESIDE), asked=question),
            pictures_of(cat, cat.sherds(lot), "table"),
            key="table",
            on_pick=open_sherd,
            on_move=lambda sherds, row: actions.move_to_row(lot, sherds, row),
            on_press=lambda row, button: actions.press_row(lot, row, button),
        )
    with side, st.container(key="side"):
        draw_panel(cat, lot_table, question)


def draw_lot(cat: Catalogue, lot: str) -> None:
    """Everything of one lot."""
    lot_table = lay_out_table(cat, lot)
    if not lot_table.sherds:
        empty_state(
            f"Lot {lot} has no sherds yet.", page_file="motifs/ui/pages/photographs.py", label="Add photographs"
        )
        return
    show(f'<p class="m-say m-strong">{safe(standing_words(lot_table))}</p>')
    show(lines(lot_table.notes, kind="warn"))
    if not lot_table.is_sorted:
        show(notice("note", "Press Sort to have vessels proposed. You can move sherds by hand before that, too."))
    elif not lot_table.is_current:
        show(notice("note", "Something was said or changed since the last sort. Sort again to use it."))
    view = st.radio("View", VIEWS, key=VIEW, horizontal=True, label_visibility="collapsed", bind="query-params")
    if view == QUESTIONS:
        draw_walk(cat, lot_table)
    elif view == MAP:
        draw_map(cat, lot_table)
    elif view == COUNTS:
        show(counts_html(lot_counts(cat, lot)))
    else:
        draw_table(cat, lot_table)


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    if cat is None or not cat.lots():
        empty_state("Nothing to sort yet.", page_file="motifs/ui/pages/photographs.py", label="Add photographs")
    else:
        lot = draw_tools(cat)
        if lot is not None:
            jobs.do_waiting(actions.SORT, partial(actions.sort, lot))
            draw_lot(cat, lot)


draw_page("Which sherds are of one vessel. The program proposes; your word stands.", draw, SORTING)
