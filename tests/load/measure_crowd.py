"""Ten people at once, in threads on one catalogue: `python -m tests.load.measure_crowd DIR [--people 10] [--acts 100] [--think-s 1]`.

DIR is a made collection (tests.load.make); it is worked in. Prints how long each kind of act took, alone and among the others,
and whether anything was lost.
"""

from __future__ import annotations

import argparse
import os
import statistics
import time
from pathlib import Path
from typing import TYPE_CHECKING

from motifs.catalogue import Catalogue
from tests.load.crowd import lost_acts, work_together

if TYPE_CHECKING:
    from tests.load.crowd import Person

LOTS = 6


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.load.measure_crowd", description=__doc__.splitlines()[0])
    parser.add_argument("collection", type=Path)
    parser.add_argument("--people", type=int, default=10)
    parser.add_argument("--acts", type=int, default=100)
    parser.add_argument("--think-s", type=float, default=1.0, help="between two acts of one person")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--sorts", action="store_true", help="one of them sorts a lot of them all, over and over")
    given = parser.parse_args()
    with Catalogue.open(given.collection) as cat:
        lots = [lot.name for lot in cat.lots()[1 : 1 + LOTS]]
        print(f"{sum(lot.sherds for lot in cat.lots())} sherds; load of the machine {os.getloadavg()[0]:.1f}")
        for people in (1, given.people):
            began, used = time.monotonic(), time.process_time()
            crowd = work_together(
                cat,
                lots,
                people=people,
                acts=given.acts,
                seed=given.seed + people,
                with_sorts=given.sorts,
                think_s=given.think_s,
            )
            wall, cpu = time.monotonic() - began, time.process_time() - used
            print(f"{people} at once: {people * given.acts} acts in {wall:.1f} s ({cpu:.1f} s of processor)")
            _print_acts(crowd)
            lost = lost_acts(cat, lots, crowd)
            print(f"  lost: {len(lost)}", *lost[:5], sep="\n    " if lost else "")
        began = time.monotonic()
        found = cat.check() if sum(lot.sherds for lot in cat.lots()) < 5000 else ()
        print(f"check: {len(found)} findings, {time.monotonic() - began:.1f} s; load {os.getloadavg()[0]:.1f}")


def _print_acts(crowd: list[Person]) -> None:
    for what in ("look", "tag", "move", "tell", "sort"):
        took = sorted(1000 * second for person in crowd for second in person.took_s[what])
        if took:
            late = took[min(len(took) - 1, round(0.95 * len(took)))]
            print(
                f"  {what:5s} {len(took):5d} times: median {statistics.median(took):7.1f} ms, 95 of 100 within {late:8.1f} ms"
            )


if __name__ == "__main__":
    main()
