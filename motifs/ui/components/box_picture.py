"""A sherd's crop on which a box can be dragged."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.components.browser_code import address_of, component_named
from motifs.workflows.pictures import crop_jpeg

if TYPE_CHECKING:
    from collections.abc import Callable

    from motifs.catalogue import BoxPx, Catalogue, SherdRow


@st.cache_resource(max_entries=30, show_spinner=False)
def _kept_crop(_cat: Catalogue, content_key: str, covered: str, _sherd: SherdRow) -> tuple[bytes, int, int]:
    return crop_jpeg(_cat, _sherd)


def crop_size_px(cat: Catalogue, sherd: SherdRow) -> tuple[int, int]:
    """Width and height of the sherd's crop, px."""
    _, width_px, height_px = _kept_crop(cat, sherd.content_key, repr(cat.covered_outlines(sherd.photo_id)), sherd)
    return width_px, height_px


def show_box_picture(
    cat: Catalogue, sherd: SherdRow, box_px: BoxPx | None, *, key: str, on_box: Callable[[BoxPx | None], None]
) -> None:
    """Mount it. on_box gets x, y, width, height in px of the crop, or None where the box was taken away."""

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
            "box": None if box_px is None else list(box_px),
        },
        on_boxed_change=boxed,
    )
