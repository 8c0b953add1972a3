"""Plates of what is chosen, or of the page: sherds laid out at a true scale, to look at and to print."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.components.zoom_picture import show_zoom_picture
from motifs.ui.presenters.text import counted
from motifs.workflows.plate_sheets import REDUCTIONS, PlateSheets, plate_sheets

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue


@st.cache_resource(max_entries=8, show_spinner="Laying the sherds out")
def _kept_plates(
    _cat: Catalogue, folder: str, version: int, numbers: tuple[str, ...], title: str, reduction: int
) -> PlateSheets:
    return plate_sheets(_cat, numbers, title, reduction=reduction)


def draw_plates(cat: Catalogue, numbers: Sequence[str], title: str) -> None:
    """Every plate, and one PDF of all."""
    with st.container(horizontal=True, vertical_alignment="bottom"):
        reduction = st.selectbox(
            "Drawn at 1 :",
            REDUCTIONS,
            index=1,
            key="plate_reduction",
            bind="query-params",
            width=130,
            help="1 is the sherds' own size on paper, 2 half of it.",
        )
        sheets = _kept_plates(cat, str(cat.folder), cat.version(), tuple(numbers), title, reduction)
        st.download_button(
            "Plates to print (PDF)",
            sheets.pdf,
            file_name="plates.pdf",
            mime="application/pdf",
            on_click="ignore",
            help=f"{counted(len(sheets.plates), 'plate')}; print without fitting to the page, and check the bar with a ruler.",
        )
    for place, plate in enumerate(sheets.plates):
        show_zoom_picture(plate.svg, plate.alt, plate.caption, key=f"plate_{place}", height_px=640)
