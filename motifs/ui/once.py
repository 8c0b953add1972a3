"""What many pages ask of the whole catalogue at every drawing, kept until the catalogue changes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.ui.session import UNLOCKED

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue


def term_counts(cat: Catalogue, kind: str | None = None) -> dict[tuple[str, str], int]:
    """On how many sherds each (kind, term) is, commonest first."""
    return _term_counts(cat, *_version(cat), kind)


def periods(cat: Catalogue) -> tuple[str, ...]:
    """Every period that the written records name, in order of the alphabet."""
    return _periods(cat, *_version(cat))


def _version(cat: Catalogue) -> tuple[str, int, bool]:
    """What an answer holds for: this collection, as it is now, for those who see what is restricted or do not."""
    return str(cat.folder), cat.version(), bool(st.session_state.get(UNLOCKED))


@st.cache_resource(max_entries=64, show_spinner=False)
def _term_counts(
    _cat: Catalogue, folder: str, version: int, is_unlocked: bool, kind: str | None
) -> dict[tuple[str, str], int]:
    return _cat.tag_counts(kind)


@st.cache_resource(max_entries=8, show_spinner=False)
def _periods(_cat: Catalogue, folder: str, version: int, is_unlocked: bool) -> tuple[str, ...]:
    return tuple(sorted({record.fields["period"] for record in _cat.records() if record.fields.get("period")}))
