"""What stands beside the layout: the chosen sherd in numbers, its joins, the order, the record, and things to print."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.actions import layout as actions
from motifs.ui.components.markup import show
from motifs.ui.components.sieve import sift
from motifs.ui.components.sifted_table import draw_grid
from motifs.ui.presenters.layout import join_sieve, join_words, record_rows, sherd_words, step_rows
from motifs.ui.presenters.sifting import grid
from motifs.ui.presenters.text import lines, notice, safe
from motifs.workflows.join_pictures import picture_of_join
from motifs.workflows.layout_sheets import drawing_pdf, plan_figure, step_sheet_pdf, true_size_pdf
from motifs.workflows.mending_cautions import FIRST, MENDING
from motifs.workflows.recipes import BASES, recipe
from motifs.workflows.treatment import ANSWERS, FIELDS, missing_kinds

if TYPE_CHECKING:
    import datetime
    from collections.abc import Callable, Sequence

    from motifs.catalogue import Catalogue
    from motifs.workflows.layout import VesselLayout
    from motifs.workflows.snapping import SnapPlace

MOST_SNAPS = 8
PREPARED = "layout_print"


def draw_sherd(laid: VesselLayout, snaps: Sequence[SnapPlace], number: str | None) -> None:
    """The chosen sherd: where it lies, the same in numbers to type, and the places its joins offer."""
    if number is None:
        show('<p class="m-empty">Choose a sherd in the list or in the layout.</p>')
        return
    one = laid.sherd(number)
    show(f'<p class="m-say">{safe(sherd_words(one))}</p>')
    for key, value in ((actions.X, one.x_mm), (actions.Y, one.y_mm), (actions.TURN, one.turn_deg)):
        st.session_state[key] = float(value)
    with st.form("lay_sherd", border=False):
        left, middle, right = st.columns(3)
        left.number_input("x, mm", key=actions.X, step=0.5, format="%.1f")
        middle.number_input("y, mm", key=actions.Y, step=0.5, format="%.1f")
        right.number_input("turn, °", key=actions.TURN, step=1.0, format="%.1f")
        st.form_submit_button("Lay it here and lock", on_click=actions.lay_typed, args=(number,))
    place = (one.x_mm, one.y_mm, one.turn_deg)
    label = "Leave it to its joins" if one.is_locked else "Lock it where it lies"
    st.button(label, key="switch_lock", on_click=actions.switch_lock, args=(laid.lot, number, place))
    mine = [snap for snap in snaps if snap.sherd == number][:MOST_SNAPS]
    if mine:
        words = [f"{snap.beside}, fit {snap.fit:.2f}" for snap in mine]
        at = st.selectbox("Snap beside", range(len(mine)), format_func=words.__getitem__, key=f"snap_{number}")
        snap = mine[at or 0]
        st.button(
            "Lay it there", key="lay_snap", on_click=actions.lay_at, args=(number, snap.x_mm, snap.y_mm, snap.turn_deg)
        )


def draw_joins(cat: Catalogue, laid: VesselLayout, number: str | None) -> None:
    """Joins of the chosen sherd, or of all, one of them as a picture to judge by."""
    joins = [join for join in laid.joins if number is None or number in (join.a, join.b)]
    if not joins:
        show('<p class="m-empty">No join is proposed here.</p>')
        return
    joins = sift(joins, join_sieve(), "joins")
    if not joins:
        return
    at = st.selectbox(
        "Join", range(len(joins)), format_func=lambda k: join_words(joins[k]), key=f"join_{number}_{len(joins)}"
    )
    join = joins[at or 0]
    st.image(
        picture_of_join(cat, laid.lot, join.a, join.b),
        width="stretch",
        alt=f"{join.a} and {join.b} laid together as proposed",
    )
    show(f'<p class="m-say">{safe(join_words(join))}</p>')
    with st.container(horizontal=True):
        for word, label, shortcut in (("accepted", "They fit", "Alt+S"), ("refused", "They do not fit", "Alt+D")):
            st.button(
                label,
                shortcut=shortcut,
                key=f"judge_{word}",
                on_click=actions.judge,
                args=(laid.lot, join.a, join.b, word),
                disabled=join.word == word,
            )
        if join.word is not None:
            st.button(
                "Take it back", key="judge_back", on_click=actions.judge, args=(laid.lot, join.a, join.b, "withdrawn")
            )
    show(notice("note", "Look at the real edges: do not rub two breaks against each other to try a fit."))


def draw_steps(laid: VesselLayout) -> None:
    """The order of assembly."""
    rows = step_rows(laid)
    if not rows:
        show('<p class="m-empty">No two sherds are joined yet.</p>')
        return
    head = ("Step", "Add", "Onto", "From", "Turn in the box", "Watch")
    draw_grid(grid(head, rows, "Order of assembly: letter for the group, number for the step"), key="steps")
    show(notice("note", FIRST))


def draw_record(cat: Catalogue, laid: VesselLayout, today: datetime.date) -> None:
    """Whether to mend, what was done, and how to undo it; the cautions above all of it."""
    show(lines(MENDING, kind="warn"))
    rows = cat.treatments(laid.lot, laid.vessel)
    missing = missing_kinds(rows)
    if missing:
        show(notice("note", f"Not recorded yet: {', '.join(missing)}."))
    if rows:
        head = ("Entry", "Date", "Kind", "Who", "What", "Note")
        draw_grid(grid(head, record_rows(rows), "Treatment record"), key="treatments")
    kind = st.selectbox("Kind of entry", list(FIELDS), key=actions.KIND)
    for name in FIELDS[kind]:
        key = actions.field_key(kind, name)
        label = name[0].upper() + name[1:]
        if name == "answer":
            st.selectbox(label, ANSWERS, key=key, index=len(ANSWERS) - 1)
        elif name == "basis":
            st.selectbox(
                label,
                ("", *BASES),
                key=key,
                help="25 % means three different things; the basis is kept with the number.",
            )
        else:
            st.text_input(label, key=key)
    left, right = st.columns(2)
    left.date_input("Date of the work", key=actions.DATE, value=today)
    right.text_input("Done by", key=actions.PERSON, placeholder="you, if left empty")
    st.text_input("Remark", key=actions.NOTE)
    st.button("Keep this entry", type="primary", on_click=actions.add_treatment, args=(laid.lot, laid.vessel))
    if rows:
        with st.container(horizontal=True, vertical_alignment="bottom"):
            which = st.selectbox("Entry", [row.treatment_id for row in reversed(rows)], key="treat_out", width=110)
            st.button("Take out of the record", on_click=actions.withdraw_treatment, args=(laid.lot, int(which or 0)))
    with st.popover("Work out a solution"):
        percent = st.number_input("Percent", min_value=0.5, max_value=80.0, value=10.0, key="recipe_percent")
        basis = st.selectbox("Basis", BASES, key="recipe_basis")
        ml = st.number_input("Acetone, mL", min_value=1.0, max_value=5000.0, value=50.0, key="recipe_ml")
        made = recipe(float(percent), str(basis), float(ml))
        show(
            f'<p class="m-strong">{made.resin_g:.2f} g resin to {made.solvent_g:.1f} g acetone: {made.by_mass_percent:.1f} % w/w</p>'
        )
        show(lines(made.cautions, kind="warn"))


def draw_prints(cat: Catalogue, laid: VesselLayout) -> None:
    """Files to keep or print, made when asked for."""
    makers: dict[str, tuple[str, Callable[[], bytes]]] = {
        "Numbered plan (PDF)": ("plan.pdf", partial(_plan, laid)),
        "True size over A4 pages (PDF)": ("true size.pdf", partial(true_size_pdf, cat, laid)),
        "Dry run with tape (PDF)": ("dry run.pdf", partial(step_sheet_pdf, laid)),
    }
    which = st.selectbox("What to print", list(makers), key="print_what")
    name, maker = makers[str(which)]
    made = st.session_state.get(PREPARED)
    stamp = (laid.lot, laid.vessel, which, cat.version(laid.lot))
    if st.button("Make the file", key="print_make"):
        made = (stamp, maker())
        st.session_state[PREPARED] = made
    if made is not None and made[0] == stamp:
        st.download_button(
            "Save the file", made[1], file_name=f"{laid.lot} vessel {laid.vessel} {name}", mime="application/pdf"
        )
    show('<p class="m-say">Print at 100 %, and check the bar with a ruler.</p>')


def _plan(laid: VesselLayout) -> bytes:
    figure, _ = plan_figure(laid)
    return drawing_pdf(figure.drawing, figure.caption)
