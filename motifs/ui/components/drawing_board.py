"""A photograph with its outlines over it: chosen by click or key, drawn by hand, brought nearer and moved."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.components.browser_code import address_of, component_named
from motifs.ui.presenters.photographs import board_json
from motifs.workflows.pictures import PhotoCopies, photo_copies

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from motifs.catalogue import Catalogue, PhotoRow, SherdRow

MOST_PHOTOGRAPHS = 24
"""Copies kept in memory, some 3 MB a photograph; all others lie in files."""

TOOLS = ("redraw", "split", "add", "rim")
ASKS = ("undo", "redo", "drop")


@dataclass(frozen=True, slots=True)
class Drawing:
    """What a person drew and accepted. sherd: None for a new one; points: x, y in px of the oriented photograph."""

    tool: str
    sherd: str | None
    points: list[list[float]]


@st.cache_resource(max_entries=MOST_PHOTOGRAPHS, show_spinner="Getting the photograph")
def _copies(_cat: Catalogue, sha256: str, covered: str, _photo: PhotoRow) -> PhotoCopies:
    return photo_copies(_cat, _photo)


def show_board(
    cat: Catalogue,
    photo: PhotoRow,
    sherds: Sequence[SherdRow],
    chosen: Sequence[str],
    *,
    key: str,
    on_choice: Callable[[list[str]], None],
    on_drawing: Callable[[Drawing], None],
    on_ask: Callable[[str], None],
    go_to: str | None = None,
) -> None:
    """Mount it. on_choice(numbers), on_drawing(drawing), on_ask("undo" | "redo" | "drop") run before the page is drawn again."""
    there = {sherd.number for sherd in sherds}

    def choice_changed() -> None:
        sent = _sent(key, "chosen")
        if isinstance(sent, list):
            on_choice([str(number) for number in sent if number in there])

    def drawn() -> None:
        drawing = read_drawing(_sent(key, "drawn"), there)
        if drawing is not None:
            on_drawing(drawing)

    def asked() -> None:
        sent = _sent(key, "asked")
        if sent in ASKS:
            on_ask(str(sent))

    copies = _copies(cat, photo.sha256, repr(cat.covered_outlines(photo.photo_id)), photo)
    urls = {
        name: address_of(getattr(copies, name), "image/jpeg", f"{key}-{name}") for name in ("small", "screen", "detail")
    }
    mount = component_named("drawing_board", '<div class="board"></div>', "sheet_window", "drawing_geometry")
    mount(
        key=key,
        data=board_json(photo, sherds, chosen, urls, go_to),
        on_chosen_change=choice_changed,
        on_drawn_change=drawn,
        on_asked_change=asked,
    )


def read_drawing(sent: object, there: set[str]) -> Drawing | None:
    """What the browser sent, if it has the shape of a drawing; the points themselves are judged where they are used."""
    if not isinstance(sent, dict) or sent.get("tool") not in TOOLS or not isinstance(sent.get("points"), list):
        return None
    sherd = sent.get("sherd")
    if sent["tool"] != "add" and sherd not in there:
        return None
    return Drawing(str(sent["tool"]), None if sent["tool"] == "add" else str(sherd), sent["points"])


def _sent(key: str, name: str) -> object:
    return st.session_state.get(key, {}).get(name)
