"""`redo`: do again what was taken back last."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.cli.answer import Answer
from motifs.cli.options import add_by, by_name, collection

if TYPE_CHECKING:
    import argparse

SUMMARY = "do again what undo took back last, as long as nothing new was done in the lot since"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("lot", metavar="LOT")
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Do it again, and say what it was."""
    from motifs.workflows import correct

    with collection(arguments.collection) as cat:
        done = correct.redo(cat, arguments.lot, by=by_name(arguments))
    return Answer({"lot": arguments.lot, "done_again": done}, [f"done again: {done}"])
