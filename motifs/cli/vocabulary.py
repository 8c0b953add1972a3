"""`vocabulary`: list the terms, add, change or drop one, SKOS in and out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection
from motifs.errors import InputError

if TYPE_CHECKING:
    import argparse

    from motifs.catalogue import Catalogue
    from motifs.records import Term

SUMMARY = "list the vocabulary, add, change or drop a term, write it as SKOS or take SKOS in"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    pair = ("KIND", "LABEL")
    parser.add_argument("--kind", metavar="KIND", help="list only this kind; of SKOS terms whose scheme does not say")
    one = parser.add_mutually_exclusive_group()
    one.add_argument("--add", nargs=2, metavar=pair, help="add a term")
    one.add_argument("--change", nargs=2, metavar=pair, help="change a term: only what the line names")
    one.add_argument("--drop", nargs=2, metavar=pair, help="take a term out; sherds keep the word")
    one.add_argument("--write", type=Path, metavar="FILE", help="write all terms as SKOS in Turtle")
    one.add_argument("--read", type=Path, metavar="FILE", help="take in SKOS in Turtle")
    parser.add_argument("--label", metavar="LABEL", help="a new label for a changed term; tags follow")
    parser.add_argument("--definition", metavar="TEXT", help="what it means")
    parser.add_argument("--synonym", action="append", metavar="NAME", help="another name; may be repeated")
    parser.add_argument("--broader", action="append", metavar="LABEL", help="a wider term of the kind; may be repeated")
    parser.add_argument("--example", action="append", metavar="SHERD", help="a sherd that shows it; may be repeated")
    parser.add_argument("--period", metavar="TEXT", help="when it is at home")
    parser.add_argument("--region", metavar="TEXT", help="where it is at home")
    parser.add_argument("--match", metavar="URI", help="same concept in a published thesaurus (checked ones only)")
    parser.add_argument("--type", metavar="TEXT", help="of a motif: its type")
    parser.add_argument("--element", metavar="TEXT", help="of a motif: its element or style")
    parser.add_argument("--symmetry", metavar="TEXT", help="of a motif: its symmetry, by orbifold symbol")
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Do the one thing the line asks for, then list."""
    from motifs.workflows.vocabulary import drop_term, terms_of, write_skos

    by, notes = by_name(arguments), []
    writes = arguments.add or arguments.change or arguments.drop or arguments.read
    with collection(arguments.collection) as cat:
        if arguments.write is not None:
            count = write_skos(cat, arguments.write)
            return Answer(
                {"file": str(arguments.write), "terms": count}, [f"{count} terms written to {arguments.write}"]
            )
        if arguments.read is not None:
            return _read(cat, arguments, by)
        if arguments.add or arguments.change:
            notes.append(_edit(cat, arguments, by))
        if arguments.drop:
            drop_term(cat, *arguments.drop, by=by)
            notes.append(f"dropped {arguments.drop[0]} '{arguments.drop[1]}'")
        if not writes and _given(arguments):
            raise InputError("nothing to add or change; name the term with --add KIND LABEL or --change KIND LABEL")
        terms = terms_of(cat, arguments.kind)
    if arguments.kind is not None and not terms:
        from motifs.catalogue import TAG_KINDS

        raise InputError(f"there is no term of kind '{arguments.kind}'; the kinds are {', '.join(TAG_KINDS)}")
    rows = [[term.kind, term.label, ", ".join(term.broader), ", ".join(term.synonyms)] for term in terms]
    shown = table(["kind", "term", "broader", "also called"], rows)
    return Answer({"terms": [_told(term) for term in terms]}, [*notes, *([] if notes else shown)])


def _read(cat: Catalogue, arguments: argparse.Namespace, by: str) -> Answer:
    from motifs.workflows.vocabulary import read_skos

    taken = read_skos(cat, arguments.read, kind=arguments.kind, by=by)
    document = {
        "added": [_told(term) for term in taken.added],
        "changed": [_told(term) for term in taken.changed],
        "same": taken.same,
    }
    line = f"{len(taken.added)} terms added, {len(taken.changed)} changed, {taken.same} were there as they are"
    return Answer(document, [line], taken.warnings)


_OPTIONS = {
    "label": "label",
    "definition": "definition",
    "synonym": "synonyms",
    "broader": "broader",
    "example": "examples",
    "period": "period_note",
    "region": "region_note",
    "match": "exact_match",
    "type": "style_type",
    "element": "style_element",
    "symmetry": "symmetry",
}


def _given(arguments: argparse.Namespace) -> dict[str, Any]:
    """What the line says of the term, by the names of its fields."""
    found = {field: getattr(arguments, option) for option, field in _OPTIONS.items()}
    return {
        field: tuple(value) if isinstance(value, list) else value for field, value in found.items() if value is not None
    }


def _edit(cat: Catalogue, arguments: argparse.Namespace, by: str) -> str:
    from dataclasses import replace

    from motifs.records import Term
    from motifs.workflows.vocabulary import add_term, change_term, term_named

    values = _given(arguments)
    if arguments.add:
        kind, label = arguments.add
        add_term(cat, replace(Term(kind, label), **values), by=by)
        return f"added {kind} '{label}'"
    was = term_named(cat, *arguments.change)
    change_term(cat, was, replace(was, **values), by=by)
    return f"changed {was.kind} '{was.label}'"


def _told(term: Term) -> dict[str, object]:
    from dataclasses import asdict

    return asdict(term)
