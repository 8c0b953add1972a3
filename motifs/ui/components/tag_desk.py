"""Beside the sheet: what is chosen, the term to put on it, keys for the commonest terms; a single sherd large, to tag a part of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.catalogue import TAG_KINDS
from motifs.ui.actions import tagging as actions
from motifs.ui.actions.boxes import set_box
from motifs.ui.components.box_picture import draw_box_numbers, show_box_picture
from motifs.ui.components.markup import show
from motifs.ui.components.sherd_links import draw_sherd_links
from motifs.ui.once import term_counts
from motifs.ui.presenters.contact_sheet import chosen_words, quick_terms, tag_words
from motifs.ui.presenters.text import safe
from motifs.workflows.vocabulary import terms_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue, SherdRow, TagRow

TAG_HINT = "Drag over a part to tag that part alone; a click takes the box away."
SIDE_PX = 330


def draw_desk(
    cat: Catalogue, numbers: Sequence[str], chosen: Sequence[str], page: int, last: int, lot: str | None
) -> None:
    """The whole desk. numbers: of the page that is shown; lot: the one that the sheet is of, or None."""
    draw_choice(numbers, chosen, page, last)
    if len(chosen) == 1:
        draw_one(cat, cat.sherd(chosen[0]))
    draw_putting(cat, numbers, chosen, page, last)
    undone = lot or st.session_state.get(actions.TAGGED_LOT)
    if undone is not None:
        waiting = "; ".join(f"{event.verb} {event.subject}" for event in cat.next_undo(undone)[:3])
        st.button("Undo in this lot", on_click=actions.undo, args=(undone,), disabled=not waiting, shortcut="Alt+Z")
        show(f'<p class="m-say">{safe(f"Would take back: {waiting}")}</p>' if waiting else "")
    st.page_link("motifs/ui/pages/vocabulary.py", label="Terms and what they mean")


def draw_choice(numbers: Sequence[str], chosen: Sequence[str], page: int, last: int) -> None:
    """What is chosen, and the ways to choose otherwise."""
    show(f'<p class="m-say m-strong">{safe(chosen_words(chosen))}</p>')
    with st.container(horizontal=True):
        st.button("Sherd before", on_click=actions.step, args=(numbers, -1, page, last), shortcut="Alt+Up")
        st.button("Next sherd", on_click=actions.step, args=(numbers, 1, page, last), shortcut="Alt+Down")
        st.button("Choose the page", on_click=actions.choose, args=([*chosen, *numbers],), shortcut="Alt+A")
        st.button("Choose none", on_click=actions.choose, args=([],), disabled=not chosen, shortcut="Alt+N")
    key = f"sheet_list_{'|'.join(chosen)}"
    st.multiselect(
        "Chosen, as a list",
        list(dict.fromkeys([*chosen, *numbers])),
        default=chosen,
        key=key,
        on_change=lambda: actions.relist(chosen, st.session_state[key]),
        placeholder="none",
    )


def draw_one(cat: Catalogue, sherd: SherdRow) -> None:
    """A single sherd: its picture to draw a part on, its tags, and the pages that open it."""
    tags = cat.tags(sherd.number)
    boxed = [tag for tag in tags if tag.box_px is not None]
    box_px = actions.tag_box(sherd.number)
    show_box_picture(
        cat,
        sherd,
        box_px,
        key="tag_part",
        on_box=lambda drawn: set_box(actions.BOX, sherd.number, drawn),
        kept=[tag.box_px for tag in boxed if tag.box_px is not None],
        hint=TAG_HINT,
        side_px=SIDE_PX,
    )
    if box_px is not None:
        show('<p class="m-say m-strong">The next term goes on the part in the box.</p>')
        st.button("Take the whole sherd", on_click=set_box, args=(actions.BOX, sherd.number, None))
    with st.expander("The part, in numbers"):
        draw_box_numbers(cat, sherd, actions.BOX)
    for tag in tags:
        draw_tag(tag, boxed.index(tag) + 1 if tag in boxed else None)
    draw_sherd_links(sherd, but="tagging", is_named=False)


def draw_tag(tag: TagRow, box: int | None) -> None:
    """One tag with who put it there, and a button that takes it off."""
    with st.container(horizontal=True, vertical_alignment="center"):
        part = "" if box is None else f" (box {box})"
        show(f'<p class="m-say">{safe(f"{tag_words(tag)}{part}, {tag.by}")}</p>')
        st.button(
            "Take off", key=f"off_{tag.tag_id}", on_click=actions.take_one_off, args=(tag,), type="tertiary", help=None
        )


def draw_putting(cat: Catalogue, numbers: Sequence[str], chosen: Sequence[str], page: int, last: int) -> None:
    """The term, and the buttons that put it on or take it off."""
    kind = st.selectbox("Kind of tag", TAG_KINDS, key=actions.KIND)
    labels = [term.label for term in terms_of(cat, kind)]
    term = st.selectbox("Term", labels, index=None, key=actions.TERM, placeholder="type to search")
    st.selectbox("How sure", list(actions.CONFIDENCES), key=actions.CONFIDENCE)
    along = (list(numbers), page, last)
    is_ready = bool(chosen and term)
    with st.container(horizontal=True):
        st.button(
            "Put on",
            type="primary",
            on_click=actions.put,
            args=(kind, term, *along),
            disabled=not is_ready,
            shortcut="Alt+P",
        )
        st.button("Take off", on_click=actions.take_off, args=(kind, term), disabled=not is_ready)
    st.checkbox(
        "Then go on to the next sherd",
        key=actions.GO_ON,
        help="With one sherd chosen, a term put on it turns up the next one: tag a whole lot by keys alone.",
    )
    draw_keys(quick_terms(term_counts(cat, kind), kind, labels), kind, chosen, along)


def draw_keys(terms: Sequence[str], kind: str, chosen: Sequence[str], along: tuple[list[str], int, int]) -> None:
    """A key for each of the nine terms used most; names stand beside the keys, since buttons would read them as markup."""
    entries = "".join(f"<li>{safe(term)}</li>" for term in terms)
    show(f'<p class="m-say">Keys of this kind:</p><ol class="m-plain">{entries}</ol>')
    with st.container(horizontal=True):
        for place, term in enumerate(terms, start=1):
            st.button(
                str(place),
                key=f"key_{place}",
                on_click=actions.put,
                args=(kind, term, *along),
                disabled=not chosen,
                shortcut=f"Alt+{place}",
            )
