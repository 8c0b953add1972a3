"""`report`: a lot or a site written up, as PDF and static HTML."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer
from motifs.cli.options import add_by, by_name, collection, positive_number
from motifs.cli.progress import progress_bars

if TYPE_CHECKING:
    import argparse

SUMMARY = (
    "write up a lot or a site as PDF and static HTML: what came in, vessels with plates, motifs, comparanda, joins"
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("lot", metavar="LOT", nargs="?")
    parser.add_argument("--site", metavar="SITE", help="all lots of a site, and the site beside the others")
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="folder for the two files")
    parser.add_argument(
        "--reduction", type=positive_number, default=2.0, metavar="R", help="plates are drawn at 1 : R (default: 2)"
    )
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Write both files and say where they are."""
    from motifs.workflows.report import write_report

    with collection(arguments.collection) as cat, progress_bars() as progress:
        made = write_report(
            cat,
            arguments.out,
            lot=arguments.lot,
            site=arguments.site,
            reduction=arguments.reduction,
            by=by_name(arguments),
            progress=progress,
        )
    document = {"pdf": str(made.pdf), "html": str(made.html), "sherds": made.sherds, "lots": made.pages_of}
    return Answer(document, [str(made.pdf), str(made.html), f"{made.sherds} sherds of {len(made.pages_of)} lot(s)"])
