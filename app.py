"""The page: its table of pages, and nothing else. `python -m motifs serve` starts it."""

from __future__ import annotations

import streamlit as st

from motifs.ui.frame import frame
from motifs.ui.sign_in import is_let_in

PAGES = (
    st.Page("motifs/ui/pages/lots.py", title="Lots", default=True),
    st.Page("motifs/ui/pages/photographs.py", title="Photographs"),
    st.Page("motifs/ui/pages/confirming.py", title="Backs, numbers, rims"),
    st.Page("motifs/ui/pages/sorting_table.py", title="Sorting table"),
    st.Page("motifs/ui/pages/layout.py", title="Layout"),
    st.Page("motifs/ui/pages/comparanda.py", title="Comparanda"),
    st.Page("motifs/ui/pages/sites.py", title="Sites"),
    st.Page("motifs/ui/pages/report.py", title="Report"),
    st.Page("motifs/ui/pages/tagging.py", title="Catalogue"),
    st.Page("motifs/ui/pages/records.py", title="Records"),
    st.Page("motifs/ui/pages/vocabulary.py", title="Vocabulary"),
    st.Page("motifs/ui/pages/second_look.py", title="Second look"),
    st.Page("motifs/ui/pages/practice.py", title="Practice"),
)

st.set_page_config(page_title="Motifs", layout="wide", initial_sidebar_state="collapsed")
chosen = st.navigation(list(PAGES), position="top")
if is_let_in():
    frame(chosen.title)
    chosen.run()
