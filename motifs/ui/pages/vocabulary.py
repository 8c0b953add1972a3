"""The vocabulary: what the terms mean, how they hang together, and changing them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.catalogue import TAG_KINDS, SherdFilter
from motifs.design.skos import to_turtle
from motifs.records import Term
from motifs.ui.actions import vocabulary as actions
from motifs.ui.components.crop_wall import pictures_of
from motifs.ui.components.markup import show
from motifs.ui.components.sifted_table import draw_grid
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.once import term_counts
from motifs.ui.presenters.figures import Figure, figures_html
from motifs.ui.presenters.text import safe
from motifs.ui.presenters.vocabulary import drop_words, term_card, tree_grid
from motifs.workflows.vocabulary import terms_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue

HELPS = {
    "symmetry": "Orbifold notation after Conway: signs such as *22oo for a band or 442 for a plane pattern.",
    "drawing": "A path of straight lines in a square: M to go somewhere, L to draw a line there, Z to close.",
    "exact_match": "The address of the same idea in a published vocabulary, if somebody checked that it is the same.",
}
LABELS = {
    "definition": "What it means",
    "period_note": "Period",
    "region_note": "Region",
    "style_type": "Type",
    "style_element": "Element or style",
    "symmetry": "Symmetry (orbifold symbol)",
    "drawing": "Drawing (M, L, Z and numbers from 0 to 1)",
    "exact_match": "Same as, elsewhere (a checked URI)",
}
MOST_EXAMPLES = 4
OF_MOTIFS = ("style_type", "style_element", "symmetry")


def draw_form(term: Term, labels: Sequence[str], *, place: str) -> None:
    """The fields of a term."""

    def key(name: str) -> str:
        return f"{actions.FIELD}{place}_{name}"

    st.text_input("Label", term.label, key=key("label"))
    for name, label in LABELS.items():
        if name in OF_MOTIFS and term.kind != "motif":
            continue
        if name == "definition":
            st.text_area(label, term.definition, key=key(name), height=80)
        else:
            st.text_input(label, getattr(term, name), key=key(name), help=HELPS.get(name))
    st.text_area("Also called, one a line", "\n".join(term.synonyms), key=key("synonyms"), height=80)
    wider = [one for one in labels if one != term.label]
    st.multiselect("Broader terms", wider, [one for one in term.broader if one in wider], key=key("broader"))
    st.text_area("Example sherds, one number a line", "\n".join(term.examples), key=key("examples"), height=80)


def draw_term(cat: Catalogue, terms: Sequence[Term]) -> None:
    """One term to look at, to read and to change."""
    labels = [term.label for term in terms]
    opened = st.selectbox("Term", labels, key=actions.OPEN, bind="query-params")
    term = next(term for term in terms if term.label == opened)
    used = term_counts(cat, term.kind).get((term.kind, term.label), 0)
    show(term_card(term, used))
    draw_examples(cat, term, used)
    with st.expander("Change it"):
        draw_form(term, labels, place=f"{term.kind}_{term.label}")
        st.button("Keep the changes", type="primary", on_click=actions.change, args=(term,))
    with st.popover("Take the term out ..."):
        show(f'<p class="m-say">{safe(drop_words(term, used))}</p>')
        st.button("Take the term out", on_click=actions.drop, args=(term,))


def draw_examples(cat: Catalogue, term: Term, used: int) -> None:
    """A few sherds that carry it, the largest first, and the way to all of them."""
    if not used:
        return
    wanted = SherdFilter(kind=term.kind, term=term.label, order="largest")
    sherds = [cat.sherd(line.number) for line in cat.sherd_lines(wanted, limit=MOST_EXAMPLES).lines]
    pictures = pictures_of(cat, sherds, "term")
    show(figures_html([Figure(number, one.url, one.width_mm, one.height_mm) for number, one in pictures.items()], 110))
    st.page_link(
        "motifs/ui/pages/tagging.py",
        label="All sherds with it",
        query_params={"sheet_kind": term.kind, "sheet_term": term.label},
    )


def draw_new(kind: str, labels: Sequence[str]) -> None:
    """A new term."""
    with st.expander("Add a term"):
        draw_form(Term(kind, ""), labels, place=f"new_{kind}")
        st.button("Add it", type="primary", on_click=actions.add, args=(kind,))


def draw_files(cat: Catalogue, kind: str) -> None:
    """SKOS out and in."""
    with st.expander("Exchange as SKOS"):
        st.download_button(
            "Write all terms as SKOS (Turtle)", to_turtle(terms_of(cat)), "vocabulary.ttl", "text/turtle"
        )
        st.file_uploader("Take in SKOS (Turtle)", type=["ttl"], key="skos_file")
        st.button("Take it in", on_click=actions.take_in, args=("skos_file", kind))


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    if cat is None:
        empty_state("No collection yet.", page_file="motifs/ui/pages/photographs.py", label="Add photographs")
        return
    kind = st.selectbox("Kind of term", TAG_KINDS, key="vocabulary_kind", bind="query-params", width=320)
    terms = terms_of(cat, kind)
    left, right = st.columns([7, 5])
    with left:
        if terms:
            draw_grid(tree_grid(terms, term_counts(cat, kind), kind), key=f"tree_{kind}")
        else:
            empty_state(f"No term of kind {kind} yet: add one, or take some in as SKOS.")
    with right:
        if terms:
            draw_term(cat, terms)
        if st.session_state.get(actions.DROPPED) is not None:
            st.button("Put the term back that was taken out", on_click=actions.put_back)
        draw_new(kind, [term.label for term in terms])
        draw_files(cat, kind)


draw_page("The words for what is on a sherd, and what they mean.", draw)
