"""`comparanda`: the nearest decorations to a sherd."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, box, by_name, collection, positive_count, similarity
from motifs.cli.progress import progress_bars

if TYPE_CHECKING:
    import argparse

SUMMARY = "find the sherds whose decoration is nearest to a sherd's, or to a box of it"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("sherd", metavar="SHERD", help="catalogue number")
    parser.add_argument("--top", type=positive_count, default=10, metavar="K", help="how many (default: 10)")
    parser.add_argument("--other-sites", action="store_true", help="leave out the sherd's own site")
    parser.add_argument(
        "--least-similarity",
        type=similarity,
        default=-1.0,
        metavar="S",
        help="leave out what is farther, -1 to 1 (default: nothing)",
    )
    parser.add_argument("--box", type=box, metavar="X,Y,W,H", help="compare only this box, in px of the sherd's crop")
    parser.add_argument("--encoder", metavar="TAG", help="see the encoders command (default: the first one there)")
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Search, and say what was left out."""
    from motifs.workflows.comparanda import find_comparanda

    with collection(arguments.collection) as cat, progress_bars() as progress:
        found = find_comparanda(
            cat,
            arguments.sherd,
            top=arguments.top,
            other_sites=arguments.other_sites,
            least_similarity=arguments.least_similarity,
            box_px=arguments.box,
            encoder=arguments.encoder,
            by=by_name(arguments),
            progress=progress,
        )
    neighbours = [
        {"rank": near.rank, "sherd": near.sherd, "lot": near.lot, "site": near.site, "similarity": near.similarity}
        for near in found.neighbours
    ]
    document = {
        "query": found.query,
        "encoder": found.encoder,
        "box_px": found.box_px,
        "compared": found.compared,
        "neighbours": neighbours,
        "notes": found.notes,
    }
    rows = [[near.rank, near.sherd, near.lot, near.site, near.similarity] for near in found.neighbours]
    heading = f"Nearest to {found.query} among {found.compared} sherds ({found.encoder}):"
    return Answer(document, [heading, *table(["rank", "sherd", "lot", "site", "similarity"], rows)], found.notes)
