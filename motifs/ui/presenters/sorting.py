"""The sorting table as a wall, and the reasons in words."""

from __future__ import annotations

import re
from itertools import groupby
from typing import TYPE_CHECKING

from motifs.evidence.comparing import SILENT_NATS
from motifs.ui.presenters.text import counted, lines, listed, moment, safe
from motifs.ui.presenters.wall import Press, Row, Tile, Wall

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from motifs.catalogue import EventRow, LinkRow
    from motifs.workflows.moves import Moved
    from motifs.workflows.pairs import PairReason
    from motifs.workflows.sorting import PairQuestion
    from motifs.workflows.table import LotTable, TableSherd, TableVessel

UNASSIGNED = "unassigned"
"""Key of the pile's row; vessels' keys carry a prefix, so that a vessel may be called this too."""

VESSEL_PREFIX = "vessel:"
NEW_ROW = "new"
"""Key of the place that makes a vessel of its own."""

NEW_VESSEL = "A new vessel"
ACCEPT, LOCK, UNLOCK = "accept", "lock", "unlock"
PRESSES = {
    ACCEPT: Press(ACCEPT, "Accept", "Puts every sherd of it on your word, with name and date"),
    LOCK: Press(LOCK, "Lock", "A sort leaves it as it is: no sherd goes, none comes"),
    UNLOCK: Press(UNLOCK, "Unlock", "Lets a sort change it again"),
}
STRONG_NATS = 4.0
"""Evidence at which a bar is full, unless another cue of the same list says more."""

VERDICTS = ("for", "against", "does not tell")
"""How the words of a kept reason end."""

APART, FAR_APART = re.compile(r"(\d+(?:\.\d+)?) apart"), 5.0
"""Colours this far apart (CIEDE2000) are plainly two colours to the eye."""


def vessel_title(name: str) -> str:
    """What a vessel is called on the page."""
    return f"Vessel {name}"


def place_words(vessel: str | None) -> str:
    """Where a sherd lies."""
    return "Unassigned" if vessel is None else vessel_title(vessel)


def vessel_of_row(key: str) -> str | None:
    """Name of the vessel whose row it is; None for the unassigned pile."""
    return key.removeprefix(VESSEL_PREFIX) if key.startswith(VESSEL_PREFIX) else None


def table_wall(
    table: LotTable, *, chosen: str | None = None, beside: str | None = None, asked: PairQuestion | None = None
) -> Wall:
    """Vessels as rows, the unassigned pile last; the sherds that a question asks about are set apart."""
    rows = [_vessel_row(vessel, place) for place, vessel in enumerate(table.vessels, start=1)]
    rows.append(
        Row(
            UNASSIGNED,
            "Unassigned",
            counted(len(table.unassigned), "sherd") if table.unassigned else "",
            tuple(_tile(sherd) for sherd in table.unassigned),
            takes=True,
            empty="No sherd here. Drop one here to leave it unassigned on purpose.",
            press="U",
        )
    )
    return Wall(
        tuple(rows),
        f"Sorting table of lot {table.lot}",
        chosen=chosen,
        dashed=tuple(filter(None, (beside,))) if asked is None else (asked.a, asked.b),
        is_movable=True,
        new_row=(NEW_ROW, NEW_VESSEL),
        is_sifted=True,
    )


def _vessel_row(vessel: TableVessel, place: int) -> Row:
    presses = [] if vessel.is_accepted else [PRESSES[ACCEPT]]
    presses.append(PRESSES[LOCK if vessel.locked_by is None else UNLOCK])
    return Row(
        f"{VESSEL_PREFIX}{vessel.name}",
        vessel_title(vessel.name),
        vessel_words(vessel),
        tuple(_tile(sherd) for sherd in vessel.sherds),
        takes=vessel.locked_by is None,
        buttons=tuple(presses),
        press=str(place) if place < 10 and vessel.locked_by is None else "",
    )


