"""What the catalogue page does: choose sherds, walk along them, tag them or a part of one, take tags off, undo."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui.actions.boxes import box_of, set_box
from motifs.ui.choosing import LOT, SHERD, open_, open_sherd, opened, remember_lot
from motifs.ui.presenters.text import counted, listed
from motifs.ui.session import act
from motifs.ui.unseen import refuse_unseen
from motifs.workflows.tagging import remove_tag, tag_sherds, untag_sherds

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue, TagRow

CHOSEN, PAGE, STEP = "sheet_chosen", "sheet_page", "sheet_step"
KIND, TERM, CONFIDENCE, GO_ON = "tag_kind", "tag_term", "tag_confidence", "tag_go_on"
TAGGED_LOT = "tagged_lot"
BOX = "tag_box"
NOT_STATED = "not stated"
CONFIDENCES = {NOT_STATED: None, "certain": 1.0, "likely": 0.8, "a guess": 0.5}


def chosen() -> list[str]:
    """Catalogue numbers that the next tag goes on, in the order they were chosen; after a reload the one in the address."""
    if CHOSEN not in st.session_state:
        at = opened(SHERD)
        return [] if at is None else [at]
    return list(st.session_state[CHOSEN])


def toggle(number: str) -> None:
    """Choose a sherd, or put it back."""
    now = chosen()
    choose([one for one in now if one != number] if number in now else [*now, number])


def choose(numbers: Sequence[str]) -> None:
    """Choose exactly these; one alone is kept in the address."""
    st.session_state[CHOSEN] = list(dict.fromkeys(numbers))
    open_sherd(numbers[0] if len(st.session_state[CHOSEN]) == 1 else None)


def relist(shown: Sequence[str], listed: Sequence[str]) -> None:
    """The list twin of clicking: what was put into the list of those shown as chosen, or taken out of it.

    Only the difference counts: a browser that is clicked fast tells of a list that was drawn before the latest click.
    """
    now = [number for number in chosen() if number not in shown or number in listed]
    if set(shown) != set(listed):
        choose([*now, *(number for number in listed if number not in shown)])


def turn_to(page: int) -> None:
    """Show another page of the sheet; the choice stays."""
    st.session_state[PAGE] = page


def first_page() -> None:
    """After a change of the filter: begin again, with nothing chosen that may be out of sight."""
    st.session_state[PAGE] = 1
    choose([])


def change_lot(every: str) -> None:
    """After another lot was chosen in the filter: the address follows."""
    lot = st.session_state.get("sheet_lot")
    is_one = lot not in {None, every}
    open_(LOT, str(lot) if is_one else None)
    if is_one:
        remember_lot(str(lot))
    first_page()


def step(numbers: Sequence[str], by: int, page: int, last: int) -> None:
    """Choose the sherd after the one chosen last (by 1) or before it (by -1); at the end of the page the next one is turned up."""
    now = [number for number in chosen() if number in numbers]
    at = numbers.index(now[-1]) + by if now else 0 if by > 0 else len(numbers) - 1
    if 0 <= at < len(numbers):
        choose([numbers[at]])
    elif 1 <= page + by <= last:
        turn_to(page + by)
        st.session_state[STEP] = by


def end_step(numbers: Sequence[str]) -> None:
    """After a page was turned by a step: choose its first sherd, or its last."""
    by = st.session_state.pop(STEP, 0)
    if by and numbers:
        choose([numbers[0 if by > 0 else -1]])


def tag_box(number: str) -> tuple[int, int, int, int] | None:
    """The box that the next tag goes on; None: the whole sherd."""
    return box_of(BOX, number)


def put(kind: str, term: str | None, numbers: Sequence[str] = (), page: int = 1, last: int = 1) -> None:
    """Put a term on the chosen sherds, in one change; on the box of a single one. Then go on to the next, if that is wished.

    numbers, page, last : of the sheet, to go on along it.
    """

    def work(cat: Catalogue, by: str) -> str:
        confidence = CONFIDENCES[st.session_state.get(CONFIDENCE, NOT_STATED)]
        goes_on = chosen()
        box_px = tag_box(goes_on[0]) if len(goes_on) == 1 else None
        done = tag_sherds(cat, goes_on, kind, _named(term), box_px=box_px, confidence=confidence, by=by)
        st.session_state[TAGGED_LOT] = cat.sherd(goes_on[-1]).lot
        had = f"; {len(done.unchanged)} had it" if done.unchanged else ""
        where = f"a part of {goes_on[0]}" if box_px else counted(len(done.changed), "sherd")
        return f"{kind} '{done.term}' put on {where}{had}"

    if not act(work):
        return
    if len(chosen()) == 1:
        set_box(BOX, chosen()[0], None)
        if st.session_state.get(GO_ON) and numbers:
            step(numbers, 1, page, last)


def take_off(kind: str, term: str | None) -> None:
    """Take a term off the chosen sherds, in one change."""

    def work(cat: Catalogue, by: str) -> str:
        done = untag_sherds(cat, chosen(), kind, _named(term), by=by)
        st.session_state[TAGGED_LOT] = cat.sherd(chosen()[-1]).lot
        return f"{kind} '{done.term}' taken off {counted(len(done.changed), 'sherd')}"

    act(work)


def take_one_off(tag: TagRow) -> None:
    """Take exactly this tag off its sherd."""

    def work(cat: Catalogue, by: str) -> str:
        remove_tag(cat, tag.tag_id, by=by)
        st.session_state[TAGGED_LOT] = cat.sherd(tag.sherd).lot
        return f"{tag.kind} '{tag.term}' taken off {tag.sherd}"

    act(work)


def undo(lot: str) -> None:
    """Take back the lot's latest change."""

    def work(cat: Catalogue, by: str) -> str:
        refuse_unseen(cat, lot)
        with cat.transaction(by=by):
            events = cat.undo(lot)
        return f"taken back in lot {lot}: {listed([f'{event.verb} {event.subject}' for event in events], most=3)}"

    act(work)


def _named(term: str | None) -> str:
    if not term:
        raise InputError("no term is chosen; choose one from the list")
    return term
