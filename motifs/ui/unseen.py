"""Two windows at one lot: an undo takes back what this window has shown, never what somebody did since in another one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui.presenters.text import listed

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

SEEN = "drawn_at_version"


def remember_drawing(cat: Catalogue) -> None:
    """Before a page is drawn: whatever is on record by now will be on it."""
    st.session_state[SEEN] = cat.version()


def refuse_unseen(cat: Catalogue, lot: str) -> None:
    """Before an undo in a lot.

    Raises
    ------
    InputError
        The change that would be taken back was made after this window was drawn. The window is drawn anew after this, so
        that a second press knows what it does.
    """
    seen = st.session_state.get(SEEN)
    news = [event for event in cat.next_undo(lot) if seen is not None and event.event_id > int(seen)]
    if news:
        what = listed([f"{event.verb} {event.subject}" for event in news], most=3)
        raise InputError(
            f"{news[0].by} changed lot {lot} in another window since this one was drawn ({what}), and nothing was taken back; "
            "look at it, then press Undo again if that is to be taken back"
        )
