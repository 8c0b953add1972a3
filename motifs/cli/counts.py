"""`counts`: how many vessels a lot stands for, each number with its method."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import collection

if TYPE_CHECKING:
    import argparse

    from motifs.workflows.counts import CountLine

SUMMARY = "count a lot: numbers of vessels by several methods, EVE, completeness, brokenness, each with its method"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("lot", metavar="LOT")


def run(arguments: argparse.Namespace) -> Answer:
    """Count, and print a line a method."""
    from motifs.workflows.counts import lot_counts

    with collection(arguments.collection) as cat:
        found = lot_counts(cat, arguments.lot)
    every = (*found.vessels, *found.measures)
    rows = [[line.what, line.words, line.method, "; ".join(line.notes) or None] for line in every]
    document = {
        "lot": found.lot,
        "sherds": found.sherds,
        "rims": found.rims,
        "vessels": [_document(line) for line in found.vessels],
        "measures": [_document(line) for line in found.measures],
    }
    head = f"Lot {found.lot}: {found.sherds} sherds, {found.rims} recorded rims"
    return Answer(document, [head, *table(["what", "number", "method", "notes"], rows)])


def _document(line: CountLine) -> dict[str, object]:
    return {"what": line.what, "low": line.low, "high": line.high, "method": line.method, "notes": list(line.notes)}
