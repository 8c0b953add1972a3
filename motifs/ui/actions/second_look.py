"""What the second-look page does: begin, answer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui.presenters.text import counted
from motifs.ui.session import act
from motifs.workflows.agreement import begin_second_look, look_again

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

NAME, OPEN = "look_name", "look_open"


def begin(kind: str, size: int, seed: int, lot: str | None) -> None:
    """Draw the sample."""

    def work(cat: Catalogue, by: str) -> str:
        name = str(st.session_state.get(NAME) or "").strip()
        look = begin_second_look(cat, name, kind, size=size, seed=seed, lot=lot, by=by)
        st.session_state[OPEN] = look.name
        return f"second look '{look.name}': {counted(len(look.sherds), 'sherd')} to look at again"

    act(work)


def answer(name: str, number: str, term: str | None) -> None:
    """Record what is seen now; the next sherd comes up."""

    def work(cat: Catalogue, by: str) -> None:
        if not term:
            raise InputError("no term is chosen; choose what you see, or indeterminate")
        look_again(cat, name, number, term, by=by)

    act(work)
