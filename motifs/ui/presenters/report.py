"""The report page in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.ui.presenters.text import counted, moment

if TYPE_CHECKING:
    from motifs.workflows.kept_reports import MadeReport, ReportMark
    from motifs.workflows.overview import LotStanding

LOT, SITE = "a lot", "a site with its lots"
KINDS = (LOT, SITE)
CONTENTS = (
    "What came in: photographs, scales, sherds.",
    "Vessels with plates at one scale, support and reasons; counts, each by its own method.",
    "Motifs, techniques and positions; comparanda with the reason they were kept; joins and layout.",
    "Condition, treatment, what is uncertain, what was left out, and what made the proposals.",
)


def made_words(mark: ReportMark) -> str:
    """When it was made, by whom, at what size."""
    size = "true size" if mark.reduction == 1 else f"1 : {mark.reduction:g}"
    return f"Made {moment(mark.made_at)} by {mark.by}; {counted(mark.sherds, 'sherd')}, plates at {size}."


def standing_words(made: MadeReport | None) -> str:
    """Whether there is a report, and whether it still says what the catalogue says."""
    if made is None:
        return "No report yet."
    if not made.is_kept:
        return "This report shows what is restricted. It is for you alone, and goes when you leave or lock."
    return "Up to date." if made.is_current else "Something was changed since. Make it again to have that in it."


def unfinished(lot: LotStanding) -> tuple[str, ...]:
    """What a reader of the report would ask about; it can be made all the same."""
    asked = (
        (lot.without_scale, f"{counted(lot.without_scale, 'photograph')} without a scale: no sizes, no plates at scale"),
        (lot.to_look, f"{counted(lot.to_look, 'outline')} not looked over"),
        (lot.vessels is None, "not sorted into vessels"),
        (lot.vessels is not None and lot.judged < lot.sherds, f"{lot.sherds - lot.judged} of {counted(lot.sherds, 'sherd')} only proposed"),
        (lot.tagged < lot.sherds, f"{lot.sherds - lot.tagged} of {counted(lot.sherds, 'sherd')} without a tag"),
        (lot.site is None, "no site recorded, so no comparanda at other sites"),
    )  # fmt: skip
    return tuple(words for is_open, words in asked if is_open)
