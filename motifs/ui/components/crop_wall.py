"""The wall of sherds, drawn in the browser: pick by click or key, move by dragging, press a row's button."""

from __future__ import annotations

from contextlib import nullcontext
from typing import TYPE_CHECKING

import streamlit as st

from motifs.records import CROP_PX_PER_MM
from motifs.ui.components.browser_code import address_of, component_named
from motifs.ui.presenters.text import safe
from motifs.ui.presenters.wall import Picture, Wall, wall_json
from motifs.workflows.pictures import SherdPicture, sherd_pictures, small_pictures

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from motifs.catalogue import Catalogue, SherdRow

MOST_PICTURES = 4000
"""Small pictures kept in memory, some 10 kB each."""

NOMINAL_MM = 50.0
"""Longest side of a sherd on a photograph without scale, as crops have it."""

LEAST_MM = 10.0


@st.cache_resource(max_entries=1)
def _kept_pictures() -> dict[str, SherdPicture]:
    return {}


def pictures_of(cat: Catalogue, sherds: Sequence[SherdRow], place: str) -> dict[str, Picture]:
    """Small pictures by number, drawn once for each outline, scale and light and kept by content key."""
    kept = _kept_pictures()
    if len(kept) > MOST_PICTURES:
        kept.clear()
    absent = [sherd for sherd in sherds if sherd.content_key not in kept]
    with st.spinner("Getting the pictures") if absent else nullcontext():
        kept.update((sherd.content_key, picture) for sherd, picture in small_pictures(cat, absent))
    return {sherd.number: _served(kept[sherd.content_key], f"{place}-{sherd.number}") for sherd in sherds}


def _served(picture: SherdPicture, place: str) -> Picture:
    return Picture(address_of(picture.webp, "image/webp", place), picture.width_mm, picture.height_mm, picture.is_scaled)


def show_wall(
    wall: Wall,
    pictures: Mapping[str, Picture],
    *,
    key: str,
    on_pick: Callable[[str], None],
    on_move: Callable[[str, str], None] | None = None,
    on_press: Callable[[str], None] | None = None,
) -> None:
    """Mount a wall. on_pick(sherd), on_move(sherd, row), on_press(row) run before the page is drawn again."""

    def picked() -> None:
        sherd = _sent(key, "picked")
        if isinstance(sherd, str):
            on_pick(sherd)

    def moved() -> None:
        sent = _sent(key, "moved")
        if on_move is not None and isinstance(sent, dict):
            on_move(str(sent.get("sherd")), str(sent.get("row")))

    def pressed() -> None:
        row = _sent(key, "pressed")
        if on_press is not None and isinstance(row, str):
            on_press(row)

    mount = component_named("crop_wall", '<div class="wall"></div>')
    mount(
        key=key,
        data=wall_json(wall, pictures),
        on_picked_change=picked,
        on_moved_change=moved,
        on_pressed_change=pressed,
    )


def _sent(key: str, name: str) -> object:
    return st.session_state.get(key, {}).get(name)


def large_picture(cat: Catalogue, number: str, longest_px: int, *, key: str) -> None:
    """One sherd, as large as fits a square of that side."""
    sherd = cat.sherd(number)
    picture = _large_picture(cat, sherd.content_key, sherd, longest_px)
    url = address_of(picture, "image/webp", f"{key}-large")
    side = f"max-width:min(100%,{longest_px}px);max-height:{longest_px}px;width:auto;height:auto"
    st.html(f'<img src="{safe(url)}" alt="sherd {safe(number)}" style="{side}">')


@st.cache_resource(max_entries=400, show_spinner=False)
def _large_picture(_cat: Catalogue, content_key: str, _sherd: SherdRow, longest_px: int) -> bytes:
    """Drawn at twice the size shown, for fine screens."""
    longest_mm = max(_sherd.max_dimension_mm or NOMINAL_MM, LEAST_MM)
    _, picture = next(sherd_pictures(_cat, [_sherd], px_per_mm=min(CROP_PX_PER_MM, 2 * longest_px / longest_mm)))
    return picture.webp
