"""`practice`: a broken-pots exercise, made, sorted and marked."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection, positive_count, positive_number, share
from motifs.cli.progress import progress_bars

if TYPE_CHECKING:
    import argparse

    from motifs.practice import SortingMark
    from motifs.workflows.exercise import ExerciseMark, OpenExercise

SUMMARY = "pots broken for practice: photographs and a sheet to cut out, sorted by hand or by the program, and marked"


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
    parser.add_argument("--sherds", type=positive_count, default=60, metavar="N", help="about so many (default: 60)")
    parser.add_argument("--lost", type=share, metavar="P", help="share of the pieces that is missing (default: a few)")
    parser.add_argument("--technique", metavar="T", help="of all pots: painted, incised ... (default: drawn)")
    parser.add_argument(
        "--into", type=Path, metavar="DIR", help="where to (default: exports/practice of the collection)"
    )
    doing = parser.add_mutually_exclusive_group()
    doing.add_argument("--by-machine", action="store_true", help="let the program sort an exercise that is there")
    doing.add_argument(
        "--mark",
        nargs="?",
        const="",
        metavar="FILE",
        help="mark a list of piles (default: piles.csv of the exercise) against the answer",
    )
    parser.add_argument(
        "--minutes", type=positive_number, metavar="M", help="how long the sorting took, kept with its mark"
    )
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Make, sort or mark."""
    folder = arguments.into if arguments.into is not None else _exports(arguments.collection)
    if arguments.by_machine:
        return _sort(folder / arguments.name, arguments)
    if arguments.mark is not None:
        return _mark(folder / arguments.name, arguments)
    return _make(folder, arguments)


def _make(folder: Path, arguments: argparse.Namespace) -> Answer:
    from motifs.workflows.practice import CUT_OUT, PILES, ExerciseSettings, prepare_exercise

    wish = ExerciseSettings(
        arguments.pots, arguments.alike, arguments.seed, arguments.sherds, arguments.lost, arguments.technique
    )
    made = prepare_exercise(folder, arguments.name, settings=wish)
    photos = [str(path) for path in made.photos]
    place = made.answer.parent
    files = {"cut_out": str(place / CUT_OUT), "piles": str(place / PILES)}
    lines = [
        *photos,
        f"{files['cut_out']} has every sherd at true size, to cut out and tape, and the rules for a class",
        f"{files['piles']} is the list to fill in: the name of a pile beside each sherd; then practice {arguments.name} --mark",
        f"{made.answer} holds the answer; leave it sealed until you have sorted the lot",
    ]
    return Answer({"photos": photos, "answer": str(made.answer), **files}, lines)


def _sort(place: Path, arguments: argparse.Namespace) -> Answer:
    from motifs.workflows.exercise import open_exercise, sort_by_machine, write_piles

    with progress_bars() as progress:
        piles = sort_by_machine(open_exercise(place), by=by_name(arguments), progress=progress)
    file = place / "piles_by_machine.csv"
    write_piles(file, piles)
    counts: dict[str, int] = {}
    for pile in piles.values():
        counts[pile or "left aside"] = counts.get(pile or "left aside", 0) + 1
    lines = [*table(["pile", "sherds"], sorted(counts.items())), f"{file} has the program's piles"]
    return Answer({"piles": piles, "file": str(file)}, lines)


def _mark(place: Path, arguments: argparse.Namespace) -> Answer:
    from motifs.workflows.exercise import mark_exercise, open_exercise, read_piles
    from motifs.workflows.practice import PILES

    exercise = open_exercise(place)
    piles = read_piles(Path(arguments.mark) if arguments.mark else place / PILES)
    seconds = None if arguments.minutes is None else 60 * arguments.minutes
    mark = mark_exercise(exercise, piles, seconds=seconds)
    _remember(arguments, exercise, piles, mark)
    document = {
        "exercise": exercise.name,
        "own": _document(mark.own),
        "machine": None if mark.machine is None else _document(mark.machine),
        "minutes": arguments.minutes,
        "missed": [{"cue": one.cue.name, "pots": one.pots, "pairs": one.pairs} for one in mark.missed],
        "explained": list(mark.explained),
    }
    return Answer(document, _mark_lines(mark))


def _remember(
    arguments: argparse.Namespace, exercise: OpenExercise, piles: dict[str, str | None], mark: ExerciseMark
) -> None:
    """Keep the mark with the learner's name, where the exercise lies in a collection."""
    from motifs.workflows.learning import keep_turn

    if arguments.into is None:
        with collection(arguments.collection) as cat:
            keep_turn(cat, exercise, piles, mark, learner=by_name(arguments))


def _document(mark: SortingMark) -> dict[str, object]:
    return {
        "sherds": mark.sherds,
        "unassigned": mark.unassigned,
        "joined_wrongly": mark.joined_wrongly,
        "split_wrongly": mark.split_wrongly,
        "adjusted_rand": mark.adjusted_rand,
    }


def _mark_lines(mark: ExerciseMark) -> list[str]:
    head = ["sorted by", "adjusted Rand", "pairs joined wrongly", "pairs split wrongly", "left aside", "of"]
    sorted_by = [("you", mark.own), *([("the program", mark.machine)] if mark.machine is not None else [])]
    rows = [
        [who, one.adjusted_rand, one.joined_wrongly, one.split_wrongly, one.unassigned, one.sherds]
        for who, one in sorted_by
    ]
    more = (
        []
        if mark.machine is not None
        else ["What the program would have done: sort the exercise with --by-machine first."]
    )
    return [*table(head, rows), *mark.explained, *more]


def _exports(folder: Path) -> Path:
    """Where a collection keeps exercises; the collection is made if it is not there, so that it can be used later."""
    with collection(folder, create=True) as cat:
        return cat.exports_folder / "practice"
