"""Photographs: take them in, look the outlines over, correct them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui import jobs
from motifs.ui.actions import outlines, photographs
from motifs.ui.choosing import SHERD, chosen_lot, opened
from motifs.ui.components.correcting import draw_corrections
from motifs.ui.components.drawing_board import show_board
from motifs.ui.components.intake_form import draw_intake
from motifs.ui.components.markup import show
from motifs.ui.components.sieve import sift
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.cautions import PHOTOGRAPHING
from motifs.ui.presenters.photographs import photo_facts, photo_label, sherd_rows, sherd_sieve
from motifs.ui.presenters.text import counted, facts, lines, table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue, LotRow, PhotoRow, SherdRow

LEGEND = (
    "Blue outlines are as found, green ones drawn by a person; dashed ones ask for a look. An arrow points to the rim."
)


def draw_scale(photo: PhotoRow, lots: list[str]) -> None:
    """Scale and lot of the photograph, each with what a change carries along."""
    with st.expander("Set the scale"):
        show('<p class="m-say">Every sherd of this photograph is measured again. Undo brings the old scale back.</p>')
        st.number_input("px/mm", min_value=0.1, value=None, key=photographs.TYPED_SCALE, placeholder="a number above 0")
        st.button("Set the scale", on_click=photographs.set_scale, args=(photo.photo_id,))
    with st.expander("Wrong lot?"):
        show(
            '<p class="m-say">The photograph takes its sherds along, and their numbers. Links to sherds that stay behind are '
            "withdrawn; undo, in the other lot, brings all back.</p>"
        )
        others = [lot for lot in lots if lot != photo.lot]
        st.selectbox(
            "Lot of this photograph",
            others,
            index=None,
            key=photographs.OTHER_LOT,
            accept_new_options=True,
            placeholder="choose, or type a new one",
        )
        st.button("Move the photograph", on_click=photographs.move_photo, args=(photo.photo_id,))


def draw_site(cat: Catalogue, lot: LotRow) -> None:
    """The lot's site, and a way to change it."""
    with st.expander("Site of this lot"):
        show(facts([("Recorded", lot.site or "not recorded")]))
        st.selectbox(
            "Site", [site.name for site in cat.sites()], index=None, key=photographs.LOT_SITE, accept_new_options=True,
            placeholder="choose, type, or leave empty for none",
        )  # fmt: skip
        st.button("Set the site", on_click=photographs.set_site, args=(lot.name,))


def draw_photo(cat: Catalogue, photo: PhotoRow, of_lot: Sequence[SherdRow], lots: list[str]) -> None:
    """One photograph with its outlines, what was read off it, and corrections."""
    sherds = tuple(sherd for sherd in of_lot if sherd.photo_id == photo.photo_id)
    outlines.keep_choice(sherds)
    picture, side = st.columns([8, 4])
    with side:
        draw_corrections(cat, photo, sherds, of_lot)
        draw_scale(photo, lots)
        draw_site(cat, cat.lot(photo.lot))
    with picture:
        show(lines(photo.warnings, kind="warn"))
        show_board(
            cat, photo, sherds, outlines.choice(), key="outlines", go_to=st.session_state.get(outlines.GO_TO),
            on_choice=outlines.set_choice,
            on_drawing=lambda drawing: outlines.take_drawing(photo.photo_id, drawing),
            on_ask=lambda what: outlines.asked(photo.lot, what),
        )  # fmt: skip
        show(f'<p class="m-say">{LEGEND}</p>')
        show(facts(photo_facts(photo, sherds)))
        with st.expander(f"List of {counted(len(sherds), 'sherd')}"):
            head = ("Number", "Size", "Look at", "Outline", "Rim up")
            kept = sift(sherds, sherd_sieve(sherds), "list")
            show(table(head, sherd_rows(kept), caption="Sherds of this photograph"))


def draw_lot(cat: Catalogue, lots: list[str]) -> None:
    """A lot's photographs, one at a time."""
    left, right = st.columns(2)
    with left:
        lot = chosen_lot(lots)
    if lot is None:
        return
    photos, sherds = cat.photos(lot), cat.sherds(lot)
    if not photos:
        empty_state(f"Lot {lot} has no photographs. Add some above.")
        return
    with right:
        photo = draw_photo_choice(photos, sherds)
    draw_photo(cat, photo, sherds, lots)


def draw_photo_choice(photos: Sequence[PhotoRow], sherds: Sequence[SherdRow]) -> PhotoRow:
    """The list of photographs; open is the one in the address, else that of the sherd in the address, else the first."""
    by_id = {str(photo.photo_id): photo for photo in photos}
    of_sherd = next((str(s.photo_id) for s in sherds if s.number == opened(SHERD)), None)
    at = of_sherd or opened(outlines.PHOTO)
    key = "choose_photo"
    st.session_state[key] = at if at in by_id else next(iter(by_id))
    words = {
        str(photo.photo_id): photo_label(
            place, photo, sum(s.look is not None for s in sherds if s.photo_id == photo.photo_id)
        )
        for place, photo in enumerate(photos, start=1)
    }
    chosen = st.selectbox(
        "Photograph",
        list(by_id),
        key=key,
        format_func=lambda photo_id: words.get(photo_id, photo_id),
        on_change=lambda: outlines.open_photo(int(st.session_state[key])),
    )
    return by_id[chosen]


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    lots = [] if cat is None else [lot.name for lot in cat.lots()]
    if cat is None or not lots:
        empty_state(
            "No photographs yet. Choose one or several photographs of one lot, name the lot, and find the sherds."
        )
        draw_intake(cat, lots)
    else:
        with st.expander("Add photographs", expanded=st.session_state.get(jobs.WAITING) == photographs.INTAKE):
            draw_intake(cat, lots)
        draw_lot(cat, lots)


draw_page(
    "Every sherd is outlined, measured and numbered. Look the outlines over before you go on.", draw, PHOTOGRAPHING
)
