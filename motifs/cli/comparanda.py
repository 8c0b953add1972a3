"""`comparanda`: the nearest decorations to a sherd, to a box of it, or to several sherds together."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, box, by_name, collection, positive_count, share, similarity
from motifs.cli.progress import progress_bars

if TYPE_CHECKING:
    import argparse

    from motifs.workflows.comparanda import Neighbour

SUMMARY = "find the sherds whose decoration is nearest to a sherd's, to a box of it, or to several sherds together"


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
    parser.add_argument(
        "--least-probability",
        type=share,
        default=0.0,
        metavar="P",
        help="leave out what less probably shows the same motif, 0 to 1 (default: nothing)",
    )
    parser.add_argument("--box", type=box, metavar="X,Y,W,H", help="compare only this box, in px of the sherd's crop")
    parser.add_argument("--also", action="append", default=[], metavar="SHERD", help="a further sherd of the query")
    parser.add_argument("--mirror", action="store_true", help="look for agreement with the mirror image too")
    _add_narrowing(parser)
    parser.add_argument("--encoder", metavar="TAG", help="see the encoders command (default: the first one there)")
    add_by(parser)


def _add_narrowing(parser: argparse.ArgumentParser) -> None:
    many = (
        ("--site", "find only at this site"),
        ("--lot", "find only in this lot"),
        ("--technique", "find only what is tagged with this technique"),
        ("--position", "find only what is tagged with this position on the vessel"),
        ("--period", "find only what the written record puts into this period"),
        ("--tag", "find only what is tagged with this term, of any kind"),
    )
    for name, words in many:
        parser.add_argument(name, action="append", default=[], metavar="NAME", help=f"{words}; may be repeated")
    parser.add_argument("--text", default="", help="find only records with all these words: number, lot, site, tags")


def run(arguments: argparse.Namespace) -> Answer:
    """Search, and say what was left out."""
    from motifs.workflows.comparanda import find_comparanda
    from motifs.workflows.narrowing import Narrowing

    narrowing = Narrowing(
        sites=tuple(arguments.site),
        lots=tuple(arguments.lot),
        techniques=tuple(arguments.technique),
        positions=tuple(arguments.position),
        tags=tuple(arguments.tag),
        periods=tuple(arguments.period),
        text=arguments.text,
    )
    with collection(arguments.collection) as cat, progress_bars() as progress:
        found = find_comparanda(
            cat,
            arguments.sherd,
            others=arguments.also,
            top=arguments.top,
            other_sites=arguments.other_sites,
            least_similarity=arguments.least_similarity,
            least_probability=arguments.least_probability,
            box_px=arguments.box,
            narrowing=narrowing,
            with_mirror=arguments.mirror,
            encoder=arguments.encoder,
            by=by_name(arguments),
            progress=progress,
        )
    document = {
        "query": found.query,
        "also": found.others,
        "encoder": found.encoder,
        "box_px": found.box_px,
        "compared": found.compared,
        "is_comparable": found.is_comparable,
        "neighbours": [_neighbour(near) for near in found.neighbours],
        "notes": found.notes,
    }
    rows = [
        [near.rank, near.sherd, near.lot, near.site, near.similarity, near.probability, _places(near)]
        for near in found.neighbours
    ]
    head = ["rank", "sherd", "lot", "site", "similarity", "same motif", "places that agree"]
    heading = f"Nearest to {' + '.join((found.query, *found.others))} among {found.compared} sherds ({found.encoder}):"
    return Answer(document, [heading, *table(head, rows)], found.notes)


def _neighbour(near: Neighbour) -> dict[str, object]:
    return {
        "rank": near.rank,
        "sherd": near.sherd,
        "lot": near.lot,
        "site": near.site,
        "similarity": near.similarity,
        "probability_same_motif": near.probability,
        "agreement": None if near.regions is None else asdict(near.regions),
    }


def _places(near: Neighbour) -> str | None:
    if near.regions is None:
        return None
    return f"{near.regions.matches}{' (mirrored)' if near.regions.is_mirrored else ''}"
