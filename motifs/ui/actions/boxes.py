"""A box on a sherd's crop as a form keeps it: four numbers, in px of the crop, of one sherd at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

if TYPE_CHECKING:
    from motifs.catalogue import BoxPx

SIDES = ("x", "y", "width", "height")


def box_keys(place: str) -> tuple[str, ...]:
    """Keys of the four numbers. place: which form, unique on its page."""
    return tuple(f"{place}_{side}_px" for side in SIDES)


def box_of(place: str, number: str) -> BoxPx | None:
    """The box in the form, if it belongs to this sherd and is one; a box of another sherd is put away."""
    if st.session_state.get(f"{place}_of") != number:
        is_reload = f"{place}_of" not in st.session_state
        set_box(place, number, _in_address(place) if is_reload else None)
    x, y, width, height = (int(st.session_state.get(key) or 0) for key in box_keys(place))
    return (x, y, width, height) if width > 0 and height > 0 else None


def set_box(place: str, number: str, box_px: BoxPx | None) -> None:
    """Put a box of this sherd into the form."""
    st.session_state[f"{place}_of"] = number
    for key, value in zip(box_keys(place), box_px or (0, 0, 0, 0), strict=True):
        st.session_state[key] = value


def _in_address(place: str) -> BoxPx | None:
    """The box that a bound form left in the address before the page was loaded anew."""
    texts = [st.query_params.get(key, "0") for key in box_keys(place)]
    if not all(text.isdecimal() and len(text) < 6 for text in texts):
        return None
    x, y, width, height = map(int, texts)
    return x, y, width, height
