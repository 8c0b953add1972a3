"""Types of arguments and the few things that several commands share. Nothing heavy is imported here."""

from __future__ import annotations

import argparse
import getpass
import math
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from motifs.catalogue import Catalogue


UNLOCKING: ContextVar[str | None] = ContextVar("unlocking", default=None)
"""Why this command may see what is restricted, as given with --unlock; None: it may not."""

UNLOCKING_BY: ContextVar[str | None] = ContextVar("unlocking_by", default=None)
"""Who says so, as given with --by."""


def positive_number(text: str) -> float:
    """A finite number above 0."""
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not (math.isfinite(number) and number > 0):
        raise argparse.ArgumentTypeError(f"{text!r} is not a number above 0")
    return number


def positive_count(text: str) -> int:
    """A whole number from 1."""
    if not text.isascii() or not text.isdigit() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1")
    return int(text)


def port(text: str) -> int:
    """A port that needs no special right: 1024 to 65535."""
    if not text.isascii() or not text.isdigit() or not 1024 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"{text!r} is not a port from 1024 to 65535")
    return int(text)


def share(text: str) -> float:
    """A number from 0 to 1."""
    return _between(text, 0.0, 1.0)


def similarity(text: str) -> float:
    """A number from -1 to 1."""
    return _between(text, -1.0, 1.0)


def _between(text: str, low: float, high: float) -> float:
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not low <= number <= high:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number from {low:g} to {high:g}")
    return number


def box(text: str) -> tuple[int, int, int, int]:
    """X,Y,W,H in px of the sherd's crop, W and H from 1."""
    parts = text.split(",")
    try:
        x, y, width, height = (int(part) for part in parts)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not X,Y,W,H in whole px of the sherd's crop") from None
    if min(x, y) < 0 or min(width, height) < 1:
        raise argparse.ArgumentTypeError(f"{text!r}: X and Y start at 0, W and H at 1")
    return x, y, width, height


def add_vessel(parser: argparse.ArgumentParser) -> None:
    """Add --vessel: as people count, and with --json as JSON does, so that what `sort --json` prints can be given back."""
    parser.add_argument(
        "--vessel",
        required=True,
        metavar="V",
        help="its number from 1, or its name, as sort and the sorting table show it "
        "(with the option for JSON: the number that sort prints there, from 0)",
    )


def vessel_given(cat: Catalogue, arguments: argparse.Namespace) -> str:
    """Name on the table of the vessel that --vessel means; UnknownName."""
    from motifs.workflows.layout import vessel_by_name, vessel_by_number

    find = vessel_by_number if arguments.json else vessel_by_name
    return find(cat, arguments.lot, arguments.vessel)


def add_by(parser: argparse.ArgumentParser) -> None:
    """Add --by, the name that goes on record."""
    parser.add_argument("--by", metavar="NAME", help="your name for the record (default: the login name)")


def by_name(arguments: argparse.Namespace) -> str:
    """The name given, or the login name, or 'unknown' where the machine has none."""
    if arguments.by:
        return str(arguments.by)
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return "unknown"


@contextmanager
def collection(folder: Path, *, create: bool = False) -> Iterator[Catalogue]:
    """Open the collection for one command."""
    from motifs.catalogue import Catalogue

    with Catalogue.open(folder, create=create) as cat:
        reason = UNLOCKING.get()
        if reason is None:
            yield cat
            return
        with cat.transaction(by=by_name(argparse.Namespace(by=UNLOCKING_BY.get()))):
            unlocked = cat.unlock(reason)
        yield unlocked
