"""The list twins of what is done on the wall: move sherds, accept, lock and merge vessels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.actions import sorting as actions
from motifs.ui.choosing import VESSEL, chosen, opened
from motifs.ui.components.markup import show
from motifs.ui.presenters.sorting import (
    NEW_ROW,
    NEW_VESSEL,
    UNASSIGNED,
    VESSEL_PREFIX,
    vessel_of_row,
    vessel_title,
    vessel_words,
)
from motifs.ui.presenters.text import safe
from motifs.workflows.moves import free_vessel_name

if TYPE_CHECKING:
    from motifs.workflows.table import LotTable


def row_words(row: str) -> str:
    """A place as the lists show it."""
    vessel = vessel_of_row(row)
    if vessel is not None:
        return vessel_title(vessel)
    return NEW_VESSEL if row == NEW_ROW else actions.PILE


def draw_places(table: LotTable, numbers: list[str], *, without: str | None = None, key: str = "") -> None:
    """Choose a place, say why, move. without: a vessel that is not offered. key: what the keys of the lists end with."""
    open_vessels = [v.name for v in table.vessels if v.name != without and v.locked_by is None]
    places = [*(f"{VESSEL_PREFIX}{name}" for name in open_vessels), NEW_ROW, UNASSIGNED]
    place = st.selectbox("Move to", places, key=actions.MOVE_TO + key, format_func=row_words)
    if place == NEW_ROW:
        st.text_input("Name of the new vessel", key=actions.NEW_NAME + key, placeholder=free_vessel_name(table))
    st.text_input("Why (kept with your word)", key=actions.NOTE + key, placeholder="may stay empty")
    st.button("Move", key=f"move_button{key}", on_click=actions.move_chosen, args=(table.lot, numbers, key))


def draw_vessels(table: LotTable) -> None:
    """Accept, lock or merge one vessel."""
    if not table.vessels:
        return
    names = [vessel.name for vessel in table.vessels]
    with st.expander("Accept, lock or merge a vessel", expanded=opened(VESSEL) in names):
        vessel = table.vessel(str(chosen(VESSEL, "Vessel", names)))
        show(f'<p class="m-say">{safe(vessel_words(vessel))}</p>')
        here = {"lot": table.lot, "vessel": vessel.name}
        st.page_link("motifs/ui/pages/layout.py", label="Lay this vessel out", query_params=here)
        is_locked = vessel.locked_by is not None
        with st.container(horizontal=True):
            st.button(
                "Accept this vessel",
                on_click=actions.accept,
                args=(table.lot, vessel.name),
                disabled=vessel.is_accepted,
                help="Puts every sherd of it on your word. Undo takes it back.",
            )
            st.button(
                "Unlock this vessel" if is_locked else "Lock this vessel",
                on_click=actions.lock,
                args=(table.lot, vessel.name),
                kwargs={"is_locked": not is_locked},
                help="A sort leaves a locked vessel as it is: no sherd goes, none comes. A lock is no judgement.",
            )
        others = [f"{VESSEL_PREFIX}{v.name}" for v in table.vessels if v.name != vessel.name and v.locked_by is None]
        if others and not is_locked:
            st.selectbox("Merge it into", others, key=actions.INTO, format_func=row_words)
            st.button("Merge", on_click=actions.merge, args=(table.lot, vessel.name))
