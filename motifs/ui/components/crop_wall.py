"""The wall of sherds, drawn in the browser: pick by click or key, move by dragging, press a row's button."""

from __future__ import annotations

from contextlib import nullcontext
from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.components.browser_code import address_of, component_named
from motifs.ui.presenters.wall import Picture, Wall, wall_json
from motifs.workflows.pictures import SherdPicture, picture_key, small_pictures

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from motifs.catalogue import Catalogue, SherdRow

MOST_PICTURES = 4000
"""Small pictures kept in memory, some 10 kB each."""


@st.cache_resource(max_entries=1)
def _kept_pictures() -> dict[str, SherdPicture]:
    return {}


def pictures_of(cat: Catalogue, sherds: Sequence[SherdRow], place: str) -> dict[str, Picture]:
    """Small pictures by number, drawn once for each outline, scale, light and turn, and kept by these."""
    kept = _kept_pictures()
    if len(kept) > MOST_PICTURES:
        kept.clear()
    # Held here as well: the drawing of another visitor may let all of them go meanwhile.
    here = {key: kept[key] for sherd in sherds if (key := picture_key(sherd)) in kept}
    absent = [sherd for sherd in sherds if picture_key(sherd) not in here]
    with st.spinner("Getting the pictures") if absent else nullcontext():
        here.update((picture_key(sherd), picture) for sherd, picture in small_pictures(cat, absent))
    kept.update(here)
    return {sherd.number: _served(here[picture_key(sherd)], f"{place}-{sherd.number}") for sherd in sherds}


def _served(picture: SherdPicture, place: str) -> Picture:
    return Picture(
        address_of(picture.webp, "image/webp", place), picture.width_mm, picture.height_mm, picture.is_scaled
    )


def show_wall(
    wall: Wall,
    pictures: Mapping[str, Picture],
    *,
    key: str,
    on_pick: Callable[[str], None],
    on_move: Callable[[list[str], str], None] | None = None,
    on_press: Callable[[str, str], None] | None = None,
) -> None:
    """Mount a wall. on_pick(sherd), on_move(sherds, row), on_press(row, button) run before the page is drawn again."""

    def picked() -> None:
        sherd = _sent(key, "picked")
        if isinstance(sherd, str):
            on_pick(sherd)

    def moved() -> None:
        sent = _sent(key, "moved")
        if on_move is not None and isinstance(sent, dict):
            on_move([str(sherd) for sherd in sent.get("sherds") or []], str(sent.get("row")))

    def pressed() -> None:
        sent = _sent(key, "pressed")
        if on_press is not None and isinstance(sent, dict):
            on_press(str(sent.get("row")), str(sent.get("button")))

    mount = component_named("crop_wall", '<div class="wall"></div>', "sheet_window", "wall_tools")
    mount(
        key=key,
        data=wall_json(wall, pictures),
        on_picked_change=picked,
        on_moved_change=moved,
        on_pressed_change=pressed,
    )


def _sent(key: str, name: str) -> object:
    return st.session_state.get(key, {}).get(name)
