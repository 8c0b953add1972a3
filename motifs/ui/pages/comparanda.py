"""Comparanda: a sherd, or a part of it, and the nearest decorations."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui import jobs
from motifs.ui.actions import comparanda as actions
from motifs.ui.choosing import LOT, SHERD, chosen, chosen_lot, open_, open_sherd
from motifs.ui.components.box_picture import crop_size_px, show_box_picture
from motifs.ui.components.crop_wall import pictures_of, show_wall
from motifs.ui.components.markup import show
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.comparanda import box_words, neighbour_rows, neighbours_wall, nothing_words
from motifs.ui.presenters.photographs import size_words
from motifs.ui.presenters.text import facts, lines, safe, table

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, SherdRow
    from motifs.workflows.comparanda import Comparanda

BOX_LABELS = ("Left, px", "Top, px", "Width, px", "Height, px")


def choose_sherd(cat: Catalogue) -> SherdRow | None:
    """Lot and sherd, from lists."""
    left, right = st.columns(2)
    with left:
        lot = chosen_lot([lot.name for lot in cat.lots()])
    if lot is None:
        return None
    with right:
        number = chosen(SHERD, "Sherd", [sherd.number for sherd in cat.sherds(lot)])
    return None if number is None else cat.sherd(number)


def draw_query(cat: Catalogue, sherd: SherdRow) -> None:
    """The sherd asked for, with the box on it if only a part is compared."""
    box_px = actions.box(sherd.number)
    show_box_picture(cat, sherd, box_px, key="query", on_box=lambda drawn: actions.set_box(sherd.number, drawn))
    show(f'<p class="m-say">{safe(box_words(box_px))}</p>')
    if box_px is not None:
        st.button("Take the whole sherd", on_click=actions.set_box, args=(sherd.number, None))
    show(facts([("Site", sherd.site or "not recorded"), ("Lot", sherd.lot), ("Size", size_words(sherd))]))


def draw_form(cat: Catalogue, sherd: SherdRow) -> None:
    """What to look among, and the button; numbers for the box that can be dragged."""
    st.checkbox(
        "Other sites only",
        key=actions.OTHER_SITES,
        help="Leaves out the sherd's own site, and lots whose site is not recorded.",
    )
    with st.expander("Narrow down"):
        st.multiselect(
            "Only these sites", [site.name for site in cat.sites()], key=actions.SITES, placeholder="all sites"
        )
        st.number_input("At most", min_value=1, max_value=200, value=12, key=actions.TOP)
        st.slider(
            "Least similarity", -1.0, 1.0, -1.0, 0.05, key=actions.LEAST,
            help="From -1 to 1, larger is closer. It orders decorations; it is no probability.",
        )  # fmt: skip
    with st.expander("The part to compare, in numbers"):
        draw_box_numbers(cat, sherd)
    st.button("Find comparanda", type="primary", on_click=jobs.ask_for, args=(actions.FIND,))
    jobs.do_waiting(actions.FIND, partial(actions.find, sherd.number))


def draw_box_numbers(cat: Catalogue, sherd: SherdRow) -> None:
    """The twin of dragging a box: px of the sherd's crop, 10 px a mm."""
    width_px, height_px = crop_size_px(cat, sherd)
    columns = st.columns(2)
    for place, (key, label, most) in enumerate(
        zip(actions.BOX_KEYS, BOX_LABELS, (width_px, height_px) * 2, strict=True)
    ):
        st.session_state[key] = min(int(st.session_state.get(key) or 0), most)
        columns[place % 2].number_input(label, min_value=0, max_value=most, step=10, key=key)


def draw_answer(cat: Catalogue, found: Comparanda) -> None:
    """The neighbours, or that there are none."""
    show(lines(found.notes, kind="warn"))
    if not found.neighbours:
        empty_state(nothing_words(found))
        return
    sherds = {number: cat.sherd(number) for number in (found.query, *(near.sherd for near in found.neighbours))}

    def open_neighbour(number: str) -> None:
        open_(LOT, sherds[number].lot)
        open_sherd(number)

    show_wall(
        neighbours_wall(found), pictures_of(cat, list(sherds.values()), "near"), key="near", on_pick=open_neighbour
    )
    with st.expander("As a list"):
        head = ("Rank", "Sherd", "Site", "Lot", "Similarity")
        show(table(head, neighbour_rows(found), caption=f"Nearest to {found.query}, by {found.encoder}"))
    show(
        '<p class="m-say">Looking alike is not being of one vessel, or of one time: look at the sherds themselves.</p>'
    )


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    sherd = None if cat is None else choose_sherd(cat)
    if cat is None or sherd is None:
        empty_state("No sherd to compare yet.", page_file="motifs/ui/pages/photographs.py", label="Add photographs")
    else:
        query, answers = st.columns([4, 8])
        with query:
            draw_query(cat, sherd)
            draw_form(cat, sherd)
        with answers:
            found = actions.answer(sherd.number)
            if found is None:
                empty_state(
                    f"Choose what to compare {sherd.number} with, then find comparanda. A click on a neighbour opens it."
                )
            else:
                draw_answer(cat, found)


draw_page("Where else this decoration is known.", draw)
