"""Taking photographs in; their scale, lot and site."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui.actions.outlines import set_choice
from motifs.ui.choosing import LOT, open_
from motifs.ui.presenters.photographs import intake_words
from motifs.ui.presenters.text import counted
from motifs.ui.session import act, collection_folder, say
from motifs.workflows import Progress, correct
from motifs.workflows.mat import mat_content
from motifs.workflows.uploads import Upload, take_in_uploads

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

FILES, NEW_LOT, NEW_SITE, NEW_SCALE, NEW_BAR = "new_files", "new_lot", "new_site", "new_px_per_mm", "new_bar_mm"
TYPED_SCALE, OTHER_LOT, LOT_SITE = "typed_px_per_mm", "other_lot", "lot_site"
TURN = "upload_turn"
INTAKE, MAT_SIZE = "intake", "mat_size"


def files_key() -> str:
    """Key of the file list: a new one after each intake, so that taken photographs leave it."""
    return f"{FILES}_{st.session_state.get(TURN, 0)}"


def take_in(by: str, progress: Progress) -> str:
    """The intake job: what is in the form, into the collection."""
    state = st.session_state
    taken = take_in_uploads(
        collection_folder(),
        [Upload(file.name, file.getvalue()) for file in state.get(files_key()) or ()],
        lot=(state.get(NEW_LOT) or "").strip() or None,
        site=(state.get(NEW_SITE) or "").strip() or None,
        px_per_mm=state.get(NEW_SCALE),
        bar_mm=state.get(NEW_BAR),
        by=by,
        progress=progress,
    )
    line, notes = intake_words(taken)
    for note in notes:
        say("note", note)
    open_(LOT, taken[0].lot)
    st.session_state[TURN] = state.get(TURN, 0) + 1
    return line


def mat() -> bytes:
    """The mat as a PDF, with the lot and site that are in the form on it and in its code."""
    state = st.session_state
    return mat_content(
        str(state.get(MAT_SIZE) or "A4"),
        lot=(state.get(NEW_LOT) or "").strip() or None,
        site=(state.get(NEW_SITE) or "").strip() or None,
    )


def set_scale(photo_id: int) -> None:
    """Set the typed scale of a photograph."""

    def work(cat: Catalogue, by: str) -> str:
        typed = st.session_state.get(TYPED_SCALE)
        if typed is None:
            raise InputError("no scale is typed; give px/mm, a number above 0")
        photo = correct.set_scale(cat, photo_id, typed, by=by)
        return f"{photo.file_name}: {typed:g} px/mm; {counted(len(cat.sherds(photo_id=photo_id)), 'sherd')} measured again."

    if act(work):
        st.session_state[TYPED_SCALE] = None


def move_photo(photo_id: int) -> None:
    """Give a photograph to another lot."""

    def work(cat: Catalogue, by: str) -> str:
        lot = (st.session_state.get(OTHER_LOT) or "").strip()
        if not lot:
            raise InputError("no lot is named; choose one, or type the name that is on the bag")
        photo = correct.move_photo(cat, photo_id, lot, by=by)
        open_(LOT, lot)
        return f"{photo.file_name} is in lot {lot} now. Catalogue numbers stay, since they may be on the sherds."

    if act(work):
        set_choice([])
        st.session_state[OTHER_LOT] = None


def set_site(lot: str) -> None:
    """Give the lot to a site, or to none."""

    def work(cat: Catalogue, by: str) -> str:
        site = (st.session_state.get(LOT_SITE) or "").strip() or None
        correct.set_site(cat, lot, site, by=by)
        return f"Lot {lot}: site {site or 'not recorded'}."

    if act(work):
        st.session_state[LOT_SITE] = None
