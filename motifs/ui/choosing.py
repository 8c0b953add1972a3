"""Which lot and which sherd are open: kept in the address, so that a page can be bookmarked and sent."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

if TYPE_CHECKING:
    from collections.abc import Sequence

LOT, SHERD, BESIDE, VESSEL, SITE = "lot", "sherd", "beside", "vessel", "site"
_LATEST = "latest_lot"


def opened(name: str) -> str | None:
    """What the address says: a lot, a sherd."""
    value = st.query_params.get(name)
    return value or None


def open_(name: str, value: str | None) -> None:
    """Put it into the address, or take it out."""
    if value is None:
        st.query_params.pop(name, None)
    else:
        st.query_params[name] = value


def remember_lot(lot: str) -> None:
    """Let the other pages open this lot next, where their address names none."""
    st.session_state[_LATEST] = lot


def open_sherd(number: str | None) -> None:
    """Open a sherd; whatever was beside the one before is put away."""
    if number != opened(SHERD):
        open_(BESIDE, None)
    open_(SHERD, number)


def chosen(
    name: str,
    label: str,
    options: Sequence[str],
    *,
    empty: str | None = None,
    help_: str | None = None,
    width_px: int | None = None,
) -> str | None:
    """A list to choose from, tied to the address: the twin of every click that opens something.

    empty: text of an entry for none. Returns the choice, or None.
    """
    none = [] if empty is None else [empty]
    entries = [*none, *options]
    if not entries:
        return None
    key = f"choose_{name}"
    at = opened(name)
    st.session_state[key] = at if at in options else entries[0]

    def changed() -> None:
        value = st.session_state[key]
        value = None if value == empty else value
        open_sherd(value) if name == SHERD else open_(name, value)

    value = st.selectbox(label, entries, key=key, on_change=changed, help=help_, width=width_px or "stretch")
    return None if value == empty else value


def chosen_lot(lots: Sequence[str], *, width_px: int | None = None) -> str | None:
    """The lot that is open: as the address says, else the one open last, else the first."""
    if not lots:
        return None
    at = opened(LOT)
    if at not in lots:
        latest = st.session_state.get(_LATEST)
        at = latest if latest in lots else lots[0]
    st.session_state[f"choose_{LOT}"] = at

    def changed() -> None:
        open_sherd(None)
        open_(LOT, st.session_state[f"choose_{LOT}"])

    lot = st.selectbox("Lot", lots, key=f"choose_{LOT}", on_change=changed, width=width_px or "stretch")
    st.session_state[_LATEST] = lot
    # Also where it was not asked for: what is open is still open after a reload, and the address can be sent on.
    if opened(LOT) != lot:
        open_(LOT, lot)
    return lot
