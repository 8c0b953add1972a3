"""`undo`: take back the latest change of a lot."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.cli.answer import Answer
from motifs.cli.options import add_by, by_name, collection

if TYPE_CHECKING:
    import argparse

SUMMARY = "take back the latest change of a lot: a correction, a word, a tag; the history keeps both"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("lot", metavar="LOT")
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Take it back, and say what it was."""
    from motifs.workflows import correct

    with collection(arguments.collection) as cat:
        events = correct.undo(cat, arguments.lot, by=by_name(arguments))
    taken_back = [f"{event.verb} {event.subject}" for event in events]
    return Answer({"lot": arguments.lot, "taken_back": taken_back}, [f"taken back: {line}" for line in taken_back])
