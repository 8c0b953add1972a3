"""Asking for comparanda: the form, and the answer until another question is asked."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui.session import open_collection
from motifs.workflows.comparanda import Comparanda, find_comparanda
from motifs.workflows.narrowing import Narrowing

if TYPE_CHECKING:
    from motifs.catalogue import BoxPx
    from motifs.workflows import Progress

FIND = "comparanda"
OTHER_SITES, SITES, TOP, LEAST = "only_other_sites", "only_sites", "at_most", "least_similarity"
BOX_KEYS = ("box_x_px", "box_y_px", "box_width_px", "box_height_px")
ANSWER, BOXED = "comparanda_answer", "boxed_sherd"


def box(number: str) -> BoxPx | None:
    """The box in the form, if it belongs to this sherd and is one."""
    if st.session_state.get(BOXED) != number:
        set_box(number, None)
    x, y, width, height = (int(st.session_state.get(key) or 0) for key in BOX_KEYS)
    return (x, y, width, height) if width > 0 and height > 0 else None


def set_box(number: str, box_px: BoxPx | None) -> None:
    """Put a box into the form."""
    st.session_state[BOXED] = number
    for key, value in zip(BOX_KEYS, box_px or (0, 0, 0, 0), strict=True):
        st.session_state[key] = value


def find(number: str, by: str, progress: Progress) -> None:
    """The job: ask, and keep the answer."""
    cat = open_collection()
    if cat is None:
        raise InputError("there is no collection yet; add photographs first")
    state = st.session_state
    state[ANSWER] = find_comparanda(
        cat,
        number,
        top=int(state.get(TOP) or 12),
        other_sites=bool(state.get(OTHER_SITES)),
        narrowing=Narrowing(sites=tuple(state.get(SITES) or ())),
        least_similarity=float(state.get(LEAST, -1.0)),
        box_px=box(number),
        by=by,
        progress=progress,
    )


def answer(number: str) -> Comparanda | None:
    """The latest answer, if it is of this sherd."""
    found = st.session_state.get(ANSWER)
    return found if isinstance(found, Comparanda) and found.query == number else None
