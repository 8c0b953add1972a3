"""Views, numbers and rims in words: what the program proposes, and what a person said."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from motifs.ui.presenters.sieves import Sieve
from motifs.ui.presenters.text import counted, listed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import LabelRow, RimReading, RimRow, ViewRow
    from motifs.workflows.rims import LotRims
    from motifs.workflows.views import TakenViews


def _stands(standing: str, view: ViewRow) -> bool:
    return view.standing == standing


STANDINGS = {
    "look": "look",
    "loose": "belongs to nobody yet",
    "paired": "paired by the program",
    "confirmed": "confirmed",
}
"""What the catalogue calls a standing, in the order in which views are looked at, and what the page calls it."""

METHODS = {
    "chord": "chord and rise",
    "chart": "rim chart",
    "outline": "along the outline",
    "unknown": "diameter unknown",
}


VIEW_SIEVE: Sieve[ViewRow] = Sieve(
    text=lambda view: f"{view.sherd or ''} {view.view_id} {view.photo_name}",
    kinds={words: partial(_stands, standing) for standing, words in STANDINGS.items()},
    orders={
        "what waits for you first": None,
        "sherd": lambda view: (view.sherd is None, view.sherd or ""),
        "farthest apart first": lambda view: -(view.distance_mm or 0.0),
    },
)
LABEL_SIEVE: Sieve[LabelRow] = Sieve(
    text=lambda label: f"{label.sherd} {label.text} {label.rival or ''}",
    kinds={
        "on slips": lambda label: label.place == "slip",
        "inked": lambda label: label.place == "inked",
        "hard to read": lambda label: label_doubt(label) is not None,
    },
    orders={
        "as they lie in the lot": None,
        "hard to read first": lambda label: label.confidence,
        "number": lambda label: label.text,
    },
)
RIM_SIEVE: Sieve[RimRow] = Sieve(
    text=lambda rim: f"{rim.sherd} {rim.by} {rim.reading.note} {METHODS[rim.reading.method]}",
    kinds={
        "diameter known": lambda rim: rim.reading.diameter_mm is not None,
        "diameter unknown": lambda rim: rim.reading.diameter_mm is None,
    },
    orders={
        "number": None,
        "largest diameter first": lambda rim: -(rim.reading.diameter_mm or 0.0),
        "largest share first": lambda rim: -(rim.reading.percent or 0.0),
    },
)


def in_order(views: Sequence[ViewRow]) -> list[ViewRow]:
    """Views with what waits for a person first; within that as they lie in the catalogue."""
    places = {standing: place for place, standing in enumerate(STANDINGS)}
    return sorted(views, key=lambda view: (places[view.standing], view.view_id))


def view_title(view: ViewRow) -> str:
    """One view in a line."""
    whose = "no sherd" if view.sherd is None else view.sherd
    return f"View {view.view_id}, {view.kind}: {whose}, {STANDINGS[view.standing]}"


def view_facts(view: ViewRow) -> list[tuple[str, str | None]]:
    """What a pairing rests on."""
    apart = None if view.distance_mm is None else f"{view.distance_mm:.2f} mm apart (root mean square)"
    next_best = None if view.margin is None else f"{view.margin:.2f} of the next best one's distance"
    return [("Photograph", view.photo_name), ("Outlines", apart), ("Distance", next_best)]


def views_summary(views: Sequence[ViewRow], numbers: Sequence[str]) -> str:
    """How far the pairing of a lot has come."""
    shown = {view.sherd for view in views}
    without = [number for number in numbers if number not in shown]
    waiting = sum(view.standing in {"look", "loose"} for view in views)
    line = f"{counted(len(views), 'view')}, {waiting} to look at. "
    return line + (f"Without a view: {listed(without)}." if without else "Every sherd has a view.")


def taken_words(taken: TakenViews) -> str:
    """What came of photographs of backs."""
    sure = sum(view.standing == "paired" for view in taken.views)
    line = f"{counted(len(taken.views), 'back')} found, {sure} paired with a face; the others wait for a look."
    return line if taken.is_to_scale else line + " No scale: shapes alone were compared, look at every pair."


def label_title(label: LabelRow) -> str:
    """What was read for a sherd, and where."""
    where = {"slip": "on a slip beside it", "inked": "inked on it"}[label.place]
    return f"{label.sherd}: reads {label.text} {where}"


def label_doubt(label: LabelRow) -> str | None:
    """What to look at twice."""
    if label.rival:
        return f"It reads {label.text} one way up and {label.rival} the other."
    return "Hard to read: look twice." if label.confidence < 0.8 else None


def rim_words(reading: RimReading) -> str:
    """A rim in a line, with its uncertainty."""
    if reading.diameter_mm is None:
        return "diameter unknown"
    sd = "" if reading.diameter_sd_mm is None else f" ± {reading.diameter_sd_mm:.0f}"
    return f"diameter {reading.diameter_mm:.0f}{sd} mm{share_words(reading)}"


def share_words(reading: RimReading) -> str:
    """The share of the rim, or nothing."""
    if reading.percent is None:
        return ""
    sd = "" if reading.percent_sd is None else f" ± {reading.percent_sd:.1f}"
    return f", {reading.percent:.1f}{sd} % of the rim"


def rim_rows(rims: Sequence[RimRow]) -> list[tuple[str, ...]]:
    """Rims as rows of a table: number, reading, how it was read, by whom, note."""
    return [(rim.sherd, rim_words(rim.reading), METHODS[rim.reading.method], rim.by, rim.reading.note) for rim in rims]


def eve_words(rims: LotRims) -> str:
    """What the rims of a lot add up to."""
    if not rims.rims:
        return "No rim is recorded in this lot."
    return (
        f"{counted(len(rims.rims), 'rim')}, {rims.unknown} with diameter unknown. Shares of {rims.with_share} add up to an "
        f"estimated vessel equivalent (EVE) of {rims.eve:.2f}: a lower bound for comparing lots, no number of vessels."
    )
