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
    parser.add_argument(
        "--cannot-tell",
        nargs=2,
        action="append",
        default=[],
        metavar=pair,
        help="looked at and left open; not asked again until it is told or withdrawn",
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
            cannot_tell=[(a, b) for a, b in arguments.cannot_tell],
            by=by_name(arguments),
        )
        open_pairs = len(cat.open_pairs(arguments.lot))
    left = f", {open_pairs} pairs left open" if open_pairs else ""
    return Answer(
        {"lot": arguments.lot, "links": links, "open_pairs": open_pairs},
        [f"lot {arguments.lot}: {links} links{left}; sort again to use them"],
    )
