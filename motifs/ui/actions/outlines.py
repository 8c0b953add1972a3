"""Choosing outlines and correcting them: drawn on the photograph, or typed."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import streamlit as st

from motifs.errors import InputError, MotifsError
from motifs.ui.choosing import SHERD, open_, opened
from motifs.ui.presenters.photographs import points_of, points_text
from motifs.ui.presenters.text import listed
from motifs.ui.session import act, open_collection, say, told
from motifs.ui.unseen import refuse_unseen
from motifs.workflows import correct

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from motifs.catalogue import Catalogue, SherdRow
    from motifs.ui.components.drawing_board import Drawing

CHOICE, POINTS, TURN_DEG, DROP_ASKED, GO_TO = "outline_choice", "typed_points", "rim_up_deg", "drop_asked", "go_to"
PHOTO = "photo"
"""In the address: the id of the photograph that is open."""

Points: TypeAlias = "Sequence[Sequence[float]]"


def choice() -> list[str]:
    """Outlines that are chosen."""
    return list(st.session_state.get(CHOICE, []))


def set_choice(numbers: list[str]) -> None:
    """Choose these outlines; one alone goes into the address."""
    if numbers != choice():
        st.session_state.pop(DROP_ASKED, None)
    st.session_state[CHOICE] = numbers
    open_(SHERD, numbers[0] if len(numbers) == 1 else None)


def choice_changed() -> None:
    """The list of chosen outlines was changed by hand."""
    numbers = choice()
    st.session_state.pop(DROP_ASKED, None)
    open_(SHERD, numbers[0] if len(numbers) == 1 else None)


def keep_choice(sherds: tuple[SherdRow, ...]) -> None:
    """Before the list is drawn: what is chosen and still there, or the sherd that the address names."""
    there = [sherd.number for sherd in sherds]
    kept = [number for number in choice() if number in there]
    named = opened(SHERD)
    if named in there and named not in kept:
        kept = [named]
    st.session_state[CHOICE] = kept


def open_photo(photo_id: int) -> None:
    """Show another photograph; nothing on it is chosen yet."""
    open_(PHOTO, str(photo_id))
    set_choice([])


def go_to(sherd: SherdRow) -> None:
    """Choose a sherd, on whichever photograph it lies, and bring it near."""
    open_(PHOTO, str(sherd.photo_id))
    st.session_state[GO_TO] = sherd.number
    set_choice([sherd.number])


def chosen_one() -> str:
    """The one outline that is chosen.

    Raises
    ------
    InputError
        None is, or several are.
    """
    numbers = choice()
    if len(numbers) != 1:
        raise InputError(f"this takes one outline, and {len(numbers) or 'none'} are chosen; choose one")
    return numbers[0]


def drop_chosen() -> None:
    """Drop them; where people have said something of them, ask first, and drop at the second time. Undo brings them back."""

    def work(cat: Catalogue, by: str) -> str | None:
        numbers = choice()
        if not numbers:
            raise InputError("no outline is chosen; click one on the photograph, or choose it in the list")
        question = (numbers, correct.said_of(cat, numbers))
        if question[1] and st.session_state.get(DROP_ASKED) != question:
            st.session_state[DROP_ASKED] = question
            return None
        correct.drop(cat, numbers, by=by)
        st.session_state.pop(DROP_ASKED, None)
        return f"Dropped {listed(numbers)}. Undo brings {'it' if len(numbers) == 1 else 'them'} back."

    if act(work) and DROP_ASKED not in st.session_state:
        set_choice([])


def asked_to_drop() -> tuple[str, ...]:
    """What people said of the sherds that wait to be dropped; empty where nothing waits."""
    numbers, said = st.session_state.get(DROP_ASKED, ([], ()))
    return tuple(said) if numbers == choice() else ()


def forget_drop() -> None:
    """Keep them after all."""
    st.session_state.pop(DROP_ASKED, None)


def merge_chosen() -> None:
    """Make one sherd of them."""

    def work(cat: Catalogue, by: str) -> str:
        numbers = choice()
        merged = correct.merge(cat, numbers, by=by)
        return f"{listed(numbers)} are one sherd now: {merged.number}."

    if act(work):
        set_choice([])


def accept_chosen() -> None:
    """She has looked at them."""

    def work(cat: Catalogue, by: str) -> str:
        correct.accept_outlines(cat, choice(), by=by)
        return f"Looked over: {listed(choice())}."

    act(work)


def take_drawing(photo_id: int, drawing: Drawing) -> None:
    """What was drawn on the photograph."""
    points = drawing.points
    if drawing.tool == "add":
        add(photo_id, points)
    elif drawing.sherd is not None and drawing.tool == "redraw":
        redraw(drawing.sherd, points)
    elif drawing.sherd is not None and drawing.tool == "split":
        split(drawing.sherd, points)
    elif drawing.sherd is not None and len(points) == 2:
        point_to_rim(drawing.sherd, points)


def redraw(number: str, points: Points) -> None:
    """Replace an outline."""

    def work(cat: Catalogue, by: str) -> str:
        correct.redraw(cat, number, points, by=by)
        return f"{number} is redrawn and measured again.{correct.boxes_to_check(cat, number)}"

    act(work)


def split(number: str, points: Points) -> None:
    """Cut an outline along a stroke."""

    def work(cat: Catalogue, by: str) -> str:
        first, *others = correct.split(cat, number, points, by=by)
        new = listed([sherd.number for sherd in others])
        line = f"{number} is split: {first.number}, the largest piece, keeps what was said of it; new: {new}."
        return line + correct.boxes_to_check(cat, number)

    if act(work):
        set_choice([])


def add(photo_id: int, points: Points) -> None:
    """Catalogue a sherd that was missed."""
    added = []

    def work(cat: Catalogue, by: str) -> str:
        added.append(correct.add_missed(cat, photo_id, points, by=by).number)
        return f"Added: {added[0]}."

    if act(work):
        set_choice(added)


def point_to_rim(number: str, points: Points) -> None:
    """Turn a sherd by the arrow to its rim."""

    def work(cat: Catalogue, by: str) -> str:
        turned = correct.point_to_rim(cat, number, points[0], points[1], by=by)
        return f"{number} stands rim up: turned {turned.rim_up_deg:g}° clockwise."

    act(work)


def turn_chosen() -> None:
    """Turn them by the angle that is typed."""
    turn_to(st.session_state.get(TURN_DEG))


def turn_to(turn_deg: float | None) -> None:
    """Turn the chosen sherds so far clockwise."""

    def work(cat: Catalogue, by: str) -> str:
        if turn_deg is None:
            raise InputError("no angle is typed; give degrees clockwise, or take 'Not known'")
        correct.set_rim_up(cat, choice(), turn_deg, by=by)
        return f"{listed(choice())}: rim up after {turn_deg:g}° clockwise."

    act(work)


def forget_rim() -> None:
    """It is not known how they stand."""

    def work(cat: Catalogue, by: str) -> str:
        correct.set_rim_up(cat, choice(), None, by=by)
        return f"{listed(choice())}: how the rim stands is not known."

    act(work)


def redraw_by_points() -> None:
    """The numeric twin of drawing an outline."""
    _by_points(lambda points: redraw(chosen_one(), points))


def split_by_points() -> None:
    """The numeric twin of a stroke."""
    _by_points(lambda points: split(chosen_one(), points))


def add_by_points(photo_id: int) -> None:
    """The numeric twin of drawing around a missed sherd."""
    _by_points(lambda points: add(photo_id, points))


def show_points() -> None:
    """Put the chosen outline into the list of points; nothing is changed, so nobody has to say who she is."""
    try:
        cat = open_collection()
        if cat is not None:
            st.session_state[POINTS] = points_text(cat.sherd(chosen_one()).outline_px)
    except MotifsError as wrong:
        say("wrong", told(wrong))


def _by_points(work: Callable[[Points], None]) -> None:
    try:
        points = points_of(str(st.session_state.get(POINTS) or ""))
        if not points:
            raise InputError("no points are typed; write one x, y on each line, in px of the photograph")
        work(points)
    except InputError as wrong:
        say("wrong", told(wrong))


def asked(lot: str, what: str) -> None:
    """A key pressed on the photograph."""
    if what == "undo":
        undo(lot)
    elif what == "redo":
        redo(lot)
    elif what == "drop":
        drop_chosen()


def undo(lot: str) -> None:
    """Take back the lot's latest change."""

    def work(cat: Catalogue, by: str) -> str:
        refuse_unseen(cat, lot)
        events = correct.undo(cat, lot, by=by)
        return f"Taken back: {listed([f'{event.verb} {event.subject}' for event in events])}."

    act(work)


def redo(lot: str) -> None:
    """Do again what was taken back last."""

    def work(cat: Catalogue, by: str) -> str:
        return f"Done again: {correct.redo(cat, lot, by=by)}."

    act(work)
