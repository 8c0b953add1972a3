"""One sherd, or two side by side at one scale, large."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.records import CROP_PX_PER_MM
from motifs.ui.components.browser_code import address_of
from motifs.ui.components.markup import show
from motifs.ui.presenters.figures import Figure, figures_html
from motifs.workflows.pictures import SherdPicture, picture_key, sherd_pictures

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, SherdRow

NOMINAL_MM, LEAST_MM = 50.0, 10.0
"""Longest side of a sherd on a photograph without scale, as crops have it; and the least that is taken for one."""


def show_sherds(cat: Catalogue, numbers: tuple[str, ...], side_px: int, *, key: str) -> None:
    """Show one sherd or two at one scale; none of them is wider or higher than side_px."""
    sherds = [cat.sherd(number) for number in numbers]
    longest_mm = max(LEAST_MM, *(sherd.max_dimension_mm or NOMINAL_MM for sherd in sherds))
    # Twice the size shown, for fine screens; no finer than the crop itself.
    px_per_mm = min(CROP_PX_PER_MM, 2 * side_px / longest_mm)
    figures = []
    for sherd in sherds:
        picture = _kept_picture(cat, picture_key(sherd), sherd, px_per_mm)
        url = address_of(picture.webp, "image/webp", f"{key}-{sherd.number}")
        figures.append(Figure(sherd.number, url, picture.width_mm, picture.height_mm))
    show(figures_html(figures, side_px))


@st.cache_resource(max_entries=400, show_spinner=False)
def _kept_picture(_cat: Catalogue, key: str, _sherd: SherdRow, px_per_mm: float) -> SherdPicture:
    return next(picture for _, picture in sherd_pictures(_cat, [_sherd], px_per_mm=px_per_mm))
