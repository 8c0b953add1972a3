"""A sherd's crop, rim up, on which a box can be dragged."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.actions.boxes import box_keys
from motifs.ui.components.browser_code import address_of, component_named
from motifs.workflows.pictures import crop_jpeg

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from motifs.catalogue import BoxPx, Catalogue, SherdRow

COMPARE_HINT = "Drag over the part to compare, or give its numbers below. A click takes the box away."
SIDE_PX = 360
LABELS = ("Left, px", "Top, px", "Width, px", "Height, px")


@st.cache_resource(max_entries=30, show_spinner=False)
def _kept_crop(_cat: Catalogue, content_key: str, covered: str, _sherd: SherdRow) -> tuple[bytes, int, int]:
    return crop_jpeg(_cat, _sherd)


def crop_size_px(cat: Catalogue, sherd: SherdRow) -> tuple[int, int]:
    """Width and height of the sherd's crop, px."""
    _, width_px, height_px = _kept_crop(cat, sherd.content_key, repr(cat.covered_outlines(sherd.photo_id)), sherd)
    return width_px, height_px


def show_box_picture(
    cat: Catalogue,
    sherd: SherdRow,
    box_px: BoxPx | None,
    *,
    key: str,
    on_box: Callable[[BoxPx | None], None],
    kept: Sequence[BoxPx] = (),
    hint: str = COMPARE_HINT,
    side_px: int = SIDE_PX,
) -> None:
    """Mount it. on_box gets x, y, width, height in px of the crop, or None where the box was taken away.

    The crop is shown as the sherd stands; a box stays in px of the crop as it was cut, and lies aslant where that is turned.

    Parameters
    ----------
    kept : boxes on record, drawn and numbered from 1.
    side_px : the longer side on the screen at most.
    """

    def boxed() -> None:
        sent = st.session_state.get(key, {}).get("boxed")
        if isinstance(sent, list):
            x, y, width, height = (int(number) for number in sent) if len(sent) == 4 else (0, 0, 0, 0)
            on_box((x, y, width, height) if width and height else None)

    jpeg, width_px, height_px = _kept_crop(cat, sherd.content_key, repr(cat.covered_outlines(sherd.photo_id)), sherd)
    mount = component_named("box_picture", '<div class="boxed"></div>')
    mount(
        key=key,
        data={
            "url": address_of(jpeg, "image/jpeg", f"{key}-crop"),
            "alt": f"sherd {sherd.number}",
            "width_px": width_px,
            "height_px": height_px,
            "turn_deg": float(sherd.rim_up_deg or 0.0),
            "side_px": side_px,
            "box": None if box_px is None else list(box_px),
            "kept": [list(one) for one in kept],
            "hint": hint,
        },
        on_boxed_change=boxed,
    )


def draw_box_numbers(cat: Catalogue, sherd: SherdRow, place: str) -> None:
    """The twin of dragging a box: px of the sherd's crop, 10 px a mm where there is a scale."""
    width_px, height_px = crop_size_px(cat, sherd)
    columns = st.columns(2)
    for at, (key, label, most) in enumerate(zip(box_keys(place), LABELS, (width_px, height_px) * 2, strict=True)):
        st.session_state[key] = min(int(st.session_state.get(key) or 0), most)
        columns[at % 2].number_input(label, min_value=0, max_value=most, step=10, key=key, bind="query-params")
