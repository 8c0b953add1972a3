"""`sherds`: the catalogue with its measurements."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import collection

if TYPE_CHECKING:
    import argparse

SUMMARY = "list the catalogue, or one lot of it, with measurements and tags"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("--lot", metavar="LOT", help="only this lot")


def run(arguments: argparse.Namespace) -> Answer:
    """List kept sherds in catalogue order."""
    from motifs.workflows.listing import list_sherds

    with collection(arguments.collection) as cat:
        listed = list_sherds(cat, arguments.lot)
    documents = [
        {
            "sherd": row.sherd,
            "lot": row.lot,
            "site": row.site,
            "photo": row.photo,
            "measurements": row.measurements,
            "tags": [{"term": tag.term, "kind": tag.kind, "by": tag.by} for tag in row.tags],
            "look": row.look,
        }
        for row in listed
    ]
    rows = [
        [
            row.sherd,
            row.lot,
            row.site,
            row.photo,
            _rounded(row.measurements.get("area_mm2"), 0),
            _rounded(row.measurements.get("max_dimension_mm"), 1),
            ", ".join(tag.term for tag in row.tags),
            row.look,
        ]
        for row in listed
    ]
    head = ["sherd", "lot", "site", "photo", "area mm2", "max mm", "tags", "look at"]
    return Answer({"sherds": documents}, [*table(head, rows), f"{len(listed)} sherds"])


def _rounded(value: object, digits: int) -> str | None:
    """No more digits than a photograph can promise."""
    return f"{value:.{digits}f}" if isinstance(value, (int, float)) else None
