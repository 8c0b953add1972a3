"""Making the report of a lot or a site."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui.session import UNLOCKED, open_collection
from motifs.workflows.kept_reports import MadeReport, keep_report

if TYPE_CHECKING:
    from motifs.workflows import Progress

MAKE = "make_report"
REDUCTION = "report_reduction"
HANDED = "report_handed_over"
"""Where a report that is not kept waits for this visitor alone."""


def make(lot: str | None, site: str | None, by: str, progress: Progress) -> str:
    """The job: one report, kept, or with restricted material for this visitor only."""
    cat = open_collection()
    if cat is None:
        raise InputError("there is no collection yet; add photographs first")
    reduction = float(st.session_state.get(REDUCTION) or 2.0)
    made = keep_report(cat, lot=lot, site=site, reduction=reduction, by=by, progress=progress)
    what = f"lot {lot}" if lot is not None else f"site {site}"
    if made.is_kept:
        st.session_state.pop(HANDED, None)
        return f"The report of {what} is made and kept in the collection's folder, under exports/reports."
    st.session_state[HANDED] = made
    return (
        f"The report of {what} is made. It shows what is restricted, so it is not kept: save it now, for yourself only."
    )


def handed_over(lot: str | None, site: str | None) -> MadeReport | None:
    """The report that was made for this visitor only, as long as she may see what is in it."""
    made = st.session_state.get(HANDED)
    if not isinstance(made, MadeReport) or not st.session_state.get(UNLOCKED):
        return None
    return made if (made.mark.lot, made.mark.site) == (lot, site) else None
