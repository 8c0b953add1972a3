"""`backup`: a copy of the collection in one file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer
from motifs.cli.options import collection

if TYPE_CHECKING:
    import argparse

SUMMARY = "copy catalogue and originals into one .zip, consistent while others work"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("file", type=Path, metavar="FILE", help="the .zip to write; must not exist yet")


def run(arguments: argparse.Namespace) -> Answer:
    """Write the copy and say where it is."""
    from motifs.workflows.check import back_up

    with collection(arguments.collection) as cat:
        written = back_up(cat, arguments.file)
    size_bytes = written.stat().st_size
    return Answer(
        {"file": str(written), "bytes": size_bytes},
        [f"{written}: {size_bytes / 1e6:.1f} MB; keep it on another disk than the collection"],
    )
