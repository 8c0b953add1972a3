"""Parse the line, run one command, print one answer, and say by the exit code how it went.

Exit codes: 0 done; 2 the user's input (or the collection, or a weights file) is wrong, one line on stderr
says what to do; 1 a defect, with a traceback. Nothing but the answer goes to stdout.
"""

from __future__ import annotations

import argparse
import gc
import importlib
import io
import json
import os
import signal
import sys
import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn, Protocol

from motifs.cli.options import UNLOCKING, UNLOCKING_BY
from motifs.errors import MotifsError, disk_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.cli.answer import Answer

COMMANDS = (
    "demo",
    "intake",
    "sherds",
    "views",
    "rim",
    "rims",
    "counts",
    "labels",
    "sort",
    "tell",
    "outline",
    "undo",
    "redo",
    "comparanda",
    "joins",
    "layout",
    "treatment",
    "form",
    "symmetry",
    "sites",
    "report",
    "vocabulary",
    "tag",
    "agreement",
    "keep",
    "lists",
    "proposals",
    "practice",
    "quiz",
    "records",
    "export",
    "import",
    "restrict",
    "check",
    "backup",
    "encoders",
    "serve",
)
"""Every command, in the order of the help page; each is a module of this package."""

MODULES = {"import": "import_"}
"""Modules of commands whose names Python keeps for itself."""

DEFAULT_COLLECTION = Path("collection")
COLLECT_EVERY = (100_000, 20, 20)
"""Objects made before the youngest, and rounds before the older ones, are looked through for rings that can be let go."""
INTERRUPTED = 128 + signal.SIGINT


class Command(Protocol):
    """What a command's module offers."""

    SUMMARY: str

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Declare the command's own arguments."""

    def run(self, arguments: argparse.Namespace) -> Answer:
        """Do the work and return what to print."""


class OneLineParser(argparse.ArgumentParser):
    """A parser that refuses in one line instead of printing its whole usage first."""

    def error(self, message: str) -> NoReturn:
        """Print what is wrong and where to read more; exit 2."""
        self.exit(2, f"{self.prog}: {' '.join(message.split())}; see {self.prog} --help\n")


def command_named(name: str) -> Command:
    """Return the module of a command; cheap, since commands import their workflow only when run."""
    return importlib.import_module(f"motifs.cli.{MODULES.get(name, name)}")


def build_parser() -> argparse.ArgumentParser:
    """Return the whole parser; --collection and --json are taken before and after the command."""
    parser = OneLineParser(
        prog="python -m motifs",
        description="Photographs of decorated sherds in; vessels, motifs and comparanda out, with reasons.",
        epilog="COMMAND --help says more about one command.",
    )
    _add_common(parser, Path(DEFAULT_COLLECTION), False)
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True, parser_class=OneLineParser)
    for name in COMMANDS:
        module = command_named(name)
        sub = commands.add_parser(
            name, help=module.SUMMARY, description=f"{module.SUMMARY[0].upper()}{module.SUMMARY[1:]}."
        )
        # Suppressed here, so that a value given before the command is not reset by the command's default.
        _add_common(sub, argparse.SUPPRESS, argparse.SUPPRESS)
        module.add_arguments(sub)
    return parser


def _add_common(parser: argparse.ArgumentParser, collection: object, as_json: object) -> None:
    """Add the options that every command takes."""
    parser.add_argument(
        "--collection",
        type=Path,
        metavar="DIR",
        default=collection,
        help="the collection's folder (default: ./collection)",
    )
    parser.add_argument(
        "--unlock",
        metavar="REASON",
        default=argparse.SUPPRESS if as_json is argparse.SUPPRESS else None,
        help="see what is restricted, for a reason that goes on record with your name",
    )
    parser.add_argument("--json", action="store_true", default=as_json, help="print one JSON document and nothing else")


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command line; return the exit code."""
    # Looking for rings of objects among the millions of a large answer, over and over, took as long as the answer.
    gc.set_threshold(*COLLECT_EVERY)
    try:
        arguments = _composed(build_parser().parse_args(argv))
        UNLOCKING.set(arguments.unlock)
        UNLOCKING_BY.set(getattr(arguments, "by", None))
        answer = command_named(arguments.command).run(arguments)
        _print_answer(answer, as_json=arguments.json)
        if answer.then is not None:
            answer.then()
    except MotifsError as wrong:
        print(f"{_one_line(str(wrong))}", file=sys.stderr)
        return 2
    except OSError as wrong:
        if isinstance(wrong, BrokenPipeError):
            return _reader_has_gone()
        line = disk_words(wrong)
        if line is None:
            raise
        print(_one_line(line), file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("stopped; nothing was changed by the step that was running", file=sys.stderr)
        return INTERRUPTED
    return answer.exit_code


def _composed(arguments: argparse.Namespace) -> argparse.Namespace:
    """Names as the catalogue holds them (Unicode normalisation form C), however a terminal spells them; paths stay as they are."""
    for name, value in vars(arguments).items():
        if isinstance(value, str):
            setattr(arguments, name, unicodedata.normalize("NFC", value))
        elif isinstance(value, list) and all(isinstance(one, str) for one in value):
            setattr(arguments, name, [unicodedata.normalize("NFC", one) for one in value])
    return arguments


def _reader_has_gone() -> int:
    """The reader (head, less) has gone: point stdout elsewhere so that the interpreter's last flush stays quiet."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0


def _print_answer(answer: Answer, *, as_json: bool) -> None:
    """Warnings to stderr, then the answer to stdout; a name the terminal cannot show is escaped, not fatal."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    for warning in answer.warnings:
        print(f"warning: {_one_line(warning)}", file=sys.stderr)
    if as_json and answer.json_pieces:
        for piece in answer.json_pieces:
            sys.stdout.write(piece)
        sys.stdout.write("\n")
    elif as_json:
        print(json.dumps(answer.document, allow_nan=False))
    else:
        for line in answer.lines:
            print(line)
    sys.stdout.flush()


def _one_line(message: str) -> str:
    """A message as one line, whatever a file name or an operating system put into it."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in message).split())
