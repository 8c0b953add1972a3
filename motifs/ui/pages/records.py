"""Records: what is written of every find, tables taken in, and what is not to be shown."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from motifs.catalogue import GROUNDS, RECORD_FIELDS, SUBJECTS
from motifs.errors import MotifsError
from motifs.ui import jobs
from motifs.ui.actions import records as actions
from motifs.ui.choosing import LOT, SHERD, chosen, open_sherd
from motifs.ui.components.large_pictures import show_sherds
from motifs.ui.components.markup import show
from motifs.ui.components.sifted_table import draw_grid
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters.records import (
    GROUPS,
    LONG_FIELDS,
    changes_grid,
    faults_grid,
    finds_grid,
    plan_words,
    restrictions_grid,
    seen_html,
)
from motifs.ui.presenters.text import counted, notice, safe
from motifs.ui.session import UNLOCKED, told
from motifs.workflows.importing import FIELDS, propose_columns
from motifs.workflows.record_edits import finds_of, preview_field
from motifs.workflows.restricting import NOTICE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue, RecordRow, RestrictionRow

ONE, MANY, TABLE, OUT, RESTRICTED = TASKS = "One find", "Many finds", "Take in a table", "Write out", "Restricted"
PICTURE_PX = 260
NOT_TAKEN = "not taken in"


def draw_find(cat: Catalogue, find: RecordRow) -> None:
    """One find: its picture and what was read off it, then what is written, field by field."""
    left, right = st.columns([1, 2])
    with left, st.container(key="side"):
        if find.number in cat.sherd_numbers(find.lot):
            show_sherds(cat, (find.number,), PICTURE_PX, key="record")
            show(seen_html(cat.sherd(find.number), cat.tags(find.number)))
            there = {"lot": find.lot, "sherd": find.number}
            with st.container(horizontal=True):
                st.page_link("motifs/ui/pages/tagging.py", label="Catalogue", query_params=there)
                st.page_link("motifs/ui/pages/comparanda.py", label="Comparanda", query_params=there)
        else:
            show('<p class="m-say">Not photographed: only written of.</p>')
        names = [field for fields in GROUPS.values() for field in fields]
        keep = (find, names)
        st.button("Keep the record", type="primary", on_click=actions.keep_record, args=keep, shortcut="Alt+S")
        draw_undo(cat, find.lot)
    with right:
        for title, fields in GROUPS.items():
            show(f'<h3 class="m-term">{safe(title)}</h3>')
            columns = st.columns(2)
            for place, field in enumerate(fields):
                draw_field(columns[place % 2], find, field)


def draw_undo(cat: Catalogue, lot: str) -> None:
    """Take the lot's latest change back, and say which that is."""
    waiting = cat.next_undo(lot)
    st.button("Undo the lot's latest change", on_click=actions.undo, args=(lot,), disabled=not waiting)
    if waiting:
        show(f'<p class="m-say">{safe(f"Would take back: {waiting[0].verb} {waiting[0].subject}")}</p>')


def draw_field(column: object, find: RecordRow, field: str) -> None:
    """One field; long ones have room for several lines."""
    key, label = f"{actions.FIELD}{find.number}_{field}", field[0].upper() + field[1:]
    kind = "text_area" if field in LONG_FIELDS else "text_input"
    getattr(column, kind)(label, find.fields.get(field, ""), key=key)


def draw_one(cat: Catalogue, lot: str, finds: Sequence[RecordRow]) -> None:
    """The find that is open, the way to the ones beside it, and the list of the lot's finds."""
    numbers = [find.number for find in finds]
    with st.container(horizontal=True, vertical_alignment="bottom"):
        number = chosen(SHERD, "Find", numbers)
        if number is not None:
            place = numbers.index(number)
            for label, step, key in (("Find before", -1, "Alt+Up"), ("Next find", 1, "Alt+Down")):
                there = numbers[min(max(0, place + step), len(numbers) - 1)]
                st.button(label, on_click=open_sherd, args=(there,), disabled=there == number, shortcut=key)
    if number is None:
        empty_state("No find in this lot yet: add one that is not photographed, or take in a table.")
    else:
        draw_find(cat, finds[numbers.index(number)])
    with st.expander("A find that is not photographed"):
        st.text_input("Its number, exactly as on the find", key=actions.NEW_FIND)
        st.button("Add it", on_click=actions.add_find, args=(lot,))
    if finds:
        draw_grid(finds_grid(finds), key="finds")


def draw_many(cat: Catalogue, lot: str, finds: Sequence[RecordRow]) -> None:
    """One field on many finds, looked at before it is kept."""
    if not finds:
        empty_state("No find in this lot yet: add one that is not photographed, or take in a table.")
        return
    field = st.selectbox("Field", RECORD_FIELDS, key="many_field")
    text = st.text_input("Write there (nothing takes the field out)", key="many_text")
    numbers = [find.number for find in finds]
    picked = st.multiselect("Finds (none chosen: all of the lot)", numbers, key="many_finds")
    changes = preview_field(cat, picked or numbers, field, text)
    show(f'<p class="m-say">{counted(len(changes), "find")} would change.</p>')
    if changes:
        draw_grid(changes_grid(changes), key="changes")
    st.button("Keep these changes", type="primary", disabled=not changes, on_click=actions.keep_many, args=(changes,))
    draw_undo(cat, lot)


