"""Sorting a lot, moving sherds, answering questions."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui.presenters.sorting import UNASSIGNED, moved_words, place_words, vessel_of_row
from motifs.ui.presenters.text import counted, listed
from motifs.ui.session import act, open_collection, say
from motifs.workflows import Progress, correct
from motifs.workflows.moves import accept_vessel, move_sherds
from motifs.workflows.sort import sort_lot
from motifs.workflows.table import LotTable, lay_out_table
from motifs.workflows.tell import DIFFERENT, SAME, tell_pairs

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows.sorting import PairQuestion

SORT = "sort"
HOW_MANY, GIVEN = "vessels_known", "vessels_given"
FOUND_WORDS, GIVEN_WORDS = "found by the evidence", "given"
MOVE_TO, NEW_NAME, NOTE, ACCEPT, OTHER = "move_to", "new_vessel_name", "move_note", "accept_which", "beside_choice"
NEW_VESSEL, PILE = "A new vessel", "Unassigned"
PASSED = "questions_passed"


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


def move_to_row(lot: str, number: str, row: str) -> None:
    """A sherd was dropped on a row."""
    _move(lot, number, None if row == UNASSIGNED else vessel_of_row(row), "")


def move_chosen(lot: str, number: str, new_name: str) -> None:
    """The list twin of dragging. new_name: what a new vessel is called where no name is typed."""
    place = st.session_state[MOVE_TO]
    typed = str(st.session_state.get(NEW_NAME) or "").strip()
    vessel = None if place == PILE else (typed or new_name) if place == NEW_VESSEL else vessel_of_row(place)
    if _move(lot, number, vessel, str(st.session_state.get(NOTE) or "").strip()):
        st.session_state[NOTE] = st.session_state[NEW_NAME] = ""


def _move(lot: str, number: str, vessel: str | None, note: str) -> bool:
    return act(lambda cat, by: moved_words(move_sherds(cat, lot, [number], vessel, by=by, note=note)))


def leave_to_proposals(lot: str, number: str) -> None:
    """Take a person's word on a sherd back."""

    def work(cat: Catalogue, by: str) -> str:
        correct.withdraw_attribution(cat, [number], by=by)
        return f"{number} is left to the proposals again: {place_words(lay_out_table(cat, lot).sherd(number).vessel)}."

    act(work)


def accept(lot: str, vessel: str | None = None) -> None:
    """Judge every sherd of a vessel to be of it; without a name, of the one chosen in the list."""

    def work(cat: Catalogue, by: str) -> str:
        name = vessel if vessel is not None else vessel_of_row(st.session_state[ACCEPT])
        if name is None:
            raise InputError("no vessel is chosen; choose one in the list")
        fresh = accept_vessel(cat, lot, name, by=by)
        return f"Vessel {name} accepted: {counted(len(fresh), 'sherd')} put there on your word. A new sort leaves them."

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


def pass_over(lot: str, a: str, b: str) -> None:
    """Cannot tell: nothing goes on record, and the pair is not asked again while the page is open."""
    st.session_state.setdefault(PASSED, {}).setdefault(lot, set()).add(frozenset((a, b)))
    say("note", f"Left open: {a} and {b}. Not asked again while this page is open.")


def next_question(table: LotTable) -> PairQuestion | None:
    """The first open question that was not passed over."""
    passed = st.session_state.get(PASSED, {}).get(table.lot, set())
    return next((question for question in table.questions if frozenset((question.a, question.b)) not in passed), None)


def undo(lot: str) -> None:
    """Take back the lot's latest change."""

    def work(cat: Catalogue, by: str) -> str:
        events = correct.undo(cat, lot, by=by)
        return f"Taken back: {listed([f'{event.verb} {event.subject}' for event in events])}."

    act(work)
