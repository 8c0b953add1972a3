"""The dry layout of a vessel, its joins, the order of assembly, and what was decided and done."""

from __future__ import annotations

import datetime
from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui import jobs
from motifs.ui.actions import layout as actions
from motifs.ui.choosing import SHERD, VESSEL, chosen, chosen_lot, open_sherd, opened
from motifs.ui.components.layout_panels import draw_joins, draw_prints, draw_record, draw_sherd, draw_steps
from motifs.ui.components.layout_table import show_layout
from motifs.ui.components.markup import show
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.layout import standing_words
from motifs.ui.presenters.text import lines, notice, safe
from motifs.ui.session import NAMELESS, analyst
from motifs.workflows.joins import KIND as JOINS
from motifs.workflows.layout import VesselLayout, lay_out_vessel
from motifs.workflows.mending_cautions import MENDING
from motifs.workflows.snapping import SnapPlace, snap_places
from motifs.workflows.table import lay_out_table

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows import Progress


def lay(
    cat: Catalogue, lot: str, vessel: str, by: str, progress: Progress
) -> tuple[VesselLayout, tuple[SnapPlace, ...]]:
    """The layout of a vessel, and the places that its joins offer; told in two steps."""
    progress("laying out", 0, 2)
    laid = lay_out_vessel(cat, lot, vessel, by=by, progress=progress)
    progress("laying out", 1, 2)
    return laid, snap_places(cat, laid)


def draw_vessel(cat: Catalogue, lot: str, vessel: str) -> None:
    """Everything of one vessel."""
    by = analyst() or NAMELESS
    stamp = (str(cat.folder), lot, vessel, cat.version(lot), cat.is_unlocked)
    made = jobs.prepared("layout", stamp, partial(lay, cat, lot, vessel, by))
    if made is None:
        return
    laid, snaps = made
    show(f'<p class="m-say m-strong">{safe(standing_words(laid))}</p>')
    show(lines(laid.notes, kind="warn"))
    names = [one.sherd for one in laid.sherds]
    sherd = opened(SHERD) if opened(SHERD) in names else None
    table, side = st.columns([13, 7])
    with table:
        places = {one.sherd: (one.x_mm, one.y_mm, one.turn_deg) for one in laid.sherds}
        show_layout(
            cat,
            laid,
            snaps,
            sherd,
            key="layout",
            on_pick=open_sherd,
            on_laid=actions.lay,
            on_lock=lambda number: actions.switch_lock(lot, number, places[number]),
        )
    with side:
        at_sherd, at_joins, at_order, at_record, at_prints = st.tabs(["Sherd", "Joins", "Order", "Record", "Print"])
        with at_sherd:
            chosen(SHERD, "Sherd", names, empty="None")
            draw_sherd(laid, snaps, sherd)
        with at_joins:
            draw_joins(cat, laid, sherd)
        with at_order:
            draw_steps(laid)
        with at_record:
            draw_record(cat, laid, datetime.datetime.now(datetime.UTC).date())
        with at_prints:
            draw_prints(cat, laid)


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    sorting_page = "motifs/ui/pages/sorting_table.py"
    if cat is None or not cat.lots():
        empty_state("Nothing to lay out yet.", page_file="motifs/ui/pages/photographs.py", label="Add photographs")
        return
    with st.container(horizontal=True, vertical_alignment="bottom"):
        lot = chosen_lot([one.name for one in cat.lots()], width_px=240)
        if lot is None:
            return
        vessels = [vessel.name for vessel in lay_out_table(cat, lot).vessels]
        vessel = chosen(VESSEL, "Vessel", vessels, width_px=200)
        st.button(
            "Match edges",
            on_click=jobs.ask_for,
            args=(actions.LAY_OUT,),
            help="Proposes joins of the whole lot; words of people stay.",
        )
        st.button(
            "Undo", on_click=actions.undo, args=(lot,), shortcut="Alt+Z", help="Takes back the lot's latest change."
        )
        if vessel is not None:
            here = {"lot": lot, "vessel": vessel}
            st.page_link(sorting_page, label="This vessel on the sorting table", query_params=here)
    jobs.do_waiting(actions.LAY_OUT, partial(actions.match, lot))
    if vessel is None:
        empty_state(f"Lot {lot} has no vessels yet: sort it first.", page_file=sorting_page, label="Sorting table")
    elif cat.latest_proposal(lot, JOINS) is None:
        show(notice("note", "Edges of this lot were not matched yet. Press Match edges; 60 sherds take some seconds."))
    else:
        draw_vessel(cat, lot, vessel)


draw_page("Lay a vessel out dry, judge its joins, and plan before anything is glued.", draw, MENDING)
