"""Asking for comparanda, the answer until another question is asked, and keeping what was chosen from it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui import jobs
from motifs.ui.actions import boxes
from motifs.ui.actions.boxes import box_of
from motifs.ui.choosing import BESIDE, LOT, open_, open_sherd, opened
from motifs.ui.session import act, open_collection
from motifs.workflows.comparanda import Comparanda, find_comparanda
from motifs.workflows.comparanda_lists import citation_of, drop_comparandum, keep_comparandum
from motifs.workflows.narrowing import Narrowing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import BoxPx, Catalogue
    from motifs.workflows import Progress

FIND = "comparanda"
OTHER_SITES, SITES, TOP, LEAST = "only_other_sites", "only_sites", "at_most", "least_similarity"
TECHNIQUES, POSITIONS, TERMS, WORDS = "only_techniques", "only_positions", "only_terms", "only_words"
PERIODS = "only_periods"
PROBABLE, MIRROR, ALSO = "least_probability", "with_mirror", "also_asked"
BOX = "box"
ANSWER = "comparanda_answer"
ASKED = "asked"
"""In the address: the sherd that was asked about, so that a reload asks again."""

CLOSER = "look_closer"
ORDER, SIFT = "near_order", "near_text"
KEPT_LOT = "kept_of_lot"
LIST, REASON, SHOWN_LIST, TAKEN_OUT = "keep_in_list", "keep_reason", "shown_list", "taken_out"
PUBLISHED_LIST, PUBLISHED_REASON, CITED = "published_list", "published_reason", "cited_"


def box(number: str) -> BoxPx | None:
    """The box in the form, if it belongs to this sherd and is one."""
    return box_of(BOX, number)


def set_box(number: str, box_px: BoxPx | None) -> None:
    """Put a box into the form."""
    boxes.set_box(BOX, number, box_px)


def find(number: str, by: str, progress: Progress) -> None:
    """The job: ask, and keep the answer."""
    cat = open_collection()
    if cat is None:
        raise InputError("there is no collection yet; add photographs first")
    state = st.session_state
    open_(ASKED, number)
    state[ANSWER] = find_comparanda(
        cat,
        number,
        others=[other for other in state.get(ALSO) or () if other != number],
        top=int(state.get(TOP) or 12),
        other_sites=bool(state.get(OTHER_SITES)),
        narrowing=_narrowing(),
        least_similarity=float(state.get(LEAST, -1.0)),
        least_probability=float(state.get(PROBABLE, 0.0)),
        box_px=box(number),
        with_mirror=bool(state.get(MIRROR)),
        by=by,
        progress=progress,
    )


def _narrowing() -> Narrowing:
    state = st.session_state
    return Narrowing(
        sites=tuple(state.get(SITES) or ()),
        periods=tuple(state.get(PERIODS) or ()),
        techniques=tuple(state.get(TECHNIQUES) or ()),
        positions=tuple(state.get(POSITIONS) or ()),
        tags=tuple(state.get(TERMS) or ()),
        text=str(state.get(WORDS) or ""),
    )


def ask_after_reload(number: str) -> None:
    """Ask again what this address had asked, where the visitor has no answer at all yet."""
    if ANSWER not in st.session_state and opened(ASKED) == number:
        st.session_state[ANSWER] = None
        jobs.ask_for(FIND)


def look_closer(number: str) -> None:
    """Show a neighbour beside the sherd asked about."""
    open_(BESIDE, number)


def ask_with(lot: str, number: str) -> None:
    """Take a neighbour for the sherd to ask about."""
    open_(LOT, lot)
    open_sherd(number)


def answer(number: str) -> Comparanda | None:
    """The latest answer, if it is of this sherd."""
    found = st.session_state.get(ANSWER)
    return found if isinstance(found, Comparanda) and found.query == number else None


def keep(query: str, sherd: str) -> None:
    """Callback: keep a neighbour in the list that the form names."""
    list_name, reason = str(st.session_state.get(LIST) or ""), str(st.session_state.get(REASON) or "")

    def work(cat: Catalogue, by: str) -> str:
        if not list_name:
            raise InputError("no list is named; choose one, or type the name of a new one")
        keep_comparandum(cat, list_name, query, sherd, reason, found=answer(query), by=by)
        st.session_state[KEPT_LOT] = cat.sherd(query).lot
        return f"{sherd} is kept as a comparandum of {query} in {list_name}"

    if act(work):
        st.session_state[REASON] = ""


def keep_published(query: str, fields: Sequence[str]) -> None:
    """Callback: keep a published piece by its citation."""
    state = st.session_state
    citation = citation_of({name: str(state.get(CITED + name) or "") for name in fields})
    list_name, reason = str(state.get(PUBLISHED_LIST) or ""), str(state.get(PUBLISHED_REASON) or "")

    def work(cat: Catalogue, by: str) -> str:
        keep_comparandum(cat, list_name, query, None, reason, citation=citation, by=by)
        st.session_state[KEPT_LOT] = cat.sherd(query).lot
        return (
            f"{citation.piece or citation.title or citation.author} is kept as a comparandum of {query} in {list_name}"
        )

    if act(work):
        for key in (*(CITED + name for name in fields), PUBLISHED_REASON):
            state[key] = ""


def drop(entry_id: int) -> None:
    """Callback: take an entry out of its list."""

    def work(cat: Catalogue, by: str) -> str:
        st.session_state[KEPT_LOT] = cat.sherd(cat.comparandum(entry_id).query).lot
        drop_comparandum(cat, entry_id, by=by)
        return f"number {entry_id} is taken out; Undo brings it back"

    act(work)
