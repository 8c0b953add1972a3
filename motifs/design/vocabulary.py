"""The vocabulary as a whole: what makes it sound, and finding a term by any of its names.

Terms of different kinds may share a name: some schemes count burnishing or cord-marking as treatment, others as decoration
(common practice), so both lists may hold them.
"""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING

from motifs.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from motifs.records import Term

AAT = "http://vocab.getty.edu/aat/"
"""Getty Art & Architecture Thesaurus, Open Data Commons Attribution License 1.0."""

VERIFIED_MATCHES: Mapping[str, str] = {
    f"{AAT}{number}": label
    for number, label in (
        (300249323, "potsherds"),
        (300053869, "burnishing (polishing)"),
        (300015091, "glaze (coating by location)"),
        (300053646, "applique (technique)"),
        (300053149, "carving (processes)"),
        (300053829, "engraving (action)"),
        (300053826, "embossing (technique)"),
        (300165279, "meander"),
        (300009700, "bands as ornament"),
        (300009764, "geometric motifs"),
        (300165028, "chevron-band"),
        (300009995, "palmettes"),
        (300164599, "plant motifs"),
    )
}
"""Concepts of the AAT whose numbers were seen in public text; an exact match to any other is refused until somebody checks it."""

_PATH = re.compile(r"\s*(?:[ML]\s*-?\d*\.?\d+[\s,]+-?\d*\.?\d+\s*|Z\s*)+")
MAX_TEXT = 4000


def name_key(name: str) -> str:
    """Return what two spellings of one name share: normalised, without case, blanks run together."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def check_vocabulary(terms: Sequence[Term], kinds: Sequence[str]) -> None:
    """Refuse a vocabulary that contradicts itself.

    Raises
    ------
    InputError
        An unknown kind, an empty label, two terms of a kind with one name, a broader term that is not there, a chain of
        broader terms that comes back to where it began, a drawing or an exact match that cannot be.
    """
    labels = {(term.kind, term.label) for term in terms}
    for term in terms:
        _check_term(term, kinds)
        for broader in term.broader:
            if (term.kind, broader) not in labels:
                raise InputError(
                    f"{term.kind} '{term.label}' has the broader term '{broader}', which is not there; add that first, or "
                    "leave it out"
                )
    _check_names(terms)
    _check_cycles(terms)


def _check_term(term: Term, kinds: Sequence[str]) -> None:
    if term.kind not in kinds:
        raise InputError(f"'{term.kind}' is no kind of term (of '{term.label}'); the kinds are {', '.join(kinds)}")
    for name in (term.label, *term.synonyms):
        if not name.strip() or name != name.strip() or len(name) > 200:
            raise InputError(
                f"'{name}' cannot be a name of a {term.kind}; give 1 to 200 characters, no blank at either end"
            )
    for text in (term.definition, term.period_note, term.region_note, term.drawing):
        if len(text) > MAX_TEXT:
            raise InputError(f"a text of {term.kind} '{term.label}' is longer than {MAX_TEXT} characters; shorten it")
    if term.drawing and not _PATH.fullmatch(term.drawing):
        raise InputError(
            f"the drawing of {term.kind} '{term.label}' holds more than M, L and Z with numbers; draw it again"
        )
    if term.exact_match and term.exact_match not in VERIFIED_MATCHES:
        raise InputError(
            f"the exact match '{term.exact_match}' of {term.kind} '{term.label}' is not among the checked ones; leave it "
            "empty rather than guess"
        )


def _check_names(terms: Sequence[Term]) -> None:
    taken: dict[tuple[str, str], Term] = {}
    for term in terms:
        for key in dict.fromkeys(name_key(name) for name in (term.label, *term.synonyms)):
            other = taken.setdefault((term.kind, key), term)
            if other is not term:
                raise InputError(
                    f"two terms of kind {term.kind} share the name '{key}': '{other.label}' and '{term.label}'; rename one or "
                    "drop the synonym"
                )


def _check_cycles(terms: Sequence[Term]) -> None:
    parents = {(term.kind, term.label): [(term.kind, broader) for broader in term.broader] for term in terms}
    done: set[tuple[str, str]] = set()
    for start in parents:
        path: list[tuple[str, str]] = []
        _walk(start, parents, path, done)


def _walk(
    start: tuple[str, str],
    parents: Mapping[tuple[str, str], list[tuple[str, str]]],
    path: list[tuple[str, str]],
    done: set[tuple[str, str]],
) -> None:
    """Follow broader terms depth first, without recursion: a chain may be long."""
    waiting = [(start, False)]
    while waiting:
        here, is_left = waiting.pop()
        if is_left:
            path.pop()
            done.add(here)
        elif here in path:
            chain = " < ".join(label for _, label in [*path[path.index(here) :], here])
            raise InputError(
                f"the broader terms of {here[0]} go round in a circle: {chain}; take one of these links out"
            )
        elif here not in done:
            path.append(here)
            waiting.append((here, True))
            waiting += [(parent, False) for parent in parents[here]]


def find_term(terms: Iterable[Term], kind: str, name: str) -> Term | None:
    """Return the term of a kind that has a name as label or synonym, in any case; None where there is none."""
    key = name_key(name)
    for term in terms:
        if term.kind == kind and key in {name_key(one) for one in (term.label, *term.synonyms)}:
            return term
    return None


def narrower_of(terms: Sequence[Term], kind: str, label: str) -> tuple[str, ...]:
    """Return the labels of all terms below one, however far, in alphabetical order; the term itself is not among them."""
    below: set[str] = set()
    waiting = [label]
    while waiting:
        here = waiting.pop()
        for term in terms:
            if term.kind == kind and here in term.broader and term.label not in below:
                below.add(term.label)
                waiting.append(term.label)
    return tuple(sorted(below - {label}))
