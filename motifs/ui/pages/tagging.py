"""The catalogue: a contact sheet to look through, filter and tag, page by page; as a table, and as plates."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import MotifsError, Restricted
from motifs.ui.actions import tagging as actions
from motifs.ui.components.crop_wall import pictures_of, show_wall
from motifs.ui.components.markup import show
from motifs.ui.components.plate_view import draw_plates
from motifs.ui.components.sheet_filter import PLATES, TABLE, draw_filter, draw_pager
from motifs.ui.components.tag_desk import draw_desk
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.contact_sheet import contact_wall, sheet_rows
from motifs.ui.presenters.text import notice
from motifs.ui.presenters.wall import DEFAULT_PX_PER_MM
from motifs.ui.session import told

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, SherdPage


def draw_table(cat: Catalogue, page: SherdPage) -> None:
    """The page as a table, in which rows can be marked and chosen."""
    rows = st.dataframe(
        sheet_rows(page, cat.tags_of([line.number for line in page.lines])),
        key="sheet_table",
        hide_index=True,
        on_select="rerun",
        selection_mode="multi-row",
        height=520,
    )
    picked = [page.lines[row].number for row in rows["selection"]["rows"] if row < len(page.lines)]
    st.button("Choose the marked rows", on_click=actions.choose, args=(picked,), disabled=not picked)


def draw_sheet(cat: Catalogue, page: SherdPage, chosen: list[str]) -> None:
    """The page as pictures, as a table or as plates; pictures and table choose."""
    view = st.session_state.get("sheet_view")
    numbers = [line.number for line in page.lines]
    if not numbers:
        empty_state("No sherd is like that. Take a filter away, or search for less.")
    elif view == TABLE:
        draw_table(cat, page)
    elif view == PLATES:
        draw_plates(cat, chosen or numbers, "Plates")
    else:
        pictures = pictures_of(cat, [cat.sherd(number) for number in numbers], "sheet")
        wall = contact_wall(page, cat.tags_of(numbers), chosen, DEFAULT_PX_PER_MM)
        show_wall(wall, pictures, key="sheet", on_pick=actions.toggle)


def sound_choice(cat: Catalogue) -> list[str]:
    """What is chosen and may be seen; a sherd in the address that is not there is told and put away.

    Of one that is kept back nothing is said, not even that it is there: a link tells no more than any other page does.
    """
    kept = []
    for number in actions.chosen():
        try:
            kept.append(cat.sherd(number).number)
        except Restricted:
            continue
        except MotifsError as gone:
            show(notice("note", told(gone)))
    return kept


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    if cat is None or not cat.lots():
        empty_state("No sherd to tag yet.", page_file="motifs/ui/pages/photographs.py", label="Add photographs")
        return
    wanted = draw_filter(cat)
    page, number, last = draw_pager(cat, wanted)
    numbers = [line.number for line in page.lines]
    actions.end_step(numbers)
    chosen = sound_choice(cat)
    sheet, desk = st.columns([8, 4])
    with sheet:
        draw_sheet(cat, page, chosen)
    with desk, st.container(key="side"):
        draw_desk(cat, numbers, chosen, number, last, wanted.lot)


draw_page("Look through the sherds, and say what is on them.", draw)
