"""Signing in where a lab shares the page, through Streamlit's own OpenID Connect; without a service set up, nobody has to."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import streamlit as st

from motifs.errors import InputError, NotAllowed
from motifs.ui.components.name_keeper import keep_name
from motifs.ui.presenters.text import notice, safe
from motifs.ui.session import ANALYST, collection_folder, has_log_in, visitor

STYLE = Path(__file__).resolve().parent / "style.css"
MISSING = (
    "a log-in is set up, but the package Authlib is not installed; install it (README, A shared lab) and start again"
)


def is_let_in() -> bool:
    """Whether this visitor may see the pages; draws the way in for somebody who may not (yet)."""
    if not has_log_in():
        return True
    if not st.user.is_logged_in:
        _draw_way_in()
        return False
    try:
        visitor()
    except (NotAllowed, InputError) as wrong:
        _draw_head()
        st.html(notice("wrong", " ".join(str(wrong).split())))
        st.button("Sign out", on_click=st.logout)
        return False
    return True


def draw_style() -> None:
    """The looks of every page."""
    st.html(f"<style>{STYLE.read_text(encoding='utf-8')}</style>")


def _draw_head() -> None:
    draw_style()
    st.html(f'<p class="m-collection">Collection <strong>{safe(collection_folder().name)}</strong></p>')
    st.title("Sign in", anchor=False)


def _draw_way_in() -> None:
    _draw_head()
    if find_spec("authlib") is None:
        st.html(notice("wrong", MISSING))
        return
    st.html('<p class="m-say">The record keeps who made each judgement, so the lab asks you to sign in.</p>')
    st.button("Sign in", type="primary", on_click=st.login)


def draw_name() -> None:
    """Who is at the page: signed in, or the name to be typed."""
    if has_log_in():
        person = visitor()
        words = f"Signed in: <strong>{safe(person.name)}</strong>, role {safe(person.role.word)}"
        with st.container(horizontal=True, vertical_alignment="center", horizontal_alignment="right"):
            st.html(f'<p class="m-say">{words}</p>', width="content")
            st.button("Sign out", on_click=st.logout, type="tertiary")
        return
    keep_name()
    st.text_input(
        "Your name, for the record",
        key=ANALYST,
        placeholder="name or initials",
        help="Every judgement and correction is kept with the name of the person who made it.",
    )
