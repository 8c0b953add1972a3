"""Comparanda: a sherd, or a part of it, and the nearest decorations."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui import jobs
from motifs.ui.actions import comparanda as actions
from motifs.ui.choosing import LOT, SHERD, chosen, chosen_lot, open_, open_sherd
from motifs.ui.components.agreement import show_agreement
from motifs.ui.components.box_picture import draw_box_numbers, show_box_picture
from motifs.ui.components.crop_wall import pictures_of, show_wall
from motifs.ui.components.kept_comparanda import draw_keep_form, draw_lists, draw_published_form
from motifs.ui.components.markup import show
from motifs.ui.components.tag_proposals import draw_proposals
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.comparanda import (
    box_words,
    neighbour_rows,
    neighbours_wall,
    nothing_words,
    verdict_words,
)
from motifs.ui.presenters.photographs import size_words
from motifs.ui.presenters.text import facts, lines, safe, table
from motifs.workflows.compared import likeness_of
from motifs.workflows.vectors import comparanda_encoder

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, SherdRow
    from motifs.workflows.comparanda import Comparanda

CLOSER = "look_closer"


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
        draw_narrowing(cat)
    with st.expander("More sherds of the same decoration"):
        st.multiselect(
            "Ask with these sherds too",
            [other.number for other in cat.sherds(sherd.lot) if other.number != sherd.number],
            key=actions.ALSO,
            placeholder="none",
            help="Several sherds that show the same decoration are one question: their vectors are averaged.",
        )
    with st.expander("The part to compare, in numbers"):
        draw_box_numbers(cat, sherd, actions.BOX)
    st.button("Find comparanda", type="primary", on_click=jobs.ask_for, args=(actions.FIND,))
    jobs.do_waiting(actions.FIND, partial(actions.find, sherd.number))


def draw_narrowing(cat: Catalogue) -> None:
    """What may be found."""
    st.multiselect("Only these sites", [site.name for site in cat.sites()], key=actions.SITES, placeholder="all sites")
    tags = [tag for found in cat.tags_of([sherd.number for sherd in cat.sherds()]).values() for tag in found]
    for label, key, kind in (
        ("Only with these tags", actions.TERMS, None),
        ("Only these techniques", actions.TECHNIQUES, "technique"),
        ("Only these positions", actions.POSITIONS, "position"),
    ):
        terms = sorted({tag.term for tag in tags if kind in {None, tag.kind}})
        if terms:
            st.multiselect(label, terms, key=key, placeholder="any")
    periods = sorted({record.fields["period"] for record in cat.records() if record.fields.get("period")})
    if periods:
        st.multiselect("Only of these periods", periods, key=actions.PERIODS, placeholder="any")
    st.text_input("Words in the record", key=actions.WORDS, placeholder="number, lot, site or tag")
    st.number_input("At most", min_value=1, max_value=200, value=12, key=actions.TOP)
    if likeness_of(comparanda_encoder()) is not None:
        st.slider(
            "Least probability of the same motif", 0.0, 1.0, 0.0, 0.05, key=actions.PROBABLE,
            help="Fitted on practice pots: in a collection where few sherds share a motif it is too high.",
        )  # fmt: skip
    st.slider(
        "Least similarity", -1.0, 1.0, -1.0, 0.05, key=actions.LEAST,
        help="From -1 to 1, larger is closer. It is no probability.",
    )  # fmt: skip
    st.checkbox("Look for mirror images too", key=actions.MIRROR)


def draw_answer(cat: Catalogue, found: Comparanda) -> None:
    """The neighbours, or that there are none."""
    show(lines(found.notes, kind="warn"))
    if not found.neighbours:
        empty_state(nothing_words(found))
        return
    show(f'<p class="m-say m-strong">{safe(verdict_words(found))}</p>' if found.is_comparable is not None else "")
    sherds = {
        number: cat.sherd(number) for number in (found.query, *found.others, *(near.sherd for near in found.neighbours))
    }

    def open_neighbour(number: str) -> None:
        open_(LOT, sherds[number].lot)
        open_sherd(number)

    show_wall(
        neighbours_wall(found), pictures_of(cat, list(sherds.values()), "near"), key="near", on_pick=open_neighbour
    )
    draw_closer(cat, found)
    with st.expander("As a list"):
        head = ("Rank", "Sherd", "Site", "Lot", "Similarity", "Same motif", "Places that agree")
        show(table(head, neighbour_rows(found), caption=f"Nearest to {found.query}, by {found.encoder}"))
    show(
        '<p class="m-say">Looking alike is not being of one vessel, or of one time: look at the sherds themselves.</p>'
    )


def draw_closer(cat: Catalogue, found: Comparanda) -> None:
    """One neighbour beside the sherd asked for, with the regions that agree; and keeping it."""
    st.subheader("Look closer", anchor=False)
    names = [near.sherd for near in found.neighbours]
    if st.session_state.get(CLOSER) not in names:
        st.session_state[CLOSER] = names[0]
    chosen_one = st.selectbox("Neighbour", names, key=CLOSER)
    near = next(near for near in found.neighbours if near.sherd == chosen_one)
    show_agreement(cat, found, near)
    draw_keep_form(cat, found, near.sherd)


def draw_below(cat: Catalogue, sherd: SherdRow) -> None:
    """Tags proposed for the sherd, and the lists of what was kept."""
    tags, lists = st.columns(2)
    with tags:
        st.subheader("Tags", anchor=False)
        draw_proposals(cat, sherd)
    with lists:
        st.subheader("Lists of comparanda", anchor=False)
        draw_lists(cat)
        with st.expander("Add a published piece"):
            draw_published_form(sherd.number)


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
        draw_below(cat, sherd)


draw_page("Where else this decoration is known.", draw)
