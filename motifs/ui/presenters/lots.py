"""Lots at a glance, what waits for a person in each, and the way through for whoever begins."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.ui.presenters.text import counted, safe

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import LotRow, LotTally
    from motifs.workflows.overview import LotStanding

PHOTOGRAPHS, CONFIRMING, SORTING, TAGGING = "photographs", "confirming", "sorting_table", "tagging"
ORDERS = AS_CAME, BY_NAME, BY_SITE, MOST_TO_DO = ("as they came in", "name", "site", "most to do")

WAY_THROUGH = (
    (
        "Photographs",
        "Washed, dried sherds of one lot on a plain backdrop, with a scale bar or the printed mat. Outlines and sizes are found.",
    ),
    ("Check the outlines", "Those that ask for a look are marked; redraw, split, merge or drop what is wrong."),
    ("Catalogue", "Tag motif, technique and position on the vessel, many sherds at once."),
    ("Sorting table", "Vessels are proposed with reasons. Answer questions, move sherds, accept what is right."),
    ("Joins and layout", "What fits to what, and in which order, before any adhesive is opened."),
    ("Comparanda and sites", "Where else the decoration is known, and how sites compare."),
    ("Report", "Everything with its method, and what is uncertain."),
)


@dataclass(frozen=True, slots=True)
class NextStep:
    """What waits for a person. page: file name of the page where it is done."""

    words: str
    page: str


@dataclass(frozen=True, slots=True)
class Stage:
    """How far one kind of work has got."""

    words: str
    done: int
    of: int


def waiting(lot: LotStanding) -> tuple[NextStep, ...]:
    """Everything that waits, in the order it is best done; empty where nothing does."""
    is_done = lot.sherds > 0 and lot.judged == lot.sherds
    steps = (
        (lot.sherds == 0, "Add photographs", PHOTOGRAPHS),
        (lot.without_scale > 0, f"Give the scale of {counted(lot.without_scale, 'photograph')}", PHOTOGRAPHS),
        (lot.to_look > 0, f"Look at {counted(lot.to_look, 'outline')}", PHOTOGRAPHS),
        (lot.views > 0, f"Look at {counted(lot.views, 'pairing')} of turned-over sherds", CONFIRMING),
        (lot.labels > 0, f"Settle {counted(lot.labels, 'number')} read off photographs", CONFIRMING),
        (lot.sherds > 0 and lot.vessels is None, "Sort the lot", SORTING),
        (
            lot.vessels is not None and not lot.is_current and not is_done,
            "Sort again: something changed since",
            SORTING,
        ),
        (lot.questions > 0, f"Answer {counted(lot.questions, 'question')}", SORTING),
        (lot.vessels is not None and not is_done, "Look the vessels over and accept them", SORTING),
        (lot.sherds > lot.tagged, f"Tag {counted(lot.sherds - lot.tagged, 'sherd')}", TAGGING),
    )
    return tuple(NextStep(words, page) for waits, words, page in steps if waits)


def next_step(lot: LotStanding) -> NextStep:
    """The first thing that still waits."""
    return next(iter(waiting(lot)), NextStep("Nothing waits: all on a person's word", SORTING))


def stages(lot: LotStanding) -> tuple[Stage, ...]:
    """How far the lot has got, kind by kind."""
    return (
        Stage("outlines looked over", lot.sherds - lot.to_look, lot.sherds),
        Stage("sherds tagged", lot.tagged, lot.sherds),
        Stage("sherds with a vessel", lot.sherds - lot.unassigned if lot.vessels is not None else 0, lot.sherds),
        Stage("sherds on a person's word", lot.judged, lot.sherds),
    )


def stages_html(lot: LotStanding) -> str:
    """The stages as bars with their numbers in words; nothing for a lot without sherds."""
    if lot.sherds == 0:
        return ""
    return f'<ul class="m-stages">{"".join(_stage(stage) for stage in stages(lot))}</ul>'


def _stage(stage: Stage) -> str:
    width = round(100 * stage.done / stage.of) if stage.of else 0
    return (
        f'<li><span class="m-gauge" aria-hidden="true"><i style="width:{width}%"></i></span>'
        f"<span>{stage.done} of {stage.of} {safe(stage.words)}</span></li>"
    )


def standing_facts(lot: LotStanding) -> list[tuple[str, object]]:
    """Names and values of one lot."""
    return [
        ("Site", lot.site or "not recorded"),
        ("Photographs", lot.photos),
        ("Sherds", lot.sherds),
        ("Vessels", _vessels(lot)),
        ("Accepted", lot.accepted or None),
    ]


def way_html() -> str:
    """The way through, as a numbered list."""
    items = "".join(f"<li><strong>{safe(title)}</strong> {safe(words)}</li>" for title, words in WAY_THROUGH)
    return f'<ol class="m-way">{items}</ol>'


def _vessels(lot: LotStanding) -> str:
    if lot.vessels is None or lot.vessels_range is None:
        return "not sorted yet"
    low, high = lot.vessels_range
    return f"{lot.vessels}" if low == high else f"{lot.vessels} (evidence allows {low} to {high})"


def sifted(lots: Sequence[LotRow], tallies: Mapping[str, LotTally], words: str, order: str) -> list[LotRow]:
    """Lots whose name or site holds the words, in the order asked for; most to do: most sherds on nobody's word first."""
    wanted = words.casefold().strip()
    kept = [lot for lot in lots if wanted in lot.name.casefold() or wanted in (lot.site or "").casefold()]
    if order == BY_NAME:
        return sorted(kept, key=lambda lot: lot.name.casefold())
    if order == BY_SITE:
        return sorted(kept, key=lambda lot: ((lot.site or "").casefold(), lot.name.casefold()))
    if order == MOST_TO_DO:
        return sorted(kept, key=lambda lot: (_judged(tallies, lot) - lot.sherds, lot.name.casefold()))
    return kept


def _judged(tallies: Mapping[str, LotTally], lot: LotRow) -> int:
    tally = tallies.get(lot.name)
    return 0 if tally is None else tally.judged
