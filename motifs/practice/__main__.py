"""Command line of the renderer: make the demonstration scenario or an exercise again from its seed."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from motifs.errors import MotifsError
from motifs.practice import make_exercise, make_scenario


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of the command line."""
    parser = argparse.ArgumentParser(prog="python -m motifs.practice", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    scenario = commands.add_parser("scenario", help="write the demonstration photographs and their truth")
    scenario.add_argument("folder", type=Path, help="folder to write to")
    scenario.add_argument("--seed", type=int, default=2, help="seed, 0 or more (default: 2)")
    exercise = commands.add_parser("exercise", help="write a broken-pots exercise with a sealed answer")
    exercise.add_argument("folder", type=Path, help="folder in which the exercise gets its own folder")
    exercise.add_argument("name", help="name of the exercise")
    exercise.add_argument("--pots", type=int, default=2, help="how many pots are broken together (default: 2)")
    exercise.add_argument("--alike", type=float, default=0.5, help="0 unrelated to 1 nearly identical (default: 0.5)")
    exercise.add_argument("--seed", type=int, default=0, help="seed, 0 or more (default: 0)")
    return parser


def main(argv: list[str] | None = None) -> int:
    """Run one command; returns the exit code (2 when the input is wrong)."""
    asked = build_parser().parse_args(argv)
    try:
        if asked.command == "scenario":
            print(make_scenario(asked.folder, asked.seed))
        else:
            print(make_exercise(asked.folder, asked.name, asked.pots, asked.alike, asked.seed).answer)
    except MotifsError as problem:
        print(problem, file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
