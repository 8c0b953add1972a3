"""The typed name survives a reload of the tab: the browser keeps it, nobody else gets it."""

from __future__ import annotations

import streamlit as st

from motifs.ui.components.browser_code import component_named
from motifs.ui.session import ANALYST

KEY = "name_keeper"
LONGEST_NAME = 120


def keep_name() -> None:
    """Mount it; above the field in which the name is typed, since it may fill that."""

    def kept() -> None:
        sent = st.session_state.get(KEY, {}).get("kept")
        if isinstance(sent, str) and sent.strip() and not st.session_state.get(ANALYST):
            st.session_state[ANALYST] = sent.strip()[:LONGEST_NAME]

    mount = component_named("name_keeper", "<span></span>")
    mount(key=KEY, data={"name": str(st.session_state.get(ANALYST) or "")}, on_kept_change=kept)
