"""`rims`: the rims of a lot and what they add up to."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import collection
from motifs.cli.rim import reading_document

if TYPE_CHECKING:
    import argparse

SUMMARY = "list the rims of a lot with diameter and share, and their estimated vessel equivalent"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("lot", metavar="LOT")


def run(arguments: argparse.Namespace) -> Answer:
    """List the rims in catalogue order."""
    from motifs.workflows.rims import lot_rims

    with collection(arguments.collection) as cat:
        found = lot_rims(cat, arguments.lot)
    head = ["sherd", "method", "diameter mm", "sd mm", "% of rim", "by"]
    rows = [
        [
            rim.sherd,
            rim.reading.method,
            _whole(rim.reading.diameter_mm),
            _whole(rim.reading.diameter_sd_mm),
            rim.reading.percent,
            rim.by,
        ]
        for rim in found.rims
    ]
    closing = f"{len(found.rims)} rims, {found.unknown} with diameter unknown; EVE {found.eve:.2f} of {found.with_share} rims ({found.method})"
    document = {
        "lot": found.lot,
        "rims": [
            {"sherd": rim.sherd, "by": rim.by, "at": rim.at, **reading_document(rim.reading)} for rim in found.rims
        ],
        "eve": found.eve,
        "method": found.method,
        "rims_with_share": found.with_share,
        "rims_unknown": found.unknown,
    }
    return Answer(document, [*table(head, rows), closing], found.warnings)


def _whole(value: float | None) -> str | None:
    return None if value is None else f"{value:.0f}"
