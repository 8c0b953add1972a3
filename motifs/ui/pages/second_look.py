"""A second look: sherds that were tagged, tagged again without seeing how; and how far the two agree."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.catalogue import TAG_KINDS
from motifs.ui.actions import second_look as actions
from motifs.ui.components.crop_wall import pictures_of, show_wall
from motifs.ui.components.markup import show
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.second_look import differing_wall, progress_words, report_html
from motifs.ui.presenters.text import safe
from motifs.ui.presenters.wall import SIZES_PX_PER_MM, Row, Tile, Wall
from motifs.ui.session import analyst
from motifs.workflows.agreement import may_be_seen, next_to_look_at, report_agreement
from motifs.workflows.vocabulary import terms_of

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, SecondLookRow

EVERY_LOT = "every lot"
AGAIN_HELP = "Sherds that carry exactly one term of this kind are drawn by chance, and shown without it."
SEED_HELP = "The same number and the same tags draw the same sample."


def draw_begin(cat: Catalogue) -> None:
    """A new sample."""
    with st.expander("Begin a second look", expanded=not cat.second_looks()):
        st.text_input("Name", key=actions.NAME, placeholder="a month, or whose second look")
        columns = st.columns(4)
        kind = columns[0].selectbox("What to judge again", TAG_KINDS, help=AGAIN_HELP)
        lot = columns[1].selectbox("Lot", [EVERY_LOT, *(lot.name for lot in cat.lots())])
        size = columns[2].number_input("Sherds", min_value=1, max_value=1000, value=30)
        seed = columns[3].number_input("Seed of the draw", min_value=0, max_value=10**6, value=0, help=SEED_HELP)
        chosen = None if lot == EVERY_LOT else lot
        st.button("Draw the sample", on_click=actions.begin, args=(kind, int(size), int(seed), chosen))


def draw_next(cat: Catalogue, look: SecondLookRow, by: str) -> bool:
    """The next sherd to judge, without any tag; whether there is one."""
    number = next_to_look_at(cat, look.name, by=by)
    done = sum(answer.by == by for answer in cat.second_answers(look.name))
    st.progress(done / len(look.sherds))
    show(f'<p class="m-say">{safe(progress_words(done, len(look.sherds)))}</p>')
    if number is None:
        return False
    left, right = st.columns([7, 5])
    with left:
        row = Row("again", f"What {look.kind} is on this sherd?", "", (Tile(number),))
        wall = Wall((row,), "Sherd to look at again", px_per_mm=SIZES_PX_PER_MM[1])
        show_wall(wall, pictures_of(cat, [cat.sherd(number)], "again"), key="again", on_pick=lambda _: None)
    with right:
        labels = [term.label for term in terms_of(cat, look.kind)]
        term = st.selectbox("What you see", labels, index=None, key=f"again_{number}", placeholder="type to search")
        # Enter is left to the list above, where it takes the term.
        st.button(
            "Keep, and the next one",
            type="primary",
            on_click=actions.answer,
            args=(look.name, number, term),
            disabled=not term,
            shortcut="Alt+K",
        )
        st.button(
            "Cannot be told", on_click=actions.answer, args=(look.name, number, "indeterminate"), shortcut="Alt+I"
        )
    return True


def draw_differing(cat: Catalogue, look: SecondLookRow, by: str) -> None:
    """What this person called otherwise, as pictures: only after all was looked at."""
    first = {one.sherd: one.term for one in look.first}
    seen = may_be_seen(cat, look.sherds)
    answers = [answer for answer in cat.second_answers(look.name) if answer.by == by and answer.sherd in seen]
    given = {answer.sherd: answer.term for answer in answers}
    wall = differing_wall(first, given, by)
    if not wall.rows:
        return
    st.subheader("What you called otherwise", anchor=False)
    sherds = [cat.sherd(tile.sherd) for row in wall.rows for tile in row.tiles]
    show_wall(wall, pictures_of(cat, sherds, "differing"), key="differing", on_pick=lambda _: None)


def draw_look(cat: Catalogue) -> None:
    """One second look: the next sherd, or how far it agrees."""
    names = [look.name for look in cat.second_looks()]
    if not names:
        empty_state(
            "Tag some sherds first; a second look then asks for a sample of them again, without showing the tags."
        )
        return
    name = st.selectbox("Second look", names[::-1], key=actions.OPEN, bind="query-params")
    by = analyst()
    if not by:
        empty_state("Type your name at the top: the answers are yours.")
        return
    if draw_next(cat, cat.second_look(name), by):
        return
    show(report_html(report_agreement(cat, name)))
    draw_differing(cat, cat.second_look(name), by)
    show(
        '<p class="m-say">Low agreement is no fault of a person: look at what is called otherwise, and sharpen the '
        "definitions.</p>"
    )
    st.page_link("motifs/ui/pages/vocabulary.py", label="Terms and what they mean")


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    if cat is None or not cat.lots():
        empty_state("No sherd to look at yet.", page_file="motifs/ui/pages/photographs.py", label="Add photographs")
        return
    draw_begin(cat)
    draw_look(cat)


draw_page("Would you say the same again, or would somebody else?", draw)
