"""`export`: the collection in open formats."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer
from motifs.cli.options import add_by, by_name, collection
from motifs.cli.progress import progress_bars

if TYPE_CHECKING:
    import argparse

SUMMARY = "write the collection in open formats: a bag of tables, photographs, crops, plates and pages"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("folder", type=Path, metavar="DIR", help="the folder to make; must not exist yet")
    parser.add_argument(
        "--exact-places",
        action="store_true",
        help="do not round coordinates to 10 km nor take places out of photographs",
    )
    parser.add_argument("--no-plates", action="store_true", help="leave the plates out, which take longest")
    parser.add_argument("--base-url", metavar="URL", help="where the crops will be served, for the IIIF manifest")
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Export and say what was left out."""
    from motifs.workflows.exporting import BASE_URL, export_collection

    with collection(arguments.collection) as cat, progress_bars() as progress:
        made = export_collection(
            cat,
            arguments.folder,
            exact_places=arguments.exact_places,
            with_plates=not arguments.no_plates,
            base_url=arguments.base_url or BASE_URL,
            by=by_name(arguments),
            progress=progress,
        )
    document = {
        "folder": str(made.folder),
        "sherds": made.sherds,
        "photos": made.photos,
        "plates": made.plates,
        "withheld": made.withheld,
        "cleared": made.cleared,
        "files": made.files,
    }
    warnings = []
    if made.withheld:
        warnings.append(f"{made.withheld} restricted sherd(s) left out, with all that names them")
    if made.cleared:
        warnings.append(f"{made.cleared} photograph(s) went out without their place, or with restricted sherds covered")
    line = f"{made.folder}: {made.sherds} sherds, {made.photos} photographs, {made.plates} plates; open data/index.html in it"
    return Answer(document, [line], warnings)
