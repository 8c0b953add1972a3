"""Lots at a glance, what waits for a person in each, and the way through for whoever begins."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.catalogue import LotTally
from motifs.ui.presenters.text import counted, safe
from motifs.workflows.overview import CURRENT, NO_REPORT, STALE

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import LotRow
    from motifs.workflows.overview import LotStanding

PHOTOGRAPHS, CONFIRMING, SORTING, TAGGING = "photographs", "confirming", "sorting_table", "tagging"
LAYOUT, COMPARANDA, SITES, REPORT = "layout", "comparanda", "sites", "report"
ORDERS = AS_CAME, BY_NAME, BY_SITE, MOST_TO_DO = ("as they came in", "name", "site", "most to do")

WAITS = ALL, OUTLINES, BACKS, UNTAGGED, UNJUDGED = (
    "all",
    "outlines or scales to look at",
    "backs or numbers to settle",
    "sherds without a tag",
    "sherds on nobody's word",
)
"""Kinds of what waits, by which lots are shown."""

REPORTS = {NO_REPORT: "none yet", STALE: "older than the record", CURRENT: "up to date"}
REPORT_SHARES = {NO_REPORT: 0.0, STALE: 0.5, CURRENT: 1.0}

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
    """How far one kind of work has got. share: 0..1 of it done. page: file name of the page where it is done."""

    name: str
    words: str
    share: float
    page: str


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
    """How far the lot has got, from photographs to report."""
    return (
        _photographs(lot),
        Stage("Outlines", _of(lot.sherds - lot.to_look, lot.sherds, "looked over"), _share(lot.sherds - lot.to_look, lot.sherds), PHOTOGRAPHS),
        Stage("Tags", _of(lot.tagged, lot.sherds, "tagged"), _share(lot.tagged, lot.sherds), TAGGING),
        _sorting(lot),
        _layout(lot),
        Stage("Comparanda", f"kept for {counted(lot.compared, 'sherd')}" if lot.compared else "none kept yet", float(lot.compared > 0), COMPARANDA),
        Stage("Sites", lot.site or "no site recorded", float(lot.site is not None), SITES),
        Stage("Report", REPORTS[lot.report], REPORT_SHARES[lot.report], REPORT),
    )  # fmt: skip


def _photographs(lot: LotStanding) -> Stage:
    words = f"{lot.photos or 'none yet'}" + (f", {lot.without_scale} without scale" if lot.without_scale else "")
    return Stage("Photographs", words, _share(lot.photos - lot.without_scale, lot.photos), PHOTOGRAPHS)


def _sorting(lot: LotStanding) -> Stage:
    if lot.vessels is None:
        return Stage("Vessels", "not sorted yet", 0.0, SORTING)
    words = f"{lot.accepted} of {lot.vessels} accepted" + (f", {lot.unassigned} unassigned" if lot.unassigned else "")
    return Stage("Vessels", words, 0.5 + 0.5 * _share(lot.judged, lot.sherds), SORTING)


def _layout(lot: LotStanding) -> Stage:
    if not lot.joins_matched:
        return Stage("Layout", "not matched yet", 0.0, LAYOUT)
    judged = f"{counted(lot.joins_judged, 'join')} judged" if lot.joins_judged else "joins proposed"
    words = judged + (f", {lot.laid} laid by hand" if lot.laid else "")
    return Stage("Layout", words, 1.0 if lot.joins_judged or lot.laid else 0.5, LAYOUT)


def _of(done: int, total: int, words: str) -> str:
    return f"{done} of {total} {words}" if total else "no sherds yet"


def _share(done: int, total: int) -> float:
    return done / total if total else 0.0


def stages_html(lot: LotStanding) -> str:
    """The stages as bars with their state in words, one line each, beside the links of the same order."""
    return f'<ul class="m-stages">{"".join(_stage(stage) for stage in stages(lot))}</ul>'


def _stage(stage: Stage) -> str:
    words = safe(stage.words)
    return (
        f'<li><span class="m-gauge" aria-hidden="true"><i style="width:{round(100 * stage.share)}%"></i></span>'
        f'<span class="m-line" title="{words}">{words}</span></li>'
    )


def standing_words(lot: LotStanding) -> str:
    """One lot in a line: where from, how many sherds, how many vessels."""
    return f"{lot.site or 'site not recorded'} · {counted(lot.sherds, 'sherd')} · {_vessels(lot)}"


def way_html() -> str:
    """The way through, as a numbered list."""
    items = "".join(f"<li><strong>{safe(title)}</strong> {safe(words)}</li>" for title, words in WAY_THROUGH)
    return f'<ol class="m-way">{items}</ol>'


def _vessels(lot: LotStanding) -> str:
    if lot.vessels is None or lot.vessels_range is None:
        return "not sorted yet"
    low, high = lot.vessels_range
    number = counted(lot.vessels, "vessel")
    return number if low == high else f"{number} (evidence allows {low} to {high})"


def sifted(
    lots: Sequence[LotRow], tallies: Mapping[str, LotTally], words: str, order: str, waits_for: str = ALL
) -> list[LotRow]:
    """Lots whose name or site holds the words and in which something of a kind waits, in the order asked for.

    Most to do: most sherds on nobody's word first.
    """
    wanted = words.casefold().strip()
    kept = [
        lot
        for lot in lots
        if (wanted in lot.name.casefold() or wanted in (lot.site or "").casefold())
        and _waits(lot, tallies.get(lot.name, LotTally()), waits_for)
    ]
    if order == BY_NAME:
        return sorted(kept, key=lambda lot: lot.name.casefold())
    if order == BY_SITE:
        return sorted(kept, key=lambda lot: ((lot.site or "").casefold(), lot.name.casefold()))
    if order == MOST_TO_DO:
        return sorted(kept, key=lambda lot: (_judged(tallies, lot) - lot.sherds, lot.name.casefold()))
    return kept


def _waits(lot: LotRow, tally: LotTally, kind: str) -> bool:
    """Whether something of a kind waits in a lot."""
    waits = {
        OUTLINES: tally.to_look > 0 or tally.without_scale > 0,
        BACKS: tally.views > 0 or tally.labels > 0,
        UNTAGGED: tally.tagged < lot.sherds,
        UNJUDGED: tally.judged < lot.sherds,
    }
    return waits.get(kind, True)


def _judged(tallies: Mapping[str, LotTally], lot: LotRow) -> int:
    tally = tallies.get(lot.name)
    return 0 if tally is None else tally.judged
