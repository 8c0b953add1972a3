"""`sort`: separate a lot into vessels."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection, positive_count
from motifs.cli.progress import progress_bars

if TYPE_CHECKING:
    import argparse
    from collections.abc import Mapping

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
    from motifs.workflows.vessel_names import vessel_names

    with collection(arguments.collection) as cat, progress_bars() as progress:
        sorting = sort_lot(
            cat, arguments.lot, vessels=arguments.vessels, seed=arguments.seed, by=by_name(arguments), progress=progress
        )
        lot = sorting.lot
        names = vessel_names(sorting, cat.attributions(lot), cat.links(lot), cat.locks(lot))
    document = {**packed(sorting), "names": [names[vessel] for vessel in range(sorting.vessels)]}
    return Answer(document, _lines(sorting, names, arguments.questions), sorting.notes)


def _lines(sorting: LotSorting, names: Mapping[int, str], asked: int) -> list[str]:
    """The proposal as people read it: vessels by their names on the sorting table, which counts from 1."""
    low, high = sorting.vessels_range
    head = ["sherd", "vessel", "support", "next best", "why"]
    rows = [
        [
            placed.sherd,
            _name(names, placed.vessel),
            round(placed.support, 2),
            _name(names, placed.next_best),
            "; ".join(placed.why[:REASONS_SHOWN]),
        ]
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


def _name(names: Mapping[int, str], vessel: int | None) -> str | None:
    return None if vessel is None else names.get(vessel)


def _by_vessel_then_support(placed: PlacedSherd) -> tuple[float, float, str]:
    return (math.inf if placed.vessel is None else placed.vessel, -placed.support, placed.sherd)
