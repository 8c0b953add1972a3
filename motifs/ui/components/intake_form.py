"""The form for new photographs: files, lot, site, scale, and a sheet to photograph on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui import jobs
from motifs.ui.actions import photographs as actions
from motifs.ui.components.markup import show
from motifs.ui.presenters.text import safe

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

FORMATS = [
    "jpg",
    "jpeg",
    "png",
    "tif",
    "tiff",
    "heic",
    "heif",
    "dng",
    "cr2",
    "cr3",
    "nef",
    "nrw",
    "arw",
    "orf",
    "rw2",
    "raf",
    "pef",
    "srw",
]
"""Endings offered; what a file really is, its content tells."""

MAT_NOTICE = (
    "Best on the printable mat, or with a scale bar flat beside the sherds: the mat gives scale, tilt and the colour of the "
    "light by itself, and its code the lot. Print it at 100 % and check its bar with a ruler."
)


def draw_intake(cat: Catalogue | None, lots: list[str]) -> None:
    """Draw it, and do the intake when it was asked for."""
    with st.container(horizontal=True, vertical_alignment="center"):
        show(f'<p class="m-say">{safe(MAT_NOTICE)}</p>')
        with st.popover("Print a mat"):
            draw_mat()
    st.file_uploader(
        "Photographs of one lot", type=FORMATS, accept_multiple_files=True, key=actions.files_key(),
        help="Sherds apart from each other, decorated side up, a scale bar flat beside them, a plain backdrop.",
    )  # fmt: skip
    sites = [] if cat is None else [site.name for site in cat.sites()]
    lot, site, scale, bar = st.columns([3, 3, 2, 2])
    lot.selectbox(
        "Lot, as on the bag",
        lots,
        index=None,
        key=actions.NEW_LOT,
        accept_new_options=True,
        placeholder="choose, type, or leave to the mat",
    )
    site.selectbox(
        "Site",
        sites,
        index=None,
        key=actions.NEW_SITE,
        accept_new_options=True,
        placeholder="choose, type, or leave empty",
    )
    scale.number_input(
        "Scale, px/mm", min_value=0.1, value=None, key=actions.NEW_SCALE, placeholder="from the bar",
        help="Only where neither the mat nor a scale bar lies in the photographs; it overrides both.",
    )  # fmt: skip
    bar.number_input(
        "Length of the bar, mm", min_value=1.0, value=None, key=actions.NEW_BAR, placeholder="50 or 100",
        help="Only where the bar is neither 5 nor 10 cm long.",
    )  # fmt: skip
    st.button(
        "Find the sherds", type="primary", on_click=jobs.ask_for, args=(actions.INTAKE,), kwargs={"needs_name": True}
    )
    jobs.do_waiting(actions.INTAKE, actions.take_in)


def draw_mat() -> None:
    """The sheet to photograph on; made when it is asked for."""
    st.radio("Paper", ["A4", "A3"], key=actions.MAT_SIZE, horizontal=True)
    show('<p class="m-say">With the lot and site that are typed in the form, on the sheet and in its code.</p>')
    st.download_button(
        "Save the mat (PDF)", actions.mat, file_name="mat.pdf", mime="application/pdf", on_click="ignore"
    )
