"""A second look in words: how far along, and how far the two looks agree."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.ui.presenters.text import counted, facts, safe, table
from motifs.ui.presenters.wall import Row, Tile, Wall

if TYPE_CHECKING:
    from collections.abc import Mapping

    from motifs.workflows.agreement import LookReport


def progress_words(done: int, sample: int) -> str:
    """How many of the sample were looked at again."""
    return f"{done} of {counted(sample, 'sherd')} looked at again"


def number_words(value: float | None) -> str:
    """A measure of agreement, or that it is not defined."""
    return "not defined" if value is None else f"{value:.2f}"


def report_html(report: LookReport) -> str:
    """Agreement of every second looker with the first look, as HTML."""
    parts = []
    for looker in report.lookers:
        found = looker.agreement
        pairs = [
            ("Sherds", f"{found.units} of {report.sample}"),
            ("Agree on", number_words(found.observed)),
            ("By chance alone", number_words(found.expected)),
            ("Cohen's kappa", number_words(found.kappa)),
            ("Krippendorff's alpha", number_words(found.alpha)),
        ]
        parts.append(f'<p class="m-say m-strong">{safe(looker.by)}: {safe(found.reading)}</p>{facts(pairs)}')
        if found.confusions:
            rows = [(one.first, one.second, one.times) for one in found.confusions]
            parts.append(table(("First", "Second", "Times"), rows, caption="What was called otherwise"))
    if len(report.lookers) > 1:
        parts.append(f'<p class="m-say">Alpha of all together: {number_words(report.alpha_of_all)}</p>')
    return "".join(parts)


def differing_wall(first: Mapping[str, str], given: Mapping[str, str], by: str) -> Wall:
    """Sherds that were called otherwise the second time: a row for each pair of terms, the commonest first."""
    pairs: dict[tuple[str, str], list[str]] = {}
    for sherd, term in given.items():
        if sherd in first and first[sherd] != term:
            pairs.setdefault((first[sherd], term), []).append(sherd)
    ranked = sorted(pairs.items(), key=lambda one: (-len(one[1]), one[0]))
    rows = [
        Row(
            f"pair {place}",
            f"{before}, then {after}",
            counted(len(sherds), "sherd"),
            tuple(Tile(sherd) for sherd in sherds),
        )
        for place, ((before, after), sherds) in enumerate(ranked)
    ]
    return Wall(tuple(rows), f"Called otherwise by {by}", px_per_mm=2.2)