def draw_table(cat: Catalogue, lot: str) -> None:
    """A table: which column is what, every fault, and taking it in."""
    show(
        '<p class="m-say">Numbers such as 11-4, 0012 or 1E5 have to be text cells. Nothing is converted: what is wrong is told by row and column.</p>'
    )
    upload = st.file_uploader(
        "Table (CSV or Excel, its first row names the columns)", type=["csv", "tsv", "xlsx"], key=actions.TABLE
    )
    if upload is None:
        return
    sheet = actions.uploaded_sheet(upload)
    with st.expander("Which column is what", expanded=True):
        mapped = draw_columns(sheet.head)
    is_update = st.checkbox("Let the table change records that are there", key="table_update")
    plan = actions.look_at(cat, sheet, mapped, lot, is_update=is_update)
    show(f'<p class="m-say">{safe(plan_words(plan))}</p>')
    if plan.faults:
        draw_grid(faults_grid(plan), key="faults")
    leave_out = bool(plan.faults) and st.checkbox(
        "Leave out the rows that are wrong, and take in the others", key="leave_out"
    )
    is_ready = bool(plan.count("add") + plan.count("change")) and (leave_out or not plan.faults)
    st.button(
        "Take it in",
        type="primary",
        disabled=not is_ready,
        on_click=partial(jobs.ask_for, actions.TAKE_IN, needs_name=True),
    )
    jobs.do_waiting(actions.TAKE_IN, partial(actions.take_in, plan, leave_out_faulty=leave_out))


def draw_columns(head: Sequence[str]) -> dict[str, str]:
    """A choice for every column, beginning with what its name says."""
    try:
        proposed = propose_columns(tuple(head))
    except MotifsError as wrong:
        show(notice("note", told(wrong)))
        proposed = {}
    mapped: dict[str, str] = {}
    columns = st.columns(3)
    for place, name in enumerate(one for one in head if one):
        options = [NOT_TAKEN, *FIELDS]
        at = options.index(proposed.get(name, NOT_TAKEN))
        field = columns[place % 3].selectbox(
            f"Column {place + 1}", options, at, key=f"column_{place}_{name}", help=None
        )
        columns[place % 3].text(name)
        mapped[name] = "" if field == NOT_TAKEN else field
    return mapped


def draw_restricted(cat: Catalogue) -> None:
    """What is not shown, and the way to restrict, free and unlock."""
    show(f'<p class="m-say">{safe(NOTICE)}</p>')
    withheld = cat.withheld()
    if st.session_state.get(UNLOCKED):
        show(notice("note", "restricted things are shown to you now"))
        st.button("Lock again", on_click=actions.lock)
    elif withheld:
        show(f'<p class="m-say">{counted(withheld, "sherd")} not shown.</p>')
    found = cat.restrictions()
    is_open = bool(st.session_state.get(UNLOCKED))
    if is_open and found:
        draw_grid(restrictions_grid(found), key="restrictions")
    else:
        told = "unlock to read them" if found else "nothing is kept back"
        show(f'<p class="m-say">{counted(len(found), "restriction")} in force; {told}.</p>')
    st.text_input("Reason, for the record (to unlock or to free)", key=actions.REASON)
    if not is_open:
        st.button("Unlock for me", disabled=not found, on_click=actions.unlock)
    else:
        draw_freeing(found)
    with st.expander("Restrict something", expanded=not found):
        st.selectbox("What", SUBJECTS, key=actions.WHAT_KIND)
        st.text_input("Its name or number", key=actions.WHAT_NAME)
        st.selectbox("On what ground", GROUNDS, key=actions.GROUND)
        st.text_input("Who asked, until when, whom to consult", key=actions.NOTE)
        st.button("Do not show it", type="primary", on_click=actions.restrict)


def draw_out(cat: Catalogue) -> None:
    """The whole collection in open formats, as one file."""
    show(
        '<p class="m-say">Photographs, crops, tables, vocabulary and a page to look at, in open formats, as one ZIP file. What is '
        "restricted stays out, exact places too. The command export writes the same into a folder, and import brings it back.</p>"
    )
    st.checkbox("With plates at 1:1, 1:2 and 1:3 (takes longest)", key=actions.WITH_PLATES)
    st.button("Pack the collection", type="primary", on_click=jobs.ask_for, args=(actions.WRITE_OUT,))
    jobs.do_waiting(actions.WRITE_OUT, actions.write_out)
    version, made = st.session_state.get(actions.WRITTEN, (None, None))
    if made is None:
        return
    if version != cat.version():
        show(notice("note", "the collection has changed since it was packed; pack it again"))
    st.download_button("Save the file", made.content, made.name, "application/zip", on_click="ignore")


def draw_freeing(found: Sequence[RestrictionRow]) -> None:
    """Let one of them be shown again; the reason typed above goes on record."""
    with st.container(horizontal=True, vertical_alignment="bottom"):
        numbers = {one.restriction_id: one for one in found}
        number = st.selectbox("Free number", list(numbers), key="free_number", width=180)
        if number is not None:
            one = numbers[number]
            st.button(
                f"Free number {number} of the list",
                key=f"lift_{number}",
                on_click=actions.lift,
                args=(one.kind, one.name),
            )


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    if cat is None:
        empty_state("No collection yet.", page_file="motifs/ui/pages/photographs.py", label="Add photographs")
        return
    task = st.segmented_control(
        "What to do",
        TASKS,
        default=ONE,
        required=True,
        key="records_task",
        bind="query-params",
    )
    if task in {RESTRICTED, OUT}:
        (draw_restricted if task == RESTRICTED else draw_out)(cat)
        return
    lot = chosen(LOT, "Lot", [one.name for one in cat.lots()])
    if lot is None:
        empty_state("No lot is to be seen.", page_file="motifs/ui/pages/photographs.py", label="Add photographs")
    elif task == TABLE:
        draw_table(cat, lot)
    else:
        (draw_one if task == ONE else draw_many)(cat, lot, finds_of(cat, lot))


draw_page("What is written of every find, and what is not to be shown.", draw)
