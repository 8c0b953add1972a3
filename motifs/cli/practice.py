"""`practice`: a broken-pots exercise."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer
from motifs.cli.options import collection, positive_count, share

if TYPE_CHECKING:
    import argparse

SUMMARY = "render photographs of pots broken for practice, with a sealed answer"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("name", metavar="NAME", help="of the exercise, and of its folder")
    parser.add_argument("--pots", type=positive_count, default=2, metavar="N", help="broken together (default: 2)")
    parser.add_argument(
        "--alike",
        type=share,
        default=0.5,
        metavar="A",
        help="0 unrelated, 0.5 look-alikes, 1 nearly identical (default: 0.5)",
    )
    parser.add_argument(
        "--seed", type=int, default=0, metavar="S", help="the same seed gives the same exercise (default: 0)"
    )
    parser.add_argument(
        "--into", type=Path, metavar="DIR", help="where to (default: exports/practice of the collection)"
    )


def run(arguments: argparse.Namespace) -> Answer:
    """Render, write, and say how to go on."""
    from motifs.workflows.practice import prepare_exercise

    folder = arguments.into if arguments.into is not None else _exports(arguments.collection)
    made = prepare_exercise(folder, arguments.name, pots=arguments.pots, alike=arguments.alike, seed=arguments.seed)
    photos = [str(path) for path in made.photos]
    return Answer(
        {"photos": photos, "answer": str(made.answer)},
        [*photos, f"{made.answer} holds the answer; leave it sealed until you have sorted the lot"],
    )


def _exports(folder: Path) -> Path:
    """Where a collection keeps exercises; the collection is made if it is not there, so that it can be used later."""
    with collection(folder, create=True) as cat:
        return cat.exports_folder / "practice"
