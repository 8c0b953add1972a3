"""`demo`: the whole job on the photographs that come with the program."""

from __future__ import annotations

import shlex
from dataclasses import asdict
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection
from motifs.cli.progress import progress_bars

if TYPE_CHECKING:
    import argparse
    from pathlib import Path

    from motifs.workflows.demo import DemoRun

SUMMARY = "build a collection from the demo photographs, run the whole job on it, and say where to look"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Run the pipeline on every lot and draw sheets."""
    from motifs.workflows.demo import demo_lots, run_demo

    demo_lots()
    with progress_bars() as progress, collection(arguments.collection, create=True) as cat:
        made = run_demo(cat, by=by_name(arguments), progress=progress)
        lots, sherds, folder = [lot.name for lot in cat.lots()], len(cat.sherds()), cat.folder
    document = {
        "collection": str(folder),
        "lots": lots,
        "sherds": sherds,
        "vessels": {run.sorting.lot: run.sorting.vessels for run in made.lots},
        "marks": {run.sorting.lot: asdict(mark) for run, mark in zip(made.lots, made.marks, strict=True)},
        "pictures": [str(path) for path in made.pictures],
    }
    return Answer(document, _lines(made, folder, sherds))


def _lines(made: DemoRun, folder: Path, sherds: int) -> list[str]:
    rows = []
    for run, mark in zip(made.lots, made.marks, strict=True):
        sorting = run.sorting
        between = "{} to {}".format(*sorting.vessels_range)
        counts = [len(run.photos), len(sorting.assignments), sorting.vessels, between, len(sorting.unassigned)]
        rows.append([sorting.lot, *counts, mark.pots, mark.missed, mark.false_finds, mark.sorting.adjusted_rand])
    where = shlex.quote(str(folder))
    return [
        f"{sherds} sherds of {len(made.lots)} lots are in {folder}",
        *table(
            [
                "lot",
                "photos",
                "sherds",
                "vessels",
                "between",
                "unassigned",
                "true pots",
                "missed",
                "false finds",
                "agreement",
            ],
            rows,
        ),
        "The demo's answer is known; agreement is the adjusted Rand index (1: as the answer, 0: chance); missed sherds count as unassigned.",
        f"Look at the sheets in {made.pictures[0].parent}:" if made.pictures else "",
        *(f"  {path.name}" for path in made.pictures if path.suffix == ".png"),
        "Open the page:",
        f"  .venv/bin/python -m motifs serve --collection {where}",
    ]
