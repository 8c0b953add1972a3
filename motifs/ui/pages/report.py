"""Report: a lot or a site written up, made here and saved as PDF or HTML."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui import jobs
from motifs.ui.actions import report as actions
from motifs.ui.choosing import LOT, SITE, chosen, chosen_lot, open_, opened
from motifs.ui.components.markup import show
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.cautions import SHARING, SHARING_TITLE
from motifs.ui.presenters.report import CONTENTS, KINDS, made_words, standing_words, unfinished
from motifs.ui.presenters.report import LOT as OF_LOT
from motifs.ui.presenters.text import lines, safe
from motifs.workflows.kept_reports import kept_report
from motifs.workflows.overview import lots_at_a_glance

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows.kept_reports import MadeReport

KIND = "report_of"


def draw_choice(cat: Catalogue) -> tuple[str | None, str | None]:
    """Of which lot or site; one of the two is a name."""
    sites = [site.name for site in cat.sites()]
    with st.container(horizontal=True, vertical_alignment="bottom"):
        if KIND not in st.session_state:
            st.session_state[KIND] = KINDS[opened(SITE) in sites]
        kind = st.radio("Report on", KINDS, key=KIND, horizontal=True, on_change=open_, args=(SITE, None))
        if kind == OF_LOT:
            return chosen_lot([lot.name for lot in cat.lots()], width_px=260), None
        return None, chosen(SITE, "Site", sites)


def draw_making(cat: Catalogue, lot: str | None, site: str | None, made: MadeReport | None) -> None:
    """What will be in it, what is still open, and the button."""
    show(f'<p class="m-say m-strong">What is in it</p>{lines(CONTENTS)}')
    if lot is not None:
        (standing,) = lots_at_a_glance(cat, [cat.lot(lot)])
        still = unfinished(standing)
        if still:
            show(f'<p class="m-say m-strong">Still open; the report will say so</p>{lines(still)}')
    kept_back = cat.withheld(lot)
    if kept_back:
        show(
            lines(
                [f"Restricted: {kept_back} of the sherds. They are left out, and the report says how many."],
                kind="warn",
            )
        )
    st.number_input(
        "Plates at 1 :", 1.0, 10.0, 2.0, step=0.5, key=actions.REDUCTION, format="%g", width=180,
        help="Decorated pieces are usually published at 1 : 2 or at true size, 1 : 1.",
    )  # fmt: skip
    st.button(
        "Make the report" if made is None else "Make it again",
        type="primary" if made is None or not made.is_current else "secondary",
        on_click=jobs.ask_for,
        args=(actions.MAKE,),
        kwargs={"needs_name": True},
    )


def draw_made(made: MadeReport | None) -> None:
    """The report that is there, to be saved."""
    show(f'<p class="m-say m-strong">{safe(standing_words(made))}</p>')
    if made is None:
        return
    show(f'<p class="m-say">{safe(made_words(made.mark))}</p>')
    with st.container(horizontal=True):
        st.download_button("Save the PDF", made.pdf, f"{made.stem}.pdf", "application/pdf", on_click="ignore")
        st.download_button(
            "Save the HTML (zip)", made.html_zip, f"{made.stem}.zip", "application/zip", on_click="ignore",
            help="One page for a browser, with everything in it; opens without a network.",
        )  # fmt: skip


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    if cat is None or not cat.lots():
        empty_state("Nothing to report on yet.", page_file="motifs/ui/pages/photographs.py", label="Add photographs")
        return
    lot, site = draw_choice(cat)
    if lot is None and site is None:
        empty_state("No lot has a site yet. Give one on the page of photographs, or report on a lot.")
        return
    with st.container(key="making"):
        jobs.do_waiting(actions.MAKE, partial(actions.make, lot, site))
    made = actions.handed_over(lot, site) or kept_report(cat, lot=lot, site=site)
    left, right = st.columns([3, 2])
    with left, st.container(border=True, height="stretch"):
        draw_making(cat, lot, site, made)
    with right, st.container(border=True, height="stretch"):
        draw_made(made)
    if lot is not None:
        open_(LOT, lot)


draw_page("A lot or a site written up, with its method and with what is uncertain.", draw, SHARING, cautions_title=SHARING_TITLE)
