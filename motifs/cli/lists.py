"""`lists`: the lists of comparanda, one of them, and one of them as a table with citations."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection, positive_count
from motifs.errors import InputError

if TYPE_CHECKING:
    import argparse

SUMMARY = "show the lists of comparanda, or one of them; write it as a table with citations, or take an entry out"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("list", nargs="?", metavar="LIST", help="show this one (default: their names)")
    parser.add_argument("--csv", type=Path, metavar="FILE", help="write the list as CSV; never over a file")
    parser.add_argument(
        "--drop", type=positive_count, metavar="N", help="take out the entry of this number; undo brings it back"
    )
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Show, write or take out."""
    from dataclasses import asdict

    from motifs.workflows.comparanda_lists import drop_comparandum, write_list

    if arguments.csv is not None and arguments.list is None:
        raise InputError("--csv writes one list; name it before the option")
    with collection(arguments.collection) as cat:
        if arguments.drop is not None:
            drop_comparandum(cat, arguments.drop, by=by_name(arguments))
        found = cat.comparanda_lists()
        # The last entry may just have been taken out.
        is_gone = arguments.drop is not None and arguments.list not in {one.name for one in found}
        if arguments.list is None or is_gone:
            rows: list[list[object]] = [[one.name, one.entries, one.by, one.at[:10]] for one in found]
            return Answer(
                {"lists": [asdict(one) for one in found]}, table(["list", "comparanda", "begun by", "on"], rows)
            )
        entries = cat.comparanda_in(arguments.list)
        if arguments.csv is not None:
            write_list(cat, arguments.list, arguments.csv)
    rows = [
        [e.entry_id, e.query, e.sherd or e.citation.piece or e.citation.title, e.site, e.reason, e.by] for e in entries
    ]
    lines = table(["number", "sherd", "compared with", "site", "reason", "by"], rows)
    written = [] if arguments.csv is None else [f"written: {arguments.csv}"]
    return Answer({"list": arguments.list, "entries": [asdict(entry) for entry in entries]}, [*lines, *written])
