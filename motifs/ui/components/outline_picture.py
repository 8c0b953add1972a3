"""A photograph with its outlines and numbers over it; outlines are chosen by click or key."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.components.browser_code import address_of, component_named
from motifs.ui.presenters.photographs import outlines_json
from motifs.workflows.pictures import photo_jpeg

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from motifs.catalogue import Catalogue, PhotoRow, SherdRow

MOST_PHOTOGRAPHS = 60
"""Screen copies kept in memory, some 200 kB each."""


@st.cache_resource(max_entries=MOST_PHOTOGRAPHS, show_spinner=False)
def _screen_copy(_cat: Catalogue, sha256: str, _photo: PhotoRow) -> bytes:
    return photo_jpeg(_cat, _photo)


def show_outlines(
    cat: Catalogue,
    photo: PhotoRow,
    sherds: Sequence[SherdRow],
    chosen: Sequence[str],
    *,
    key: str,
    on_choice: Callable[[list[str]], None],
) -> None:
    """Mount it. on_choice(numbers) gets the whole choice whenever an outline is taken in or out."""

    def changed() -> None:
        sent = st.session_state.get(key, {}).get("chosen")
        if isinstance(sent, list):
            there = {sherd.number for sherd in sherds}
            on_choice([str(number) for number in sent if number in there])

    url = address_of(_screen_copy(cat, photo.sha256, photo), "image/jpeg", f"{key}-photo")
    mount = component_named("outline_picture", '<div class="outlines"></div>')
    mount(key=key, data=outlines_json(photo, sherds, chosen, url), on_chosen_change=changed)
