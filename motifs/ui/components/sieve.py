"""The tools over a list: find, show, order; what is asked stands in the address and survives a reload."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import streamlit as st

from motifs.ui.components.markup import show
from motifs.ui.presenters.sieves import Asked, Sieve, shown_words, sifted

if TYPE_CHECKING:
    from collections.abc import Sequence

_Thing = TypeVar("_Thing")

FEW = 4
"""Shorter lists are seen at a glance and get no tools."""


def sift(
    things: Sequence[_Thing], sieve: Sieve[_Thing], key: str, *, placeholder: str = "part of a number"
) -> list[_Thing]:
    """Draw the tools over a list, and return what is to be shown of it. key: unique on the page; in the address."""
    if len(things) < FEW:
        return list(things)
    with st.container(horizontal=True, vertical_alignment="bottom", key=f"sift_{key}"):
        words = st.text_input("Find", placeholder=placeholder, key=f"{key}_find", bind="query-params", width=200)
        kind = order = ""
        if sieve.kinds:
            kind = st.selectbox("Show", sieve.shows, key=f"{key}_show", bind="query-params", width=220)
        if sieve.orders:
            order = st.selectbox("Order", list(sieve.orders), key=f"{key}_order", bind="query-params", width=220)
    kept = sifted(things, sieve, Asked(words, kind, order))
    told = shown_words(len(kept), len(things))
    if told:
        show(f'<p class="m-say">{told}</p>')
    return kept
