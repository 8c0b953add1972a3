"""What the page of views, numbers and rims does: take in, confirm, refuse, record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui.presenters.confirming import rim_words, taken_words
from motifs.ui.presenters.text import counted
from motifs.ui.session import act, open_collection, say
from motifs.workflows import labels_read, rims, views
from motifs.workflows.confirm_pictures import rim_stretch
from motifs.workflows.uploads import Upload, take_back_uploads

if TYPE_CHECKING:
    from collections.abc import Callable

    from motifs.catalogue import Catalogue, RimReading
    from motifs.workflows import Progress

BACKS, READ = "take_backs", "read_labels"
BACK_SCALE, TURN = "backs_px_per_mm", "backs_turn"
CHORD, SAGITTA, DIAMETER, PERCENT, NOTE, STRETCH, PIECE = (
    "rim_chord", "rim_sagitta", "rim_diameter", "rim_percent", "rim_note", "rim_stretch", "rim_piece",
)  # fmt: skip


def backs_key() -> str:
    """Key of the list of files: a new one each time, so that taken photographs leave it."""
    return f"back_files_{st.session_state.get(TURN, 0)}"


def _at_hand() -> Catalogue:
    cat = open_collection()
    if cat is None:
        raise InputError("there is no collection yet; add photographs first")
    return cat


def take_backs(lot: str, by: str, progress: Progress) -> str:
    """The job: photographs of the lot's sherds turned over."""
    state = st.session_state
    files = [Upload(file.name, file.getvalue()) for file in state.get(backs_key()) or ()]
    taken = take_back_uploads(_at_hand(), files, lot=lot, px_per_mm=state.get(BACK_SCALE), by=by, progress=progress)
    for warning in taken.warnings:
        say("note", warning)
    state[TURN] = state.get(TURN, 0) + 1
    return taken_words(taken)


def read_numbers(lot: str, by: str, progress: Progress) -> str:
    """The job: read slips and inked numbers of the lot."""
    read = labels_read.read_labels(_at_hand(), lot, by=by, progress=progress)
    for number in read.unclear:
        say("note", f"{number}: its slip lies near another sherd as well; look")
    waiting = sum(label.state == "proposed" for label in read.labels)
    return f"{counted(waiting, 'number')} proposed; {counted(len(read.without), 'sherd')} without one."


def confirm(view_id: int) -> None:
    """The view is of the sherd it is paired with."""

    def work(cat: Catalogue, by: str) -> str:
        (view,) = views.confirm_views(cat, [view_id], by=by)
        return f"View {view_id} is of {view.sherd}."

    act(work)


def confirm_sure(view_ids: tuple[int, ...]) -> None:
    """All of these were looked at and are right."""
    act(lambda cat, by: f"{counted(len(views.confirm_views(cat, view_ids, by=by)), 'view')} confirmed.")


def pair(view_id: int, key: str) -> None:
    """Say whose view it is; nothing chosen: nobody knows."""

    def work(cat: Catalogue, by: str) -> str:
        view = views.pair_view(cat, view_id, st.session_state.get(key), by=by)
        return f"View {view_id} is of {view.sherd}." if view.sherd else f"View {view_id} belongs to nobody yet."

    act(work)


def drop(view_id: int) -> None:
    """Take out what is no view after all."""

    def work(cat: Catalogue, by: str) -> str:
        views.drop_view(cat, view_id, by=by)
        return f"View {view_id} is taken out; undo in the history of the lot brings it back."

    act(work)


def accept_number(lot: str, number: str, key: str) -> None:
    """Number the sherd as it is typed, or as it was read."""

    def work(cat: Catalogue, by: str) -> str:
        typed = str(st.session_state.get(key) or "").strip()
        ((before, now),) = labels_read.accept_labels(cat, lot, {number: typed or None}, by=by)
        return f"{before} is {now} now."

    act(work)


def refuse_number(lot: str, number: str) -> None:
    """What was read is wrong."""

    def work(cat: Catalogue, by: str) -> str:
        labels_read.refuse_labels(cat, lot, [number], by=by)
        return f"{number} keeps its number."

    act(work)


def record_chord(number: str) -> None:
    """A rim by chord and rise."""
    _record(number, lambda _: rims.rim_by_chord(_typed(CHORD, "chord"), _typed(SAGITTA, "rise")))


def record_chart(number: str) -> None:
    """A rim off a chart."""
    _record(number, lambda _: rims.rim_by_chart(_typed(DIAMETER, "diameter"), st.session_state.get(PERCENT)))


def record_unknown(number: str) -> None:
    """A rim whose diameter cannot be told."""
    _record(number, lambda _: rims.rim_unknown())


def record_stretch(number: str, view_id: int | None) -> None:
    """A rim along the outline, as the circle fits now."""

    def reading(cat: Catalogue) -> RimReading:
        found = proposed_rim(cat, number, view_id)
        if found.reading is None:
            raise InputError(f"'{number}': {found.warnings[0]}; diameter unknown is an answer too")
        return found.reading

    _record(number, reading)


def proposed_rim(cat: Catalogue, number: str, view_id: int | None) -> rims.RimProposal:
    """What a circle along the chosen stretch says; records nothing."""
    piece = cat.sherd(number) if view_id is None else cat.view(view_id)
    begin, end = st.session_state.get(STRETCH) or (0, 25)
    stretch = rim_stretch(piece.outline_px, begin / 100, end / 100)
    first, last = ((float(x), float(y)) for x, y in stretch[[0, -1]])
    return rims.propose_rim(cat, number, first, last, view_id=view_id)


def withdraw(number: str) -> None:
    """The sherd is no rim after all."""

    def work(cat: Catalogue, by: str) -> str:
        rims.withdraw_rim(cat, number, by=by)
        return f"{number}: no rim recorded."

    act(work)


def _record(number: str, reading_of: Callable[[Catalogue], RimReading]) -> None:
    def work(cat: Catalogue, by: str) -> str:
        note = str(st.session_state.get(NOTE) or "").strip()
        rim = rims.record_rim(cat, number, reading_of(cat), by=by, note=note)
        for warning in rims.rim_warnings(rim.reading):
            say("note", f"{number}: {warning}")
        return f"{number}: rim, {rim_words(rim.reading)}."

    if act(work):
        for key in (CHORD, SAGITTA, DIAMETER, PERCENT):
            st.session_state[key] = None
        st.session_state[NOTE] = ""


def _typed(key: str, what: str) -> float:
    value = st.session_state.get(key)
    if value is None:
        raise InputError(f"no {what} is typed; give it in mm")
    return float(value)
