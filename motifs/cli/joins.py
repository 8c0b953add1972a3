"""`joins`: which sherds of a lot fit edge to edge."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection, positive_count
from motifs.cli.progress import progress_bars

if TYPE_CHECKING:
    import argparse

    from motifs.workflows.joins import ProposedJoin

SUMMARY = "propose which sherds of a lot fit edge to edge; record your yes or no; draw a join to judge it by"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    pair = ("A", "B")
    parser.add_argument("lot", metavar="LOT")
    parser.add_argument(
        "--top", type=positive_count, default=5, metavar="K", help="proposals of each sherd to list (default: 5)"
    )
    parser.add_argument(
        "--accept",
        nargs=2,
        action="append",
        default=[],
        metavar=pair,
        help="they fit, seen at the table; may be repeated",
    )
    parser.add_argument(
        "--refuse", nargs=2, action="append", default=[], metavar=pair, help="they do not fit; not proposed again"
    )
    parser.add_argument(
        "--withdraw", nargs=2, action="append", default=[], metavar=pair, help="take back what was said of their join"
    )
    parser.add_argument("--note", default="", metavar="TEXT", help="why, kept with what is said")
    parser.add_argument(
        "--picture", nargs=3, metavar=("A", "B", "FILE"), help="draw their proposed join into this .png, 10 px a mm"
    )
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Record what is said, propose, and draw if asked."""
    from motifs.workflows.joins import find_joins, judge_joins

    by = by_name(arguments)
    words = {
        "accepted": [(a, b) for a, b in arguments.accept],
        "refused": [(a, b) for a, b in arguments.refuse],
        "withdrawn": [(a, b) for a, b in arguments.withdraw],
    }
    with collection(arguments.collection) as cat, progress_bars() as progress:
        found = find_joins(cat, arguments.lot, top=arguments.top, by=by, progress=progress)
        if any(words.values()):
            judge_joins(cat, arguments.lot, **words, note=arguments.note, by=by)
            found = find_joins(cat, arguments.lot, top=arguments.top, by=by)
        if arguments.picture is not None:
            from motifs.workflows.join_pictures import save_picture

            a, b, file = arguments.picture
            save_picture(cat, arguments.lot, a, b, Path(file))
    document = {
        "lot": found.lot,
        "joins": [{"rank": rank, **asdict(join)} for rank, join in enumerate(found.joins, start=1)],
        "refused": found.refused,
        "notes": found.notes,
    }
    return Answer(document, _lines(found.lot, found.joins, found.refused), found.notes)


def _lines(lot: str, joins: tuple[ProposedJoin, ...], refused: int) -> list[str]:
    head = ["rank", "sherd", "sherd", "fit", "contact mm", "word", "why"]
    rows = [
        [rank, join.a, join.b, join.fit, round(join.length_mm), join.word, "; ".join(join.why)]
        for rank, join in enumerate(joins, start=1)
    ]
    said = f", {refused} refused ones left out" if refused else ""
    return [
        f"Lot {lot}: {len(joins)} joins proposed{said}. Lay them together dry before anything is glued.",
        *table(head, rows),
    ]
