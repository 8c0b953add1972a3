"""Long work: asked for in a callback, done where the page draws its progress, stopped by any other click.

A step of progress is also where Streamlit may end the run for another one; a transaction that is open then is rolled back. What
was stopped is told at the next drawing, with what is left of it in the record.
"""

from __future__ import annotations

import time
from collections import OrderedDict
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

import streamlit as st

from motifs.errors import MotifsError, NameRefused
from motifs.ui.presenters.allowed import require, role_of_job
from motifs.ui.presenters.progress import share_done, stage_words, stopped_words
from motifs.ui.session import NAMELESS, analyst, open_collection, say, told, visitor

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterator

    from streamlit.delta_generator import DeltaGenerator

    from motifs.catalogue import Catalogue
    from motifs.workflows import Progress

WAITING, RUNNING, HELD = "waiting_job", "running_job", "held_job"
PATIENCE_S = 0.6
MOST_KEPT = 6
"""Things of one kind that stay in memory, for all visitors."""

LINES_LOOKED_AT = 500
_Made = TypeVar("_Made")


def ask_for(job: str, *, needs_name: bool = False) -> None:
    """Let a page do this job when it is drawn next."""
    try:
        if needs_name and not analyst():
            raise NameRefused(
                "your name is missing: type it at the top of the page, so that the record says who did it"
            )
    except MotifsError as wrong:
        say("wrong", told(wrong))
        return
    st.session_state[WAITING] = job


def do_waiting(job: str, work: Callable[[str, Progress], str | None]) -> None:
    """Do the job if it was asked for: work(name, progress) returns what to say. Ends this drawing and starts a fresh one."""
    if st.session_state.get(WAITING) != job:
        return
    del st.session_state[WAITING]
    with _running(st.empty(), "job") as progress:
        progress("", 0, 0)
        try:
            # Here and not where it was asked for: whoever gets a job into the session by another way is refused as well.
            require(visitor(), role_of_job(job))
            line = work(analyst() or NAMELESS, progress)
        # The boundary of a job: a visitor gets a line, the log gets the traceback.
        except Exception as wrong:
            say("wrong", told(wrong))
        else:
            if line:
                say("done", line)
    st.rerun()


def prepared(name: str, stamp: tuple[Hashable, ...], work: Callable[[Progress], _Made]) -> _Made | None:
    """Something a page needs and that takes long: from memory, or made now with progress and a stop.

    Parameters
    ----------
    name : of the kind of thing. stamp : what it depends on, for all visitors.

    Returns
    -------
    The thing; None where this visitor stopped its making: then a line says so, with a button to go on.
    """
    # Also where it stays empty: what is drawn below must not move in the page's tree.
    place = st.empty()
    kept: OrderedDict[tuple[Hashable, ...], _Made] = _kept_things(name)
    if stamp in kept:
        kept.move_to_end(stamp)
        return kept[stamp]
    if st.session_state.get(HELD) == (name, stamp):
        with place.container(border=True):
            st.html('<p class="m-say">Stopped before it was finished.</p>')
            st.button("Go on", key=f"go_on_{name}", on_click=st.session_state.pop, args=(HELD,))
        return None
    with _running(place, name, stamp, wait_s=PATIENCE_S) as progress:
        made = work(progress)
    place.empty()
    kept[stamp] = made
    while len(kept) > MOST_KEPT:
        kept.popitem(last=False)
    return made


def tell_of_stopped(cat: Catalogue | None) -> None:
    """Say what became of a job that did not come to its end in the drawing before."""
    if RUNNING not in st.session_state:
        return
    before = st.session_state.pop(RUNNING)
    verbs = () if cat is None else verbs_since(cat, before, analyst() or NAMELESS)
    say("note", stopped_words(verbs))


def verbs_since(cat: Catalogue, version: int, by: str) -> tuple[str, ...]:
    """What somebody did since a version of the catalogue, as far as the latest lines of the history tell."""
    return tuple(
        event.verb for event in cat.history(limit=LINES_LOOKED_AT) if event.event_id > version and event.by == by
    )


@contextmanager
def _running(
    place: DeltaGenerator, name: str, stamp: tuple[Hashable, ...] | None = None, *, wait_s: float = 0.0
) -> Iterator[Progress]:
    """Show progress and a button to stop in a place; the session remembers a job until it comes to its end.

    stamp: of something prepared, None for a job. wait_s: nothing is shown before, so that what is quick does not make the page jump.
    """
    began = time.monotonic()
    bars: list[DeltaGenerator] = []

    def progress(stage: str, done: int, total: int) -> None:
        if not bars:
            if time.monotonic() - began < wait_s:
                return
            bars.append(_bar(place, name, stamp))
        bars[0].progress(share_done(done, total), text=stage_words(stage, done, total) if stage else "Starting")

    if stamp is None:
        cat = open_collection()
        st.session_state[RUNNING] = 0 if cat is None else cat.version()
    try:
        yield progress
    except Exception:
        st.session_state.pop(RUNNING, None)
        raise
    # An end that Streamlit forces is no Exception: then it stays, and the next drawing tells of it.
    st.session_state.pop(RUNNING, None)


def _bar(place: DeltaGenerator, name: str, stamp: tuple[Hashable, ...] | None) -> DeltaGenerator:
    with place.container(border=True):
        bar = st.progress(0.0)
        help_ = "Ends the work at its next step; nothing half done is kept."
        st.button("Stop", key=f"stop_{name}", help=help_, on_click=_hold, args=(name, stamp))
    return bar


def _hold(name: str, stamp: tuple[Hashable, ...] | None) -> None:
    """Do not begin it again by itself; a job, which has no stamp, never does."""
    if stamp is not None:
        st.session_state[HELD] = (name, stamp)


@st.cache_resource(max_entries=16, show_spinner=False)
def _kept_things(name: str) -> OrderedDict[tuple[Hashable, ...], Any]:
    return OrderedDict()
