"""The vocabulary of a collection: terms to begin with, changes that keep it sound, SKOS in and out."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from motifs.catalogue import TAG_KINDS
from motifs.design.skos import from_turtle, to_turtle
from motifs.design.starter import starter_terms
from motifs.design.vocabulary import MAX_TEXT, check_vocabulary, find_term, narrower_of
from motifs.errors import InputError, UnknownName

if TYPE_CHECKING:
    from pathlib import Path

    from motifs.catalogue import Catalogue
    from motifs.records import Term

MAX_FILE_BYTES = 20_000_000


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What a SKOS file did to the vocabulary. warnings: what was left out of it, and why."""

    added: tuple[Term, ...]
    changed: tuple[Term, ...]
    same: int
    warnings: tuple[str, ...]


def terms_of(cat: Catalogue, kind: str | None = None) -> tuple[Term, ...]:
    """Return the terms; the starter vocabulary as long as nobody has changed anything."""
    kept = cat.terms()
    return tuple(term for term in kept or starter_terms() if kind is None or term.kind == kind)


def add_term(cat: Catalogue, term: Term, *, by: str) -> Term:
    """Add a term.

    Raises
    ------
    InputError, NameRefused
        The vocabulary would not be sound with it; the message says what to change.
    """
    _check_examples(cat, term)
    with cat.transaction(by=by):
        _keep_starter(cat)
        cat.add_terms([term])
        check_vocabulary(cat.terms(), TAG_KINDS)
    return term


def change_term(cat: Catalogue, was: Term, term: Term, *, by: str) -> Term:
    """Put a changed term in the place of one as it was read; a new label is followed by narrower terms and tags.

    Raises
    ------
    UnknownName, InputError
        It is not there, or somebody else has changed it since; the vocabulary would not be sound with it.
    """
    _check_examples(cat, term)
    if term.kind != was.kind:
        raise InputError(f"'{was.label}' is a {was.kind}; to make it a {term.kind}, add it there and drop it here")
    with cat.transaction(by=by):
        _keep_starter(cat)
        cat.replace_term(was, term)
        check_vocabulary(cat.terms(), TAG_KINDS)
    return term


def drop_term(cat: Catalogue, kind: str, label: str, *, by: str) -> None:
    """Take a term out of the vocabulary; sherds that carry it keep it.

    Raises
    ------
    UnknownName
        It is not there.
    InputError
        Other terms are narrower than it.
    """
    below = narrower_of(terms_of(cat), kind, label)
    if below:
        shown = ", ".join(f"'{name}'" for name in below[:3])
        raise InputError(f"{kind} '{label}' has narrower terms ({shown}); give those another broader term first")
    with cat.transaction(by=by):
        _keep_starter(cat)
        cat.drop_term(kind, label)


def term_named(cat: Catalogue, kind: str, name: str) -> Term:
    """Return the term that has a name as label or synonym.

    Raises
    ------
    UnknownName
        None has; the message names the nearest.
    """
    terms = terms_of(cat, kind)
    found = find_term(terms, kind, name)
    if found is not None:
        return found
    names = [one for term in terms for one in (term.label, *term.synonyms)]
    near = difflib.get_close_matches(name, names, n=2, cutoff=0.6)
    hint = (
        f"did you mean {' or '.join(repr(one) for one in near)}?"
        if near
        else "list the vocabulary to see which there are"
    )
    raise UnknownName(f"no {kind} '{name}' in the vocabulary; {hint} Add it to the vocabulary if it is meant")


def write_skos(cat: Catalogue, file: Path) -> int:
    """Write the vocabulary as SKOS in Turtle; return how many terms.

    Raises
    ------
    InputError
        The file is there already, or cannot be written.
    """
    terms = terms_of(cat)
    try:
        with file.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(to_turtle(terms))
    except FileExistsError as wrong:
        raise InputError(f"'{file}' is there already; give another name") from wrong
    except OSError as wrong:
        raise InputError(f"cannot write '{file}' ({wrong.strerror}); name a folder you may write to") from wrong
    return len(terms)


def read_skos(cat: Catalogue, file: Path, *, kind: str | None = None, by: str) -> TakenIn:
    """Take in a SKOS file: new terms are added, terms that are there are replaced, others stay.

    Parameters
    ----------
    kind : of terms whose concept scheme does not say.

    Raises
    ------
    InputError
        No such file, not Turtle, or the vocabulary would not be sound with it; nothing is changed then.
    """
    try:
        size = file.stat().st_size
        text = file.read_text(encoding="utf-8") if size <= MAX_FILE_BYTES else ""
    except OSError as wrong:
        raise InputError(f"cannot read '{file}' ({wrong.strerror}); name a SKOS file in Turtle") from wrong
    except UnicodeDecodeError as wrong:
        raise InputError(f"'{file}' is not UTF-8 text; export the vocabulary as SKOS in Turtle") from wrong
    if size > MAX_FILE_BYTES:
        raise InputError(f"'{file}' is larger than {MAX_FILE_BYTES // 1_000_000} MB; split it")
    read = from_turtle(text, kinds=TAG_KINDS, kind=kind, source=file.name)
    with cat.transaction(by=by):
        _keep_starter(cat)
        taken = _merge(cat, read.terms)
        check_vocabulary(cat.terms(), TAG_KINDS)
    return replace(taken, warnings=read.warnings)


def _merge(cat: Catalogue, terms: tuple[Term, ...]) -> TakenIn:
    present = {(term.kind, term.label): term for term in cat.terms()}
    added = tuple(term for term in terms if (term.kind, term.label) not in present)
    changed = tuple(term for term in terms if present.get((term.kind, term.label), term) != term)
    cat.add_terms(added)
    for term in changed:
        cat.replace_term(present[term.kind, term.label], term)
    return TakenIn(added, changed, len(terms) - len(added) - len(changed), ())


def _keep_starter(cat: Catalogue) -> None:
    """Before the first change, keep the terms that were shown so far."""
    if not cat.terms():
        cat.add_terms(starter_terms())


def _check_examples(cat: Catalogue, term: Term) -> None:
    for number in term.examples:
        cat.sherd(number)
    if len(term.drawing) > MAX_TEXT:
        raise InputError(f"the drawing of '{term.label}' is too long; draw it with fewer points")
