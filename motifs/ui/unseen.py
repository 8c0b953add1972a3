"""Two windows at one lot: an undo takes back what this window has shown, never what somebody did since in another one.

Words that meet stand both in the history; whoever speaks second is told that there was a first.
"""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui.presenters.text import listed
from motifs.ui.session import say

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from motifs.catalogue import Catalogue

SEEN = "drawn_at_version"
LATEST = 200
"""Changes of the lot that are looked through for what others did meanwhile."""


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
    news = [event for event in cat.next_undo(lot) if event.event_id > _seen(cat)]
    if news:
        what = listed([f"{event.verb} {event.subject}" for event in news], most=3)
        raise InputError(
            f"{news[0].by} changed lot {lot} in another window since this one was drawn ({what}), and nothing was taken back; "
            "look at it, then press Undo again if that is to be taken back"
        )


@contextmanager
def telling_of_others(cat: Catalogue, lot: str, subjects: Sequence[str]) -> Iterator[None]:
    """Around a word on sherds: afterwards a note says what was done to the same ones after this window was drawn."""
    seen = _seen(cat)
    news = [
        event
        for event in cat.history(lot, limit=LATEST)
        if event.event_id > seen and event.is_undoable and not event.is_undone and event.subject in subjects
    ]
    yield
    if news:
        what = listed([f"{event.subject} ({event.verb} by {event.by})" for event in news], most=3)
        say(
            "note",
            f"Changed in another window since this one was drawn: {what}. Your word came second and stands now; the history keeps "
            "both, and Undo brings the first back.",
        )


def _seen(cat: Catalogue) -> int:
    """The latest event that this window can have shown; before the first drawing, all of them."""
    return int(st.session_state.get(SEEN) or cat.version())
