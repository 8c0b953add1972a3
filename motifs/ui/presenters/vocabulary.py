"""The vocabulary on the page: a tree in words, a drawing, a form's texts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.design.vocabulary import VERIFIED_MATCHES
from motifs.ui.presenters.text import facts, safe

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.records import Term

INDENT = "\u2003"


def tree_rows(terms: Sequence[Term], counts: Mapping[tuple[str, str], int]) -> list[tuple[str, str, str, int]]:
    """Rows of (label set in by its depth, definition, other names, sherds); a term below two others stands twice.

    terms : of one kind, sound.
    """
    below: dict[str, list[Term]] = {}
    for term in terms:
        for label in term.broader or ("",):
            below.setdefault(label, []).append(term)
    rows: list[tuple[str, str, str, int]] = []
    waiting = [(term, 0) for term in reversed(below.get("", []))]
    while waiting:
        term, depth = waiting.pop()
        used = counts.get((term.kind, term.label), 0)
        rows.append((INDENT * depth + term.label, term.definition, ", ".join(term.synonyms), used))
        waiting += [(narrower, depth + 1) for narrower in reversed(below.get(term.label, []))]
    return rows


def term_card(term: Term, used: int) -> str:
    """Everything known of a term, as HTML."""
    match = f"{VERIFIED_MATCHES.get(term.exact_match, '')} {term.exact_match}".strip()
    pairs = [
        ("Means", term.definition),
        ("Also called", ", ".join(term.synonyms)),
        ("Broader", ", ".join(term.broader)),
        ("Period", term.period_note),
        ("Region", term.region_note),
        ("Type", term.style_type),
        ("Element or style", term.style_element),
        ("Symmetry", term.symmetry),
        ("Same as, elsewhere", match),
        ("Examples", ", ".join(term.examples)),
        ("On sherds", str(used)),
    ]
    return f'{drawing(term)}<h3 class="m-term">{safe(term.label)}</h3>{facts(pairs)}'


def drawing(term: Term) -> str:
    """The term's drawing as SVG; empty for none. Its path holds M, L, Z and numbers only, which the vocabulary checks."""
    if not term.drawing:
        return ""
    return (
        f'<svg viewBox="-0.05 -0.05 1.1 1.1" width="120" height="120" role="img" aria-label="Drawing of {safe(term.label)}">'
        f'<path d="{safe(term.drawing)}" fill="none" stroke="currentColor" stroke-width="0.04"/></svg>'
    )


def split_names(text: str) -> tuple[str, ...]:
    """Names typed one a line."""
    return tuple(dict.fromkeys(name.strip() for name in text.splitlines() if name.strip()))
