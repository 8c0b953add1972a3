"""What the catalogue page does: choose sherds, tag them, take tags off, undo."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui.presenters.text import counted, listed
from motifs.ui.session import act
from motifs.workflows.tagging import tag_sherds, untag_sherds

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue

CHOSEN, PAGE = "sheet_chosen", "sheet_page"
KIND, TERM, CONFIDENCE = "tag_kind", "tag_term", "tag_confidence"
NOT_STATED = "not stated"
CONFIDENCES = {NOT_STATED: None, "certain": 1.0, "likely": 0.8, "a guess": 0.5}


def chosen() -> list[str]:
    """Catalogue numbers that the next tag goes on, in the order they were chosen."""
    return list(st.session_state.get(CHOSEN, []))


def toggle(number: str) -> None:
    """Choose a sherd, or put it back."""
    now = chosen()
    st.session_state[CHOSEN] = [one for one in now if one != number] if number in now else [*now, number]


def choose(numbers: Sequence[str]) -> None:
    """Choose exactly these."""
    st.session_state[CHOSEN] = list(dict.fromkeys(numbers))


def turn_to(page: int) -> None:
    """Show another page of the sheet; the choice stays."""
    st.session_state[PAGE] = page


def first_page() -> None:
    """After a change of the filter: begin again, with nothing chosen that may be out of sight."""
    st.session_state[PAGE] = 1
    choose([])


def put(kind: str, term: str | None) -> None:
    """Put a term on the chosen sherds, in one change."""

    def work(cat: Catalogue, by: str) -> str:
        confidence = CONFIDENCES[st.session_state.get(CONFIDENCE, NOT_STATED)]
        done = tag_sherds(cat, chosen(), kind, _named(term), confidence=confidence, by=by)
        had = f"; {len(done.unchanged)} had it" if done.unchanged else ""
        return f"{kind} '{done.term}' put on {counted(len(done.changed), 'sherd')}{had}"

    act(work)


def take_off(kind: str, term: str | None) -> None:
    """Take a term off the chosen sherds, in one change."""

    def work(cat: Catalogue, by: str) -> str:
        done = untag_sherds(cat, chosen(), kind, _named(term), by=by)
        return f"{kind} '{done.term}' taken off {counted(len(done.changed), 'sherd')}"

    act(work)


def undo(lot: str) -> None:
    """Take back the lot's latest change."""

    def work(cat: Catalogue, by: str) -> str:
        with cat.transaction(by=by):
            events = cat.undo(lot)
        return f"taken back in lot {lot}: {listed([f'{event.verb} {event.subject}' for event in events], most=3)}"

    act(work)


def _named(term: str | None) -> str:
    if not term:
        raise InputError("no term is chosen; choose one from the list")
    return term
