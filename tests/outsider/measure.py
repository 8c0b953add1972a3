"""Benchmark of the command line on photographs by somebody else.

    python -m tests.outsider.measure sort --style both --kind look-alike --lots 8 --seed 1000 --answers 10

Seeds 1 to 999 are for tuning, 1000 and up for reporting only. Photographs are kept in the work folder by
seed. Prints a table (mean ± standard error over lots) and, with --out, writes every row as JSON.
"""

from __future__ import annotations

import argparse
import tempfile
from dataclasses import dataclass
from pathlib import Path

from tests.outsider import trials
from tests.outsider.baseline import baseline
from tests.outsider.blackbox import CommandAbsentError
from tests.outsider.reports import as_table, group_rows, write_rows
from tests.outsider.scenes import KINDS, REPORT_SEED, STYLES

SORT_COLUMNS = (
    "failed",
    "found",
    "ari",
    "joined",
    "split",
    "unassigned",
    "count_right",
    "range_right",
    "sure_share",
    "sure_wrong",
)
DETECTION_COLUMNS = ("f1", "missed", "invented", "mean_iou", "scale_error", "area_error", "seconds")
MEASURES = {
    "detection": (trials.detect, ("style", "kind"), DETECTION_COLUMNS),
    "scale": (trials.detect, ("style", "bar"), ("has_scale", "scale_error")),
    "sort": (trials.sort, ("style", "kind", "pots"), (*SORT_COLUMNS, "ari_answered", "answers")),
    "baseline": (baseline, ("style", "kind", "pots"), ("ari_paste",)),
    "comparanda": (trials.comparanda, ("style",), ("map", "precision_at_1", "found", "seconds_a_query")),
    "joins": (trials.joins, ("style", "kind"), ("first", "among_5", "fit_over_09_right", "queries", "seconds")),
    "cloth": (trials.cloth, ("style", "kind"), (*SORT_COLUMNS, "map", "precision_at_1")),
}


@dataclass(frozen=True)
class Order:
    """What to measure; styles and kinds are tuples, lots is the number of scenes of each."""

    styles: tuple[str, ...]
    kinds: tuple[str, ...]
    lots: int
    seed: int
    pots: int
    sherds: int
    answers: int
    queries: int
    motifs: int
    work: Path
    cloth: Path | None
    takes: int
    is_warm: bool
    renders_only: Path | None
    overlays: Path | None


def main(argv: list[str] | None = None) -> int:
    """Measure, print, write."""
    given = _parser().parse_args(argv)
    order = Order(
        styles=STYLES if given.style == "both" else (given.style,),
        kinds=KINDS if given.kind == "all" else (given.kind,),
        lots=given.lots,
        seed=given.seed,
        pots=given.pots,
        sherds=given.sherds,
        answers=given.answers,
        queries=given.queries,
        motifs=given.motifs,
        work=given.work.resolve(),
        cloth=given.cloth,
        takes=given.takes,
        is_warm=given.warm,
        renders_only=given.renders_only,
        overlays=given.overlays,
    )
    measure, keys, columns = MEASURES[given.measure]
    try:
        rows = measure(order)
    except CommandAbsentError as name:
        print(f"absent: the program has no command '{name}'")
        return 2
    if order.renders_only is None:
        part = "report" if order.seed >= REPORT_SEED else "tune"
        print(f"{given.measure}, seeds {order.seed} to {order.seed + order.lots - 1} ({part})")
        print(as_table(group_rows(rows, keys), columns))
    if given.out:
        write_rows(given.out, given.measure, vars(given), rows)
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m tests.outsider.measure",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("measure", choices=MEASURES)
    parser.add_argument("--style", choices=(*STYLES, "both"), default="both")
    parser.add_argument("--kind", choices=(*KINDS, "all"), default="look-alike", help="kind of lot, for sort and joins")
    parser.add_argument("--lots", type=int, default=2, help="scenes of each style and kind")
    parser.add_argument("--seed", type=int, default=1, help="first seed; 1000 and up are for reporting only")
    parser.add_argument("--pots", type=int, default=2)
    parser.add_argument("--sherds", type=int, default=60, help="about so many in a lot")
    parser.add_argument(
        "--answers", type=int, default=0, help="answer up to so many questions truthfully and sort again"
    )
    parser.add_argument("--queries", type=int, default=60, help="comparanda: so many random queries, 0 for all")
    parser.add_argument(
        "--motifs", type=int, default=30, help="comparanda: so many motifs, each on four pots at four sites"
    )
    parser.add_argument(
        "--work", type=Path, default=Path(tempfile.gettempdir()) / "outsider", help="keeps photographs by seed"
    )
    parser.add_argument("--cloth", type=Path, help="folder of real cloth photographs with index.csv")
    parser.add_argument(
        "--takes", type=int, default=1, help="cloth: photographs of each cloth in a lot; more is harder"
    )
    parser.add_argument("--warm", action="store_true", help="keep the program loaded between commands")
    parser.add_argument("--renders-only", type=Path, metavar="DIR", help="only write photographs and truth into DIR")
    parser.add_argument(
        "--overlays", type=Path, metavar="DIR", help="detection: write photographs with true and found outlines"
    )
    parser.add_argument("--out", type=Path, help="write every row as JSON here")
    return parser


if __name__ == "__main__":
    raise SystemExit(main())
