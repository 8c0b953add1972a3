"""`sort`: separate a lot into vessels."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection, positive_count
from motifs.cli.progress import progress_bars

if TYPE_CHECKING:
    import argparse

    from motifs.workflows.sorting import LotSorting, PlacedSherd

SUMMARY = "separate a lot into vessels, with support, reasons and the next question to ask"
REASONS_SHOWN = 2


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("lot", metavar="LOT")
    parser.add_argument(
        "--vessels", type=positive_count, metavar="N", help="their number, where it is known (default: found)"
    )
    parser.add_argument("--seed", type=int, default=0, metavar="S", help="of the search (default: 0)")
    parser.add_argument(
        "--questions",
        type=positive_count,
        default=1,
        metavar="Q",
        help="list so many questions for one walk round the table (default: 1)",
    )
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Sort, keep the proposal, print it."""
    from motifs.workflows.sort import sort_lot
    from motifs.workflows.sorting import packed

    with collection(arguments.collection) as cat, progress_bars() as progress:
        sorting = sort_lot(
            cat, arguments.lot, vessels=arguments.vessels, seed=arguments.seed, by=by_name(arguments), progress=progress
        )
    return Answer(packed(sorting), _lines(sorting, arguments.questions), sorting.notes)


def _lines(sorting: LotSorting, asked: int) -> list[str]:
    low, high = sorting.vessels_range
    head = ["sherd", "vessel", "support", "next best", "why"]
    rows = [
        [placed.sherd, placed.vessel, round(placed.support, 2), placed.next_best, "; ".join(placed.why[:REASONS_SHOWN])]
        for placed in sorted(sorting.assignments, key=_by_vessel_then_support)
    ]
    lines = [
        f"Lot {sorting.lot}: {sorting.vessels} vessels proposed (between {low} and {high}), {len(sorting.unassigned)} unassigned; "
        f"{sorting.joins_heard} joins spoke"
    ]
    lines += table(head, rows)
    for question in sorting.questions[:asked]:
        lines += [
            f"Question: are {question.a} and {question.b} of one vessel? {question.why}",
            f"Answer with: tell {sorting.lot} --same {question.a} {question.b}   or   --different {question.a} {question.b}",
        ]
    return lines


def _by_vessel_then_support(placed: PlacedSherd) -> tuple[float, float, str]:
    return (math.inf if placed.vessel is None else placed.vessel, -placed.support, placed.sherd)
