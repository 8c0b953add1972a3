"""Sorting a lot, moving sherds, answering questions."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui.presenters.sorting import (
    ACCEPT as PRESS_ACCEPT,
)
from motifs.ui.presenters.sorting import (
    LOCK,
    NEW_ROW,
    UNASSIGNED,
    moved_words,
    place_words,
    vessel_of_row,
)
from motifs.ui.presenters.text import counted, listed
from motifs.ui.session import act, open_collection, say
from motifs.ui.unseen import refuse_unseen, telling_of_others
from motifs.workflows import Progress, correct
from motifs.workflows.moves import (
    accept_vessel,
    free_vessel_name,
    lock_vessel,
    merge_vessels,
    move_sherds,
    split_vessel,
    unlock_vessel,
)
from motifs.workflows.sort import sort_lot
from motifs.workflows.table import lay_out_table
from motifs.workflows.tagging import tag_sherds
from motifs.workflows.tell import DIFFERENT, SAME, tell_pairs

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows.moves import Moved
    from motifs.workflows.table import LotTable

SORT = "sort"
HOW_MANY, GIVEN = "vessels_known", "vessels_given"
FOUND_WORDS, GIVEN_WORDS = "found by the evidence", "given"
MOVE_TO, NEW_NAME, NOTE = "move_to", "new_vessel_name", "move_note"
PILE = "Unassigned"
INTO = "merge_into"
TAG_KIND, TAG_TERM = "map_tag_kind", "map_tag_term"


def sort(lot: str, by: str, progress: Progress) -> str:
    """The sorting job."""
    cat = open_collection()
    if cat is None:
        raise InputError("there is no collection yet; add photographs first")
    given = st.session_state.get(GIVEN) if st.session_state.get(HOW_MANY) == GIVEN_WORDS else None
    sorting = sort_lot(cat, lot, vessels=given, by=by, progress=progress)
    for note in sorting.notes:
        say("note", note)
    return f"Lot {lot} is sorted."


def move_to_row(lot: str, numbers: list[str], row: str) -> None:
    """Sherds were dropped on a row, or moved to it from the list of places."""
    act(lambda cat, by: moved_words(_moved(cat, lot, numbers, row, by=by)))


def _moved(cat: Catalogue, lot: str, numbers: list[str], row: str, *, by: str, name: str = "", note: str = "") -> Moved:
    """Move; a part of one vessel that becomes a vessel of its own is split off, so that the next sort keeps it apart."""
    with telling_of_others(cat, lot, numbers):
        if row != NEW_ROW:
            vessel = None if row == UNASSIGNED else vessel_of_row(row)
            return move_sherds(cat, lot, numbers, vessel, by=by, note=note)
        table = lay_out_table(cat, lot)
        if _is_part(table, numbers):
            return split_vessel(cat, lot, numbers, name=name or None, by=by, note=note)
        return move_sherds(cat, lot, numbers, name or free_vessel_name(table), by=by, note=note)


def _is_part(table: LotTable, numbers: list[str]) -> bool:
    homes = {table.sherd(number).vessel for number in numbers}
    return len(homes) == 1 and None not in homes and len(table.vessel(str(homes.pop())).sherds) > len(set(numbers))


def move_chosen(lot: str, numbers: list[str], key: str = "") -> None:
    """The list twin of dragging; key: what the keys of its lists end with."""
    row = st.session_state[MOVE_TO + key]
    name = str(st.session_state.get(NEW_NAME + key) or "").strip()
    note = str(st.session_state.get(NOTE + key) or "").strip()
    if act(lambda cat, by: moved_words(_moved(cat, lot, numbers, row, by=by, name=name, note=note))):
        st.session_state[NOTE + key] = st.session_state[NEW_NAME + key] = ""


def tag_picked(numbers: list[str]) -> None:
    """Put the chosen term on what was picked on the map, in one change."""

    def work(cat: Catalogue, by: str) -> str:
        kind, term = str(st.session_state.get(TAG_KIND)), st.session_state.get(TAG_TERM)
        if not term:
            raise InputError("no term is chosen; choose one in the list")
        done = tag_sherds(cat, numbers, kind, str(term), by=by)
        had = f"; {len(done.unchanged)} had it" if done.unchanged else ""
        return f"{kind} '{done.term}' put on {counted(len(done.changed), 'sherd')}{had}."

    act(work)


def leave_to_proposals(lot: str, number: str) -> None:
    """Take a person's word on a sherd back."""

    def work(cat: Catalogue, by: str) -> str:
        correct.withdraw_attribution(cat, [number], by=by)
        return f"{number} is left to the proposals again: {place_words(lay_out_table(cat, lot).sherd(number).vessel)}."

    act(work)


