"""What the vocabulary page does: add, change and drop terms, take SKOS in."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import streamlit as st

from motifs.errors import InputError
from motifs.records import Term
from motifs.ui.presenters.text import counted
from motifs.ui.presenters.vocabulary import split_names
from motifs.ui.session import act
from motifs.workflows.vocabulary import add_term, change_term, drop_term, read_skos

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

OPEN = "term"
DROPPED = "term_dropped"
"""The term that was taken out last, to put it back."""

FIELD = "term_field_"
TEXTS = (
    "definition",
    "period_note",
    "region_note",
    "style_type",
    "style_element",
    "symmetry",
    "drawing",
    "exact_match",
)


def typed(was: Term, *, place: str) -> Term:
    """The term as the form says it now."""
    state = st.session_state

    def value(name: str) -> str:
        return str(state.get(f"{FIELD}{place}_{name}") or "").strip()

    return replace(
        was,
        label=value("label"),
        synonyms=split_names(value("synonyms")),
        broader=tuple(state.get(f"{FIELD}{place}_broader") or ()),
        examples=split_names(value("examples")),
        **{name: value(name) for name in TEXTS},
    )


def add(kind: str) -> None:
    """Add what the form says, and open it."""

    def work(cat: Catalogue, by: str) -> str:
        term = add_term(cat, typed(Term(kind, "?"), place=f"new_{kind}"), by=by)
        for key in [key for key in st.session_state if str(key).startswith(f"{FIELD}new_{kind}")]:
            del st.session_state[key]
        st.session_state[OPEN] = term.label
        return f"{kind} '{term.label}' added"

    act(work)


def change(was: Term) -> None:
    """Put what the form says in the place of the term as it was read."""

    def work(cat: Catalogue, by: str) -> str:
        term = change_term(cat, was, typed(was, place=f"{was.kind}_{was.label}"), by=by)
        st.session_state[OPEN] = term.label
        return f"{term.kind} '{term.label}' changed"

    act(work)


def drop(term: Term) -> None:
    """Take a term out; it can be put back as it was."""

    def work(cat: Catalogue, by: str) -> str:
        drop_term(cat, term.kind, term.label, by=by)
        st.session_state[DROPPED] = term
        return f"{term.kind} '{term.label}' is out of the vocabulary; sherds that have it keep it"

    act(work)


def put_back() -> None:
    """Put the term that was taken out last back."""

    def work(cat: Catalogue, by: str) -> str:
        term = st.session_state.get(DROPPED)
        if not isinstance(term, Term):
            raise InputError("no term was taken out on this page; add it as a new one")
        add_term(cat, term, by=by)
        del st.session_state[DROPPED]
        st.session_state[OPEN] = term.label
        return f"{term.kind} '{term.label}' is back in the vocabulary"

    act(work)


def take_in(key: str, kind: str) -> None:
    """Take in an uploaded SKOS file."""

    def work(cat: Catalogue, by: str) -> str:
        upload = st.session_state.get(key)
        if upload is None:
            raise InputError("no file is chosen; choose a SKOS file in Turtle")
        with TemporaryDirectory() as folder:
            file = Path(folder) / "vocabulary.ttl"
            file.write_bytes(upload.getvalue())
            taken = read_skos(cat, file, kind=kind, by=by)
        left_out = (
            f"; {counted(len(taken.warnings), 'statement')} left out: {taken.warnings[0]}" if taken.warnings else ""
        )
        return (
            f"{counted(len(taken.added), 'term')} added, {len(taken.changed)} changed, {taken.same} as before{left_out}"
        )

    act(work)
