"""`tell`: record the analyst's word on pairs of sherds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.cli.answer import Answer
from motifs.cli.options import add_by, by_name, collection

if TYPE_CHECKING:
    import argparse

SUMMARY = "record that two sherds of a lot are of the same vessel, or of different ones; the next sort obeys"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    pair = ("A", "B")
    parser.add_argument("lot", metavar="LOT")
    parser.add_argument(
        "--same", nargs=2, action="append", default=[], metavar=pair, help="of one vessel; may be repeated"
    )
    parser.add_argument(
        "--different", nargs=2, action="append", default=[], metavar=pair, help="of two vessels; may be repeated"
    )
    parser.add_argument(
        "--withdraw", nargs=2, action="append", default=[], metavar=pair, help="take back what was said of the pair"
    )
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Record everything the line says, or nothing of it."""
    from motifs.workflows.tell import tell_pairs

    with collection(arguments.collection) as cat:
        links = tell_pairs(
            cat,
            arguments.lot,
            same=[(a, b) for a, b in arguments.same],
            different=[(a, b) for a, b in arguments.different],
            withdrawn=[(a, b) for a, b in arguments.withdraw],
            by=by_name(arguments),
        )
    return Answer(
        {"lot": arguments.lot, "links": links}, [f"lot {arguments.lot}: {links} links; sort again to use them"]
    )
