"""A second look in words: how far along, and how far the two looks agree."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.ui.presenters.text import counted, facts, safe, table

if TYPE_CHECKING:
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