def picked_wall(table: LotTable, numbers: Sequence[str], *, chosen: str | None = None) -> Wall:
    """What was picked on the map, as one row to look at."""
    sherds = [sherd for sherd in table.sherds if sherd.number in set(numbers)]
    tiles = tuple(Tile(sherd.number, (place_words(sherd.vessel),)) for sherd in sherds)
    return Wall((Row("picked", "Picked", counted(len(tiles), "sherd"), tiles),), "Picked sherds", chosen=chosen)


def vessel_words(vessel: TableVessel) -> str:
    """How many sherds, on whose word, since when, and whether it is locked."""
    judged = [sherd for sherd in vessel.sherds if sherd.judged_by is not None]
    words = [counted(len(vessel.sherds), "sherd")]
    if vessel.is_accepted:
        people = listed(sorted({str(sherd.judged_by) for sherd in judged}), most=3)
        dates = sorted(sherd.judged_at[:10] for sherd in judged if sherd.judged_at)
        words.append(f"accepted by {people}" + (f" on {dates[-1]}" if dates else ""))
    else:
        words.append(f"{len(judged)} on a person's word" if judged else "proposed")
    if vessel.locked_by is not None:
        words.append(f"locked by {vessel.locked_by}")
    return ", ".join(words)


def _tile(sherd: TableSherd) -> Tile:
    marks = []
    if sherd.judged_by is not None:
        marks.append(f"✓ {sherd.judged_by}")
    elif sherd.is_new:
        marks.append("not sorted yet")
    elif sherd.vessel is None and sherd.next_best is not None:
        marks.append(f"nearest: {vessel_title(sherd.next_best)}")
    is_judged = sherd.judged_by is not None
    return Tile(sherd.number, (), None if is_judged else sherd.support, tuple(marks), is_judged)


def standing_words(table: LotTable) -> str:
    """One line: how many vessels, how sure, how many sherds are unassigned and judged."""
    if not table.is_sorted or table.vessels_range is None:
        return f"{counted(len(table.sherds), 'sherd')}, not sorted yet."
    low, high = table.vessels_range
    number = counted(len(table.vessels), "vessel")
    between = "the evidence points to no other number" if low == high else f"the evidence allows {low} to {high}"
    judged = sum(sherd.judged_by is not None for sherd in table.sherds)
    return (
        f"{number} ({between}); {len(table.unassigned)} of {counted(len(table.sherds), 'sherd')} unassigned; "
        f"{judged} on a person's word."
    )


def support_words(sherd: TableSherd) -> str:
    """What the support says, in a sentence."""
    if sherd.judged_by is not None:
        return f"{place_words(sherd.vessel)}, on the word of {sherd.judged_by}. A new sort leaves it there."
    if sherd.support is None:
        return "Not sorted yet: it came after the last sort." if sherd.is_new else place_words(sherd.vessel)
    if sherd.vessel is None:
        return f"Unassigned: the evidence for any vessel is too thin (support {sherd.support:.2f})."
    return f"{place_words(sherd.vessel)}, support {sherd.support:.2f}: of 100 sherds with such evidence about {100 * sherd.support:.0f} lie right."


def changes_html(changes: Iterable[str]) -> str:
    """What would change the answer, as a list under a heading; empty for nothing."""
    shown = lines(changes)
    return f'<p class="m-say m-strong">What would change it</p>{shown}' if shown else ""


def next_best_words(sherd: TableSherd) -> str:
    """Where it would go otherwise."""
    return "no other vessel comes near" if sherd.next_best is None else vessel_title(sherd.next_best)


def reasons_html(sherd: TableSherd) -> str:
    """Reasons as lists: the person's word, then the cues by what they say of its vessel and the next best, strongest first."""
    told = lines(sherd.why[: len(sherd.why) - len(sherd.votes)])
    if sherd.vessel is None:
        heads = ("Speaks for the nearest vessel", "Speaks against it", "Does not tell")
    else:
        rival = "another vessel" if sherd.next_best is None else vessel_title(sherd.next_best).lower()
        heads = (f"Speaks for {vessel_title(sherd.vessel).lower()}", f"Speaks for {rival}", "Does not tell")
    cues = _by_verdict([(_plain(vote.why), vote.llr) for vote in sherd.votes], heads)
    return told + cues or "<p>Nothing was measured on it yet.</p>"


