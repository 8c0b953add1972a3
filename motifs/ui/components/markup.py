"""Showing HTML that presenters made; they escaped every text in it."""

from __future__ import annotations

import streamlit as st


def show(markup: str) -> None:
    """Show it; nothing for nothing."""
    if markup:
        st.html(markup)
