"""What a person does at the layout: laying, locking, judging joins, keeping the record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui.session import act, open_collection, say
from motifs.ui.unseen import refuse_unseen
from motifs.workflows import correct
from motifs.workflows.joins import find_joins, judge_joins
from motifs.workflows.layout import leave_to_joins, place_by_hand
from motifs.workflows.treatment import FIELDS, add_entry, take_out

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.ui.components.layout_table import Laying
    from motifs.workflows import Progress

LAY_OUT = "lay_out"
X, Y, TURN = "lay_x", "lay_y", "lay_turn"
KIND, DATE, PERSON, NOTE = "treat_kind", "treat_date", "treat_person", "treat_note"


def match(lot: str, by: str, progress: Progress) -> str:
    """The long part: propose joins of the lot."""
    cat = open_collection()
    if cat is None:
        raise InputError("there is no collection yet; add photographs first")
    found = find_joins(cat, lot, by=by, progress=progress)
    for note in found.notes:
        say("note", note)
    return f"Lot {lot}: joins are proposed."


def lay(laying: Laying) -> None:
    """A sherd was laid by mouse or keys."""
    act(lambda cat, by: _laid(cat, laying.sherd, laying.x_mm, laying.y_mm, laying.turn_deg, by))


def lay_typed(sherd: str) -> None:
    """The numeric twin of dragging."""
    x, y, turn = (float(st.session_state[key]) for key in (X, Y, TURN))
    act(lambda cat, by: _laid(cat, sherd, x, y, turn, by))


def lay_at(sherd: str, x_mm: float, y_mm: float, turn_deg: float) -> None:
    """The list twin of snapping."""
    act(lambda cat, by: _laid(cat, sherd, x_mm, y_mm, turn_deg, by))


def _laid(cat: Catalogue, sherd: str, x_mm: float, y_mm: float, turn_deg: float, by: str) -> str:
    place_by_hand(cat, sherd, x_mm, y_mm, turn_deg, by=by)
    return f"{sherd} is laid at {x_mm:.1f}, {y_mm:.1f} mm and locked; what is joined to it comes along."


def switch_lock(lot: str, sherd: str, place: tuple[float, float, float]) -> None:
    """Lock a sherd where it lies, or leave it to its joins again."""

    def work(cat: Catalogue, by: str) -> str:
        kept = cat.placements(lot).get(sherd)
        if kept is not None and kept.is_locked:
            leave_to_joins(cat, sherd, by=by)
            return f"{sherd} is left to its joins again."
        return _laid(cat, sherd, *place, by)

    act(work)


def judge(lot: str, a: str, b: str, word: str) -> None:
    """Accept or refuse a join, or take the word back."""

    def work(cat: Catalogue, by: str) -> str:
        pair = [(a, b)]
        judge_joins(
            cat,
            lot,
            accepted=pair if word == "accepted" else (),
            refused=pair if word == "refused" else (),
            withdrawn=pair if word == "withdrawn" else (),
            by=by,
        )
        return f"{a} to {b}: {word}."

    act(work)


def undo(lot: str) -> None:
    """Take back the lot's latest change."""

    def work(cat: Catalogue, by: str) -> str:
        refuse_unseen(cat, lot)
        events = correct.undo(cat, lot, by=by)
        return f"Taken back: {', '.join(f'{event.verb} {event.subject}' for event in events)}."

    act(work)


def field_key(kind: str, name: str) -> str:
    """Where the form keeps a field."""
    return f"treat_{kind}_{name}"


def add_treatment(lot: str, vessel: str) -> None:
    """Keep what the form says."""

    def work(cat: Catalogue, by: str) -> str:
        kind = str(st.session_state[KIND])
        fields = {name: str(st.session_state.get(field_key(kind, name)) or "") for name in FIELDS[kind]}
        entered = add_entry(
            cat,
            lot,
            vessel,
            kind,
            fields,
            done_on=str(st.session_state[DATE]),
            person=str(st.session_state.get(PERSON) or "") or by,
            note=str(st.session_state.get(NOTE) or ""),
            by=by,
        )
        for warning in entered.warnings:
            say("note", warning)
        for name in FIELDS[kind]:
            if field_key(kind, name) in st.session_state:
                del st.session_state[field_key(kind, name)]
        return f"Kept: {kind} of vessel {vessel}."

    act(work)


def withdraw_treatment(lot: str, treatment_id: int) -> None:
    """Take an entry out; the history keeps it."""

    def work(cat: Catalogue, by: str) -> str:
        take_out(cat, lot, treatment_id, by=by)
        return f"Entry {treatment_id} is out of the record; the history keeps it."

    act(work)