def pair_html(reasons: Sequence[PairReason]) -> str:
    """What the cues say of a pair, by what they speak for, strongest first."""
    if not reasons:
        return "<p>No cue could be measured on both.</p>"
    heads = ("Speaks for one vessel", "Speaks for two vessels", "Does not tell")
    return _by_verdict([(_explained(reason.words, reason.nats), reason.nats) for reason in reasons], heads)


def _plain(words: str) -> str:
    """A cue's words without the verdict at their end, which the heading tells."""
    for verdict in VERDICTS:
        words = words.removesuffix(f": {verdict}")
    return words


def _explained(words: str, nats: float) -> str:
    """Where colours lie far apart and still speak for one vessel, why that is."""
    apart = APART.search(words)
    if apart is None or nats < SILENT_NATS or float(apart[1]) < FAR_APART:
        return words
    return f"{words}, no more than the other cues explain"


def _by_verdict(cues: Sequence[tuple[str, float]], heads: tuple[str, str, str]) -> str:
    """Three lists under their headings, empty ones left out; bars compare the cues of all three."""
    full = _full_nats([nats for _, nats in cues])
    groups: dict[str, list[str]] = {head: [] for head in heads}
    for words, nats in cues:
        place = 2 if abs(nats) < SILENT_NATS else int(nats < 0)
        groups[heads[place]].append(_bar_item(words, nats, full))
    return "".join(
        f'<p class="m-say m-verdict">{safe(head)}</p><ul class="m-reasons">{"".join(items)}</ul>'
        for head, items in groups.items()
        if items
    )


def _full_nats(nats: Sequence[float]) -> float:
    return max([STRONG_NATS, *(abs(value) for value in nats)])


def _bar_item(words: str, nats: float, full_nats: float) -> str:
    width = round(100 * abs(nats) / full_nats)
    side = "for" if nats > 0 else "against"
    return (
        f'<li><span class="m-gauge m-{side}" aria-hidden="true"><i style="width:{width}%"></i></span>'
        f"<span>{safe(words)}</span></li>"
    )


def question_words(question: PairQuestion) -> str:
    """The question as one asks it at the table."""
    return f"Are {question.a} and {question.b} of one vessel?"


def moved_words(moved: Moved) -> str:
    """What a move put on record."""
    line = f"{listed(moved.sherds)} → {place_words(moved.vessel)}."
    if moved.beside is not None:
        line += f" Kept as: same vessel as {moved.beside}, its surest sherd."
    if moved.apart is not None:
        line += f" Kept as: another vessel than {moved.apart}."
    if moved.withdrawn:
        line += f" Withdrawn: same vessel as {listed(moved.withdrawn)}."
    return line


def history_rows(events: Iterable[EventRow], *, most: int) -> list[tuple[object, ...]]:
    """Rows of the history: when, who, what, and whether it was taken back.

    Lines of one step that did the same to many sherds become one row; at most so many rows.
    """
    rows: list[tuple[object, ...]] = []
    for (_, verb, undone), step in groupby(events, key=lambda event: (event.change, event.verb, event.is_undone)):
        of_step = list(step)
        latest, first = of_step[0], of_step[-1]
        what = latest.subject if len(of_step) == 1 else f"{first.subject} to {latest.subject} ({len(of_step)})"
        rows.append((moment(latest.at), latest.by, f"{verb} {what}", "taken back" if undone else ""))
        if len(rows) == most:
            break
    return rows


def link_rows(links: Iterable[LinkRow]) -> list[tuple[object, ...]]:
    """Rows of what was told of pairs."""
    return [(link.a, link.b, link.relation, link.by, moment(link.at)) for link in links]