def press_row(lot: str, row: str, button: str) -> None:
    """A button in the head of a vessel's row."""
    vessel = vessel_of_row(row)
    if vessel is None:
        return
    if button == PRESS_ACCEPT:
        accept(lot, vessel)
    else:
        lock(lot, vessel, is_locked=button == LOCK)


def accept(lot: str, vessel: str) -> None:
    """Judge every sherd of a vessel to be of it."""

    def work(cat: Catalogue, by: str) -> str:
        fresh = accept_vessel(cat, lot, vessel, by=by)
        return (
            f"Vessel {vessel} accepted: {counted(len(fresh), 'sherd')} put there on your word. A new sort leaves them."
        )

    act(work)


def lock(lot: str, vessel: str, *, is_locked: bool) -> None:
    """Lock a vessel, or unlock it."""

    def work(cat: Catalogue, by: str) -> str:
        if is_locked:
            held = lock_vessel(cat, lot, vessel, by=by)
            return f"Vessel {vessel} locked with {counted(len(held.sherds), 'sherd')}: a sort leaves it as it is."
        unlock_vessel(cat, lot, vessel, by=by)
        return f"Vessel {vessel} unlocked: the next sort may change it."

    act(work)


def merge(lot: str, vessel: str) -> None:
    """Put a vessel with the one chosen in the list."""

    def work(cat: Catalogue, by: str) -> str:
        into = vessel_of_row(st.session_state[INTO])
        if into is None:
            raise InputError("no vessel is chosen to merge with; choose one in the list")
        return moved_words(merge_vessels(cat, lot, vessel, into, by=by))

    act(work)


def tell(lot: str, a: str, b: str, relation: str) -> None:
    """Record "same" or "different" for a pair; the next sort obeys."""

    def work(cat: Catalogue, by: str) -> str:
        pair = [(a, b)]
        links = tell_pairs(
            cat, lot, same=pair if relation == SAME else (), different=pair if relation == DIFFERENT else (), by=by
        )
        word = "one vessel" if relation == SAME else "different vessels"
        return f"{a} and {b}: {word}. The lot has {counted(links, 'such word', 'such words')}; sort again to use {'it' if links == 1 else 'them'}."

    act(work)


def withdraw(lot: str, a: str, b: str) -> None:
    """Take back what was said of a pair."""

    def work(cat: Catalogue, by: str) -> str:
        tell_pairs(cat, lot, withdrawn=[(a, b)], by=by)
        return f"Taken back: what was said of {a} and {b}."

    act(work)


def leave_open(lot: str, a: str, b: str) -> None:
    """Cannot tell: kept, so that the pair is not asked again."""

    def work(cat: Catalogue, by: str) -> str:
        tell_pairs(cat, lot, cannot_tell=[(a, b)], by=by)
        return f"Left open: {a} and {b}. Kept, and not asked again; Undo takes it back."

    act(work)


def undo(lot: str) -> None:
    """Take back the lot's latest change."""

    def work(cat: Catalogue, by: str) -> str:
        refuse_unseen(cat, lot)
        events = correct.undo(cat, lot, by=by)
        return f"Taken back: {listed([f'{event.verb} {event.subject}' for event in events])}."

    act(work)


def redo(lot: str) -> None:
    """Do again what was taken back last."""
    act(lambda cat, by: f"Done again: {correct.redo(cat, lot, by=by)}.")
