"""The open collection, the person at the page, and what the page has to say to her."""

from __future__ import annotations

import logging
import os
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from motifs.catalogue import Catalogue
from motifs.errors import MotifsError, NameRefused
from motifs.ui.presenters.text import notice

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

COLLECTION_VARIABLE = "MOTIFS_COLLECTION"
"""Environment variable by which `serve` says which folder to open."""

ANALYST = "analyst"
NOTICES = "notices"
UNLOCKED = "unlocked_for"
"""Why this visitor may see what is restricted; absent for everybody else."""

NAMELESS = "page, no name given"
"""Who measured, in the history, where nobody said who she is; judgements always need a name."""

DEFECT = (
    "A defect in the program; nothing of this step was kept. The server's log says where; "
    "please pass it on with what you did"
)
log = logging.getLogger("motifs.page")


def collection_folder() -> Path:
    """The folder that the page shows: as `serve` gave it, or ./collection."""
    return Path(os.environ.get(COLLECTION_VARIABLE) or "collection").absolute()


@st.cache_resource(show_spinner=False, max_entries=8, on_release=Catalogue.close)
def _opened(folder: Path, _inode: int) -> Catalogue:
    return Catalogue.open(folder)


def open_collection() -> Catalogue | None:
    """The collection, opened once for all visitors; None where there is none yet.

    Raises
    ------
    CollectionError
        What lies there cannot be used.
    """
    folder = collection_folder()
    file = folder / "catalogue.sqlite"
    if not folder.exists() or (folder.is_dir() and not any(folder.iterdir())):
        return None
    # A folder that was taken away and put back is another one, even under the same name.
    cat = _opened(folder, file.stat().st_ino if file.exists() else 0)
    return cat.seeing_all() if st.session_state.get(UNLOCKED) else cat


def analyst() -> str:
    """The name typed at the top of the page; empty where nobody typed one."""
    return str(st.session_state.get(ANALYST, "")).strip()


def say(kind: str, text: str) -> None:
    """Keep a notice for the top of the next drawing: kind "done", "note" or "wrong"."""
    st.session_state.setdefault(NOTICES, []).append((kind, text))


def show_notices() -> None:
    """Show what was kept, once."""
    for kind, text in st.session_state.pop(NOTICES, []):
        st.html(notice(kind, text))


def told(wrong: BaseException) -> str:
    """An error in one line: ours as it stands, a defect with a line of its own (and its traceback in the log)."""
    if isinstance(wrong, MotifsError):
        return " ".join(str(wrong).split())
    log.error("defect on the page", exc_info=wrong)
    return DEFECT


@contextmanager
def one_line_errors() -> Iterator[None]:
    """Around the drawing of a page: whatever fails is shown as one line where it failed."""
    try:
        yield
    # The outermost boundary of the page: a visitor gets a line, the log gets the traceback.
    except Exception as wrong:
        st.html(notice("wrong", told(wrong)))


def act(work: Callable[[Catalogue, str], str | None]) -> bool:
    """Do something a person asked for, from a callback: work(catalogue, her name) returns what to say.

    Nothing is done without a name. Returns whether it was done.
    """
    try:
        cat = open_collection()
        by = analyst()
        if not by:
            raise NameRefused(
                "your name is missing: type it at the top of the page, so that the record says who decided"
            )
        if cat is None:
            raise NameRefused("there is no collection yet; add photographs first")
        line = work(cat, by)
    # The boundary of a callback: a visitor gets a line, the log gets the traceback.
    except Exception as wrong:
        say("wrong", told(wrong))
        return False
    if line:
        say("done", line)
    return True
