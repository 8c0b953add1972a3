"""Panels to confirm by: pairs of face and back, numbers read, rims."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, TypeVar

import streamlit as st
from PIL import Image

from motifs.ui import jobs
from motifs.ui.actions import confirming as actions
from motifs.ui.choosing import SHERD, chosen
from motifs.ui.components.browser_code import address_of
from motifs.ui.components.intake_form import FORMATS
from motifs.ui.components.large_pictures import show_sherds
from motifs.ui.components.markup import show
from motifs.ui.components.sieve import sift
from motifs.ui.frame import empty_state
from motifs.ui.presenters.confirming import (
    LABEL_SIEVE,
    RIM_SIEVE,
    VIEW_SIEVE,
    eve_words,
    in_order,
    label_doubt,
    label_title,
    rim_rows,
    rim_words,
    view_facts,
    view_title,
    views_summary,
)
from motifs.ui.presenters.text import facts, lines, safe, table
from motifs.workflows.confirm_pictures import label_picture, rim_picture, view_picture
from motifs.workflows.rims import lot_rims
from motifs.workflows.view_pictures import pair_picture

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue, LabelRow, ViewRow

_Thing = TypeVar("_Thing")

SHERD_PX = 220
A_PAGE = 6
"""Pairs or numbers shown at once; each is drawn from its original."""


def draw_backs(cat: Catalogue, lot: str) -> None:
    """Photographs of the sherds turned over, and every outline on them beside its face."""
    views, numbers = cat.views(lot), [sherd.number for sherd in cat.sherds(lot)]
    with st.expander("Add photographs of the backs", expanded=not views):
        show(
            '<p class="m-say">Turn each sherd over where it lies. Backs are paired with faces by their mirrored outlines.</p>'
        )
        st.file_uploader("Photographs of the backs", type=FORMATS, accept_multiple_files=True, key=actions.backs_key())
        st.number_input(
            "Scale of these, px/mm",
            min_value=0.1,
            value=None,
            key=actions.BACK_SCALE,
            placeholder="from the bar or the mat",
        )
        st.button(
            "Pair the backs", type="primary", on_click=jobs.ask_for, args=(actions.BACKS,), kwargs={"needs_name": True}
        )
    jobs.do_waiting(actions.BACKS, lambda by, progress: actions.take_backs(lot, by, progress))
    if not views:
        return
    show(f'<p class="m-say">{safe(views_summary(views, numbers))}</p>')
    sure = tuple(view.view_id for view in views if view.standing == "paired")
    part = _part(sift(in_order(views), VIEW_SIEVE, "backs"), "views_part")
    asked = next((view.view_id for view in part if view.sherd is not None and view.standing != "confirmed"), None)
    for view in part:
        _draw_view(cat, view, numbers, by_keys=view.view_id == asked)
    if len(sure) > 1:
        st.button(
            f"I have looked at all {len(sure)} pairs: they are right", on_click=actions.confirm_sure, args=(sure,)
        )


def _draw_view(cat: Catalogue, view: ViewRow, numbers: list[str], *, by_keys: bool) -> None:
    with st.container(border=True, key=f"view_{view.view_id}"):
        left, right = st.columns([7, 5])
        with left:
            picture = view_picture(cat, view) if view.sherd is None else pair_picture(cat, view)
            what = "view by itself" if view.sherd is None else f"face of {view.sherd}, and the back mirrored onto it"
            _show_picture(picture, f"{what}", f"view-{view.view_id}")
        with right:
            show(f'<p class="m-say m-strong">{safe(view_title(view))}</p>{facts(view_facts(view))}')
            with st.container(horizontal=True):
                if view.sherd is not None and view.standing != "confirmed":
                    st.button(
                        "Same sherd", key=f"same_{view.view_id}", on_click=actions.confirm, args=(view.view_id,),
                        shortcut="Alt+S" if by_keys else None,
                    )  # fmt: skip
                st.button(
                    "No view of a sherd", key=f"drop_{view.view_id}", on_click=actions.drop, args=(view.view_id,),
                    help="Takes it out. Undo brings it back.",
                )  # fmt: skip
            key = f"whose_{view.view_id}"
            st.selectbox("It is the back of", numbers, index=None, key=key, placeholder="choose; empty: nobody knows")
            st.button("Say so", key=f"pair_{view.view_id}", on_click=actions.pair, args=(view.view_id, key))


def draw_numbers(cat: Catalogue, lot: str) -> None:
    """Numbers on slips and sherds, as read; a sherd gets a number only from a person."""
    show(
        '<p class="m-say">Numbers are read off slips and sherds and only proposed. Compare each with the picture: '
        "zeros in front, dots and strokes stay as they are written.</p>"
    )
    st.button("Read the numbers of this lot", on_click=jobs.ask_for, args=(actions.READ,), kwargs={"needs_name": True})
    jobs.do_waiting(actions.READ, lambda by, progress: actions.read_numbers(lot, by, progress))
    labels = cat.labels(lot, state="proposed")
    if not labels:
        empty_state("No number waits for an answer. Read the numbers of this lot, or go on.")
    for place, label in enumerate(_part(sift(labels, LABEL_SIEVE, "numbers"), "numbers_part")):
        _draw_label(cat, label, by_keys=place == 0)


def _draw_label(cat: Catalogue, label: LabelRow, *, by_keys: bool) -> None:
    with st.container(border=True, key=f"label_{label.label_id}"):
        left, right = st.columns([7, 5])
        with left:
            _show_picture(label_picture(cat, label), f"sherd {label.sherd} and its number", f"label-{label.label_id}")
        with right:
            show(f'<p class="m-say m-strong">{safe(label_title(label))}</p>')
            doubt = label_doubt(label)
            show(lines([doubt] if doubt else [], kind="warn"))
            key = f"number_{label.label_id}"
            st.text_input("Number", value=label.text, key=key)
            with st.container(horizontal=True):
                st.button(
                    "This is its number", key=f"yes_{label.label_id}", on_click=actions.accept_number,
                    args=(label.lot, label.sherd, key), shortcut="Alt+S" if by_keys else None,
                )  # fmt: skip
                st.button(
                    "Read wrongly", key=f"no_{label.label_id}", on_click=actions.refuse_number,
                    args=(label.lot, label.sherd), shortcut="Alt+D" if by_keys else None,
                    help="The sherd keeps its number. Undo brings the reading back.",
                )  # fmt: skip


def draw_rims(cat: Catalogue, lot: str) -> None:
    """Rims of the lot, and a form for one."""
    found = lot_rims(cat, lot)
    show(f'<p class="m-say">{safe(eve_words(found))}</p>')
    show(lines(found.warnings, kind="warn"))
    if found.rims:
        kept = sift(found.rims, RIM_SIEVE, "rims")
        show(table(("Number", "Rim", "How", "By", "Note"), rim_rows(kept), caption="Rims of this lot"))
    numbers = [sherd.number for sherd in cat.sherds(lot)]
    if not numbers:
        empty_state("No sherd in this lot.", page_file="motifs/ui/pages/photographs.py", label="Add photographs")
        return
    picture, form = st.columns([3, 9])
    with picture:
        number = chosen(SHERD, "Sherd", numbers) or numbers[0]
        show_sherds(cat, (number,), SHERD_PX, key="rim")
    with form:
        draw_rim_form(number, is_recorded=any(rim.sherd == number for rim in found.rims))
    with st.expander("Along the outline of a photograph"):
        draw_stretch(cat, lot, number)


def draw_rim_form(number: str, *, is_recorded: bool) -> None:
    """The three ways to say what the rim is."""
    chord, chart, outline = st.columns(3)
    with chord, st.container(border=True):
        show('<p class="m-say m-strong">Measured: chord and rise</p>')
        st.number_input(
            "Chord, mm", min_value=0.1, value=None, key=actions.CHORD,
            help="The straight length between the two ends of the rim, lip downwards on the table.",
        )  # fmt: skip
        st.number_input(
            "Rise at its middle, mm", min_value=0.01, value=None, key=actions.SAGITTA,
            help="How far the middle of the rim stands off that straight line (the sagitta).",
        )  # fmt: skip
        st.button("Record chord and rise", on_click=actions.record_chord, args=(number,))
    with chart, st.container(border=True):
        show('<p class="m-say m-strong">Read on a rim chart</p>')
        st.number_input("Diameter, mm", min_value=1.0, value=None, key=actions.DIAMETER)
        st.number_input(
            "Share of the rim, %", min_value=0.1, max_value=100.0, value=None, key=actions.PERCENT,
            help="How much of the whole circle is there; shares add up to the estimated vessel equivalent (EVE).",
        )  # fmt: skip
        st.button("Record the reading", on_click=actions.record_chart, args=(number,))
    with outline, st.container(border=True):
        show('<p class="m-say m-strong">Cannot be told</p>')
        show('<p class="m-say">For a short or warped rim often the right answer.</p>')
        st.button("Record diameter unknown", on_click=actions.record_unknown, args=(number,))
        if is_recorded:
            st.button(
                "No rim after all",
                on_click=actions.withdraw,
                args=(number,),
                help="Takes the reading out. Undo brings it back.",
            )
    st.text_input("Note", key=actions.NOTE, placeholder="kept with the reading; may stay empty")


def draw_stretch(cat: Catalogue, lot: str, number: str) -> None:
    """A circle along a stretch of an outline, shown before it is recorded."""
    pieces: dict[str, int | None] = {"the face": None}
    pieces |= {f"view {view.view_id}, {view.kind}": view.view_id for view in cat.views(lot, sherd=number)}
    view_id = pieces[st.selectbox("Outline of", list(pieces), key=f"{actions.PIECE}_{number}")]
    begin, end = st.slider("Rim from and to, % of the way round from the dot", 0, 150, (0, 25), key=actions.STRETCH)
    piece = cat.sherd(number) if view_id is None else cat.view(view_id)
    left, right = st.columns([7, 5])
    with right:
        found = actions.proposed_rim(cat, number, view_id)
        show(
            f'<p class="m-say m-strong">{safe("no diameter" if found.reading is None else rim_words(found.reading))}</p>'
        )
        show(lines(found.warnings, kind="warn"))
        st.button("Record this rim", on_click=actions.record_stretch, args=(number, view_id))
    with left:
        _show_picture(rim_picture(cat, piece, begin / 100, end / 100), f"outline of {number}, rim marked", "rim")


def _part(things: Sequence[_Thing], key: str) -> Sequence[_Thing]:
    """Some of many, chosen by page."""
    pages = -(-len(things) // A_PAGE)
    if pages < 2:
        return things
    at = int(st.number_input(f"Part (of {pages})", 1, pages, key=key, width=160))
    return things[(at - 1) * A_PAGE : at * A_PAGE]


def _show_picture(picture: NDArray[np.uint8], alt: str, place: str) -> None:
    stream = io.BytesIO()
    Image.fromarray(picture).save(stream, "JPEG", quality=88)
    url = address_of(stream.getvalue(), "image/jpeg", place)
    show(f'<img class="m-judge" src="{safe(url)}" alt="{safe(alt)}">')
