"""What the records page does: keep what is written, change many, take in tables, restrict and unlock."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.ui.presenters.text import counted
from motifs.ui.session import UNLOCKED, act, open_collection
from motifs.ui.unseen import refuse_unseen
from motifs.workflows import restricting
from motifs.workflows.importing import ImportPlan, carry_out, plan_import, propose_columns
from motifs.workflows.record_edits import FieldChange, keep_changes, save_fields
from motifs.workflows.tables_in import Sheet, read_sheet
from motifs.workflows.uploads import Upload, written_upload
from motifs.workflows.zipped_export import zipped_export

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import Catalogue, RecordRow
    from motifs.workflows import Progress

FIELD = "record_field_"
TAKE_IN, WRITE_OUT = "take_in_table", "write_out"
WRITTEN, WITH_PLATES = "written_out", "write_out_plates"
TABLE, NEW_FIND = "records_table", "record_new_number"
GROUND, NOTE, REASON, WHAT_KIND, WHAT_NAME = (
    f"restrict_{name}" for name in ("ground", "note", "reason", "kind", "name")
)


def keep_record(find: RecordRow, names: Sequence[str]) -> None:
    """Keep what was changed in the form of one find; fields that nobody touched stay as another window may have left them."""

    def work(cat: Catalogue, by: str) -> str:
        typed = {name: str(st.session_state.get(f"{FIELD}{find.number}_{name}") or "") for name in names}
        changed = {name: text for name, text in typed.items() if text != find.fields.get(name, "")}
        if not changed:
            return f"nothing was changed in the record of {find.number}"
        save_fields(cat, find.number, find.lot, changed, by=by)
        return f"record of {find.number} kept"

    act(work)


def add_find(lot: str) -> None:
    """Begin the record of a find that is not photographed."""

    def work(cat: Catalogue, by: str) -> str:
        number = str(st.session_state.get(NEW_FIND) or "")
        if number in cat.known_numbers():
            raise InputError(f"there is a find '{number}' already; open that one, or give another number")
        save_fields(cat, number, lot, {"note": "not photographed yet"}, by=by)
        st.query_params["sherd"] = number
        return f"find {number} added to lot {lot}"

    act(work)


def keep_many(changes: Sequence[FieldChange]) -> None:
    """Keep what was looked at."""
    act(lambda cat, by: f"{counted(keep_changes(cat, changes, by=by), 'find')} changed; undo takes it back as one step")


def undo(lot: str) -> None:
    """Take back the lot's latest change."""

    def work(cat: Catalogue, by: str) -> str:
        refuse_unseen(cat, lot)
        with cat.transaction(by=by):
            taken = cat.undo(lot)
        for key in [key for key in st.session_state if str(key).startswith(FIELD)]:
            del st.session_state[key]
        return f"taken back: {taken[0].verb} {taken[0].subject}"

    act(work)


def uploaded_sheet(upload: object) -> Sheet:
    """Read an uploaded table; InputError as `read_sheet`."""
    sent = Upload(str(getattr(upload, "name", "table")), bytes(upload.getvalue()))  # type: ignore[attr-defined]
    with tempfile.TemporaryDirectory() as folder:
        return read_sheet(written_upload(Path(folder), sent))


def look_at(cat: Catalogue, sheet: Sheet, chosen: Mapping[str, str], lot: str | None, *, is_update: bool) -> ImportPlan:
    """What taking the table in would do."""
    return plan_import(cat, sheet, propose_columns(sheet.head, chosen), lot=lot, is_update=is_update)


def take_in(plan: ImportPlan, by: str, progress: Progress, *, leave_out_faulty: bool) -> str:
    """Take in what was looked at; run as a job of the page."""
    cat = open_collection()
    if cat is None:
        raise InputError("there is no collection yet; add photographs first")
    written = carry_out(cat, plan, leave_out_faulty=leave_out_faulty, by=by, progress=progress)
    return f"{counted(written, 'record')} written from {plan.name}"


def write_out(by: str, progress: Progress) -> str:
    """Pack the whole collection; run as a job of the page. It is kept for this visitor until another one is made."""
    cat = open_collection()
    if cat is None:
        raise InputError("there is no collection yet; add photographs first")
    made = zipped_export(cat, with_plates=bool(st.session_state.get(WITH_PLATES)), by=by, progress=progress)
    st.session_state[WRITTEN] = (cat.version(), made)
    left_out = f"; {counted(made.withheld, 'restricted sherd')} left out" if made.withheld else ""
    return f"{counted(made.sherds, 'sherd')} and {counted(made.photos, 'photograph')} are packed{left_out}; save the file now"


def restrict() -> None:
    """Keep what the form names from being shown."""

    def work(cat: Catalogue, by: str) -> str:
        state = st.session_state
        kind, name = str(state[WHAT_KIND]), str(state.get(WHAT_NAME) or "")
        restricting.restrict(cat, kind, name, str(state[GROUND]), note=str(state.get(NOTE) or ""), by=by)
        return f"{kind} {name} is not shown any more"

    act(work)


def lift(kind: str, name: str) -> None:
    """Let it be shown again."""

    def work(cat: Catalogue, by: str) -> str:
        restricting.lift(cat, kind, name, reason=str(st.session_state.get(REASON) or ""), by=by)
        return f"{kind} {name} is shown again"

    act(work)


def unlock() -> None:
    """Show this visitor what is restricted, with a reason on record, until the page is closed or locked again."""

    def work(cat: Catalogue, by: str) -> str:
        reason = str(st.session_state.get(REASON) or "")
        with cat.transaction(by=by):
            cat.unlock(reason)
        st.session_state[UNLOCKED] = reason
        return "what is restricted is shown to you on this page until you lock it again; your reason is on record"

    act(work)


def lock() -> None:
    """Keep it back again."""
    st.session_state.pop(UNLOCKED, None)
