"""`records`: what is written of finds, and one field on many of them."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection
from motifs.errors import InputError

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows.record_edits import FieldChange

SUMMARY = "list what is written of finds; write one field on many of them, looked at before it is kept"


def _pair(text: str) -> tuple[str, str]:
    field, found, written = text.partition("=")
    if not found:
        raise argparse.ArgumentTypeError(f"{text!r} is not FIELD=TEXT")
    return field.strip(), written


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("--lot", metavar="LOT", help="only this lot")
    parser.add_argument("--find", action="append", default=[], metavar="NUMBER", help="only this find; may be repeated")
    parser.add_argument(
        "--set", type=_pair, metavar="FIELD=TEXT", help="write this text there; an empty TEXT takes it out"
    )
    parser.add_argument(
        "--keep", action="store_true", help="keep what --set would change; without it nothing is written"
    )
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """List, or show and keep changes."""
    from motifs.workflows.record_edits import finds_of, keep_changes, preview_field

    if arguments.keep and arguments.set is None:
        raise InputError("--keep needs --set FIELD=TEXT: there is nothing to keep")
    with collection(arguments.collection) as cat:
        if arguments.set is None:
            return _listed(cat, arguments)
        numbers = arguments.find or [find.number for find in finds_of(cat, arguments.lot)]
        changes = preview_field(cat, numbers, *arguments.set)
        kept = keep_changes(cat, changes, by=by_name(arguments)) if arguments.keep else 0
    return _changed(changes, kept)


def _listed(cat: Catalogue, arguments: argparse.Namespace) -> Answer:
    from motifs.workflows.record_edits import finds_of

    finds = [one for one in finds_of(cat, arguments.lot) if not arguments.find or one.number in arguments.find]
    document = {
        "records": [{"find": one.number, "lot": one.lot, "site": one.site, "fields": one.fields} for one in finds]
    }
    rows = [[one.number, one.lot, "; ".join(f"{name}: {text}" for name, text in one.fields.items())] for one in finds]
    return Answer(document, [*table(["find", "lot", "written"], rows), f"{len(finds)} finds"])


def _changed(changes: tuple[FieldChange, ...], kept: int) -> Answer:
    rows = [[one.number, one.field, one.before, one.after] for one in changes]
    end = f"{kept} finds changed" if kept else f"{len(changes)} finds would change; --keep keeps it"
    lines = [*table(["find", "field", "before", "after"], rows), end]
    return Answer({"changes": [asdict(one) for one in changes], "kept": kept}, lines)
