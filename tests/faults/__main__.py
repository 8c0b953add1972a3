"""Print the list of faults with what came of each: `python -m tests.faults [--only WORD] [--points N]`.

Each fault that strikes at a point of the work is tried at N points spread over it (5 unless told).
"""

from __future__ import annotations

import argparse
import shutil
import tempfile
import time
from pathlib import Path

from tests.faults.jobs import make_ground
from tests.faults.listed import FAULTS, CannotBeTried, Fault


def attempted(fault: Fault, ground: Path, folder: Path, points: int) -> tuple[str, str]:
    """Try a fault at so many points; return ("held" | "FAILED" | "not tried", what came of it)."""
    strikes_somewhere = hasattr(fault.attempt, "func")
    told = ""
    for point in range(points if strikes_somewhere else 1):
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        try:
            told = fault.attempt(ground, folder, (point + 0.5) / points if strikes_somewhere else 0.5)
        except CannotBeTried as why:
            return "not tried", str(why)
        except Exception as wrong:
            return "FAILED", f"{type(wrong).__name__}: {' '.join(str(wrong).split())}"
    return "held", told if points == 1 or not strikes_somewhere else f"{points} points; the last: {told}"


def main() -> int:
    """Try all of them and print one line each."""
    parser = argparse.ArgumentParser(description="Try every fault of the list, and say what came of it.")
    parser.add_argument(
        "--only", nargs="*", default=[""], metavar="WORD", help="only faults whose title holds one of these"
    )
    parser.add_argument(
        "--points", type=int, default=5, metavar="N", help="points of the work at which a fault strikes"
    )
    arguments = parser.parse_args()
    failed = 0
    with tempfile.TemporaryDirectory() as scratch:
        Path(scratch).chmod(0o755)
        (ground := Path(scratch) / "ground").mkdir()
        make_ground(ground)
        for fault in [one for one in FAULTS if any(word in one.title for word in arguments.only)]:
            began = time.monotonic()
            word, told = attempted(fault, ground, Path(scratch) / "try", arguments.points)
            failed += word == "FAILED"
            print(f"{word:<9}  {fault.title:<38}  {told}  ({time.monotonic() - began:.0f} s)", flush=True)
    print(f"{failed} failed" if failed else "all held")
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
