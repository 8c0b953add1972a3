"""Lots at a glance, and what to do next with each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.ui.presenters.text import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.workflows.overview import LotStanding


@dataclass(frozen=True, slots=True)
class NextStep:
    """What waits for a person. page: "photographs" or "sorting_table"."""

    words: str
    page: str


def next_step(lot: LotStanding) -> NextStep:
    """The first thing that still waits."""
    waiting = (
        (lot.sherds == 0, "Add photographs", "photographs"),
        (lot.without_scale > 0, f"Give the scale of {counted(lot.without_scale, 'photograph')}", "photographs"),
        (lot.vessels is None, "Sort the lot", "sorting_table"),
        (lot.judged == lot.sherds, "All on a person's word", "sorting_table"),
        (not lot.is_current, "Sort again: something changed since", "sorting_table"),
        (lot.questions > 0, f"Answer {counted(lot.questions, 'question')}", "sorting_table"),
        (True, "Look the vessels over and accept them", "sorting_table"),
    )
    return next(NextStep(words, page) for waits, words, page in waiting if waits)


def standing_facts(lot: LotStanding) -> list[tuple[str, object]]:
    """Names and values of one lot."""
    return [
        ("Site", lot.site or "not recorded"),
        ("Photographs", lot.photos),
        ("Sherds", lot.sherds),
        ("To look at", lot.to_look or None),
        ("Vessels", _vessels(lot)),
        ("Unassigned", lot.unassigned if lot.vessels is not None else None),
        ("On a person's word", lot.judged or None),
    ]


def _vessels(lot: LotStanding) -> str:
    if lot.vessels is None or lot.vessels_range is None:
        return "not sorted yet"
    low, high = lot.vessels_range
    return f"{lot.vessels}" if low == high else f"{lot.vessels} (evidence allows {low} to {high})"


def sifted(lots: Sequence[LotStanding], words: str, order: str) -> list[LotStanding]:
    """Lots whose name or site holds the words, in the order asked for."""
    wanted = words.casefold().strip()
    kept = [lot for lot in lots if wanted in lot.lot.casefold() or wanted in (lot.site or "").casefold()]
    if order == "name":
        return sorted(kept, key=lambda lot: lot.lot.casefold())
    if order == "site":
        return sorted(kept, key=lambda lot: ((lot.site or "").casefold(), lot.lot.casefold()))
    if order == "most to do":
        return sorted(kept, key=lambda lot: (lot.judged - lot.sherds, lot.lot.casefold()))
    return kept
