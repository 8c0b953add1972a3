"""Long work: asked for in a callback, done where the page draws its progress, stopped by any other click.

A step of progress is also where Streamlit may end the run for another one; a transaction that is open then is rolled back.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import MotifsError, NameRefused
from motifs.ui.presenters.allowed import require, role_of_job
from motifs.ui.presenters.progress import share_done, stage_words
from motifs.ui.session import NAMELESS, analyst, say, told, visitor

if TYPE_CHECKING:
    from collections.abc import Callable

    from motifs.workflows import Progress

WAITING = "waiting_job"


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
    with st.container(border=True, key="job"):
        shown = st.progress(0.0, text="Starting")
        st.button("Stop", key="stop_job", on_click=say, args=("note", "Stopped. What was finished before is kept."))

    def progress(stage: str, done: int, total: int) -> None:
        shown.progress(share_done(done, total), text=stage_words(stage, done, total))

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
