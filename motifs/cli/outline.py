"""`outline`: show outlines, or correct them as on the page."""

from __future__ import annotations

import argparse
import math
from pathlib import Path
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection
from motifs.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue, SherdRow

SUMMARY = "show the outlines of sherds, or redraw, split, merge, drop, add or turn them; undo takes it back"
UNKNOWN = "unknown"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("sherds", nargs="*", metavar="SHERD", help="catalogue number; none with --add")
    work = parser.add_mutually_exclusive_group()
    work.add_argument(
        "--redraw",
        type=Path,
        metavar="FILE",
        help="the outline drawn anew: JSON, [[x, y], ...] in px of the photograph",
    )
    work.add_argument(
        "--split", type=point, nargs="+", metavar="X,Y", help="cut along a stroke from beside the sherd to beside it"
    )
    work.add_argument("--merge", action="store_true", help="the sherds are one; it gets a new number")
    work.add_argument("--drop", action="store_true", help="no sherds after all; their numbers are not used again")
    work.add_argument(
        "--rim-up", type=angle, metavar="DEG", help=f"turn so far clockwise to stand rim up; '{UNKNOWN}' takes it back"
    )
    work.add_argument("--looked-over", action="store_true", help="you have looked at the outlines; let them stand")
    work.add_argument("--add", type=Path, metavar="FILE", help="a sherd that was missed, by the outline around it")
    parser.add_argument(
        "--photo", type=int, metavar="N", help="the photograph of the missed sherd, by the number in intake's JSON"
    )
    add_by(parser)


def point(text: str) -> tuple[float, float]:
    """X,Y in px of the photograph."""
    try:
        x, y = (float(part) for part in text.split(","))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not X,Y in px of the photograph") from None
    return x, y


def angle(text: str) -> float | str:
    """Degrees, or the word for not known."""
    if text == UNKNOWN:
        return text
    try:
        degrees = float(text)
    except ValueError:
        degrees = math.nan
    if not math.isfinite(degrees):
        raise argparse.ArgumentTypeError(f"{text!r} is not an angle in degrees, nor '{UNKNOWN}'")
    return degrees


def run(arguments: argparse.Namespace) -> Answer:
    """Correct, then show what stands now."""
    from motifs.workflows.outline_files import outline_document

    with collection(arguments.collection) as cat:
        sherds, line = _work(cat, arguments, by_name(arguments))
    rows = [
        [
            sherd.number,
            sherd.state,
            sherd.area_mm2,
            sherd.max_dimension_mm,
            sherd.rim_up_deg,
            sherd.outline_by,
            sherd.look,
        ]
        for sherd in sherds
    ]
    head = ["sherd", "state", "area mm2", "max mm", "rim up deg", "drawn by", "look at"]
    return Answer(
        {"outlines": [outline_document(sherd) for sherd in sherds]}, [*table(head, rows), *([line] if line else [])]
    )


def _work(cat: Catalogue, asked: argparse.Namespace, by: str) -> tuple[Sequence[SherdRow], str]:
    from motifs.workflows import correct
    from motifs.workflows.outline_files import read_outline_file

    numbers: list[str] = list(dict.fromkeys(asked.sherds))
    if asked.add is not None:
        if asked.photo is None or numbers:
            raise InputError("--add takes --photo N and no sherd; the number of a photograph stands in intake --json")
        return (correct.add_missed(cat, asked.photo, read_outline_file(asked.add), by=by),), "added"
    if not numbers:
        raise InputError("no sherd is named; give its catalogue number")
    if asked.redraw is not None:
        redrawn = correct.redraw(cat, _one(numbers), read_outline_file(asked.redraw), by=by)
        return (redrawn,), f"redrawn.{correct.boxes_to_check(cat, redrawn.number)}"
    if asked.split is not None:
        pieces = correct.split(cat, _one(numbers), asked.split, by=by)
        return pieces, f"split.{correct.boxes_to_check(cat, pieces[0].number)}"
    if asked.merge:
        return (correct.merge(cat, numbers, by=by),), "merged"
    return _work_on_all(cat, numbers, asked, by)


def _work_on_all(
    cat: Catalogue, numbers: list[str], asked: argparse.Namespace, by: str
) -> tuple[Sequence[SherdRow], str]:
    from motifs.workflows import correct

    line = ""
    if asked.drop:
        correct.drop(cat, numbers, by=by)
        line = "dropped; undo brings them back"
    elif asked.rim_up is not None:
        correct.set_rim_up(cat, numbers, None if asked.rim_up == UNKNOWN else asked.rim_up, by=by)
        line = "rim up set"
    elif asked.looked_over:
        correct.accept_outlines(cat, numbers, by=by)
        line = "looked over"
    return [cat.sherd(number) for number in numbers], line


def _one(numbers: list[str]) -> str:
    if len(numbers) > 1:
        raise InputError(f"one sherd at a time can be redrawn or split, not {len(numbers)}; name one")
    return numbers[0]
