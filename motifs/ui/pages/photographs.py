"""Photographs: take them in, look at the outlines, correct them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui import jobs
from motifs.ui.actions import photographs as actions
from motifs.ui.choosing import chosen, chosen_lot
from motifs.ui.components.markup import show
from motifs.ui.components.outline_picture import show_outlines
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.cautions import PHOTOGRAPHING
from motifs.ui.presenters.photographs import photo_facts, sherd_rows
from motifs.ui.presenters.text import counted, facts, lines, table

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, LotRow, PhotoRow, SherdRow

FORMATS = ["jpg", "jpeg", "png", "tif", "tiff"]


def draw_intake(cat: Catalogue | None, lots: list[str]) -> None:
    """The form for new photographs."""
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
        placeholder="choose, or type a new one",
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
        help="Only where no scale bar lies in the photographs; it overrides a bar.",
    )  # fmt: skip
    bar.number_input(
        "Length of the bar, mm", min_value=1.0, value=None, key=actions.NEW_BAR, placeholder="50 or 100",
        help="Only where the bar is neither 5 nor 10 cm long.",
    )  # fmt: skip
    st.button(
        "Find the sherds", type="primary", on_click=jobs.ask_for, args=(actions.INTAKE,), kwargs={"needs_name": True}
    )
    jobs.do_waiting(actions.INTAKE, actions.take_in)


def draw_corrections(photo: PhotoRow, sherds: tuple[SherdRow, ...], lots: list[str]) -> None:
    """Drop, merge, undo, scale, lot: everything the picture takes by click, and the list beside it."""
    numbers = [sherd.number for sherd in sherds]
    actions.set_choice([number for number in actions.choice() if number in numbers])
    st.multiselect(
        "Chosen outlines", numbers, key=actions.CHOICE, placeholder="click on the photograph, or choose here"
    )
    with st.container(horizontal=True):
        st.button(
            "Drop", on_click=actions.drop_chosen, help="What is no sherd after all. Its number is not used again."
        )
        st.button("Merge", on_click=actions.merge_chosen, help="Two or more outlines that are one sherd.")
        st.button("Undo", on_click=actions.undo, args=(photo.lot,), help="Takes back the lot's latest change.")
    with st.expander("Set the scale"):
        st.number_input("px/mm", min_value=0.1, value=None, key=actions.TYPED_SCALE, placeholder="a number above 0")
        st.button("Set the scale", on_click=actions.set_scale, args=(photo.photo_id,))
    with st.expander("Wrong lot?"):
        others = [lot for lot in lots if lot != photo.lot]
        st.selectbox(
            "Lot of this photograph",
            others,
            index=None,
            key=actions.OTHER_LOT,
            accept_new_options=True,
            placeholder="choose, or type a new one",
        )
        st.button("Move the photograph", on_click=actions.move_photo, args=(photo.photo_id,))


def draw_site(cat: Catalogue, lot: LotRow) -> None:
    """The lot's site, and a way to change it."""
    with st.expander("Site of this lot"):
        show(facts([("Recorded", lot.site or "not recorded")]))
        st.selectbox(
            "Site", [site.name for site in cat.sites()], index=None, key=actions.LOT_SITE, accept_new_options=True,
            placeholder="choose, type, or leave empty for none",
        )  # fmt: skip
        st.button("Set the site", on_click=actions.set_site, args=(lot.name,))


def draw_photo(cat: Catalogue, photo: PhotoRow, lots: list[str]) -> None:
    """One photograph with its outlines, what was read off it, and corrections."""
    sherds = cat.sherds(photo_id=photo.photo_id)
    picture, side = st.columns([8, 4])
    with side:
        show(facts(photo_facts(photo, sherds)))
        show(lines(photo.warnings, kind="warn"))
        draw_corrections(photo, sherds, lots)
        draw_site(cat, cat.lot(photo.lot))
    with picture:
        show_outlines(cat, photo, sherds, actions.choice(), key="outlines", on_choice=actions.set_choice)
        with st.expander(f"List of {counted(len(sherds), 'sherd')}"):
            show(table(("Number", "Size", "Look at"), sherd_rows(sherds), caption="Sherds of this photograph"))


def draw_lot(cat: Catalogue, lots: list[str]) -> None:
    """A lot's photographs, one at a time."""
    left, right = st.columns(2)
    with left:
        lot = chosen_lot(lots)
    if lot is None:
        return
    photos = {f"{place}. {photo.file_name}": photo for place, photo in enumerate(cat.photos(lot), start=1)}
    if not photos:
        empty_state(f"Lot {lot} has no photographs. Add some above.")
        return
    with right:
        name = chosen("photo", "Photograph", list(photos))
    if name is not None:
        draw_photo(cat, photos[name], lots)


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    lots = [] if cat is None else [lot.name for lot in cat.lots()]
    if cat is None or not lots:
        empty_state(
            "No photographs yet. Choose one or several photographs of one lot, name the lot, and find the sherds."
        )
        draw_intake(cat, lots)
    else:
        with st.expander("Add photographs", expanded=st.session_state.get(jobs.WAITING) == actions.INTAKE):
            draw_intake(cat, lots)
        draw_lot(cat, lots)


draw_page(
    "Every sherd is outlined, measured and numbered. Look the outlines over before you go on.", draw, PHOTOGRAPHING
)
