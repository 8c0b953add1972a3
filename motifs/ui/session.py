"""The open collection, the person at the page, and what the page has to say to her."""

from __future__ import annotations

import logging
import os
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from motifs.catalogue import Catalogue
from motifs.errors import MotifsError, NameRefused, NotAllowed, disk_words
from motifs.ui.presenters.allowed import action_name, require, role_of_action
from motifs.ui.presenters.people import Person, Role, person_of, read_people
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
    NotAllowed
        The lab has a log-in, and this visitor may not come in.
    """
    person = visitor()
    folder = collection_folder()
    file = folder / "catalogue.sqlite"
    if not folder.exists() or (folder.is_dir() and not any(folder.iterdir())):
        return None
    # A folder that was taken away and put back is another one, even under the same name.
    cat = _opened(folder, file.stat().st_ino if file.exists() else 0)
    # Asked anew at each drawing: a role that was taken away locks again.
    if person.role < Role.MANAGE:
        st.session_state.pop(UNLOCKED, None)
    return cat.seeing_all() if st.session_state.get(UNLOCKED) else cat


def has_log_in() -> bool:
    """Whether a log-in service is set up (Streamlit's secrets have an [auth] section)."""
    return "is_logged_in" in st.user


def visitor() -> Person:
    """Whoever is at the page: as the log-in service says, or, without one, by the name typed and with every right.

    Raises
    ------
    NotAllowed
        There is a log-in, and nobody is signed in, or somebody who is not among the people of the collection.
    InputError
        The collection's list of people cannot be read.
    """
    if not has_log_in():
        return Person(str(st.session_state.get(ANALYST, "")).strip(), Role.MANAGE)
    if not st.user.is_logged_in:
        raise NotAllowed("you are not signed in; sign in first")
    return person_of(st.user, read_people(collection_folder()))


def analyst() -> str:
    """The name that goes on record: the signed-in one, or the one typed at the top; empty where nobody typed one."""
    return visitor().name


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
    if isinstance(wrong, OSError) and (line := disk_words(wrong)) is not None:
        return line
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

    Nothing is done without a name, or beyond her role; this is the one door for it. Returns whether it was done.
    """
    try:
        person = visitor()
        require(person, role_of_action(action_name(work)))
        cat, by = open_collection(), person.name
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
