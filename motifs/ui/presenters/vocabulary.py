"""The vocabulary on the page: a tree in words, a drawing, a form's texts."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING

from motifs.design.vocabulary import VERIFIED_MATCHES
from motifs.ui.presenters.sifting import Grid, grid
from motifs.ui.presenters.text import counted, facts, safe

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


TREE_HEAD = ("Term", "Means", "Also called", "Sherds")


def tree_grid(terms: Sequence[Term], counts: Mapping[tuple[str, str], int], kind: str) -> Grid:
    """The terms of a kind as a table, narrower ones set in under their broader one."""
    return grid(TREE_HEAD, tree_rows(terms, counts), f"Terms of kind {kind}")


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


def drop_words(term: Term, used: int) -> str:
    """What taking a term out does."""
    kept = f" {counted(used, 'sherd')} that {'has' if used == 1 else 'have'} it will keep it." if used else ""
    return f"'{term.label}' will not be offered any more.{kept} It can be put back on this page."


def drawing(term: Term) -> str:
    """The term's drawing as an image; empty for none. Its path holds M, L, Z and numbers only, which the vocabulary checks."""
    if not term.drawing:
        return ""
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="-0.05 -0.05 1.1 1.1">'
        f'<path d="{safe(term.drawing)}" fill="none" stroke="#1d242b" stroke-width="0.04"/></svg>'
    )
    # The page takes no SVG among its HTML, only as an image.
    code = base64.b64encode(svg.encode()).decode()
    return f'<img src="data:image/svg+xml;base64,{code}" width="120" height="120" alt="Drawing of {safe(term.label)}">'


def split_names(text: str) -> tuple[str, ...]:
    """Names typed one a line."""
    return tuple(dict.fromkeys(name.strip() for name in text.splitlines() if name.strip()))
