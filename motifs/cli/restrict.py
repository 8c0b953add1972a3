"""`restrict`: keep a site, lot, sherd or motif from being shown, list what is, and free it again."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection

if TYPE_CHECKING:
    import argparse

SUMMARY = "keep a site, lot, sherd or motif from being shown or exported; without a name, list what is restricted"

KINDS = ("site", "lot", "sherd", "motif")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    which = parser.add_mutually_exclusive_group()
    for kind in KINDS:
        which.add_argument(f"--{kind}", metavar="NAME", help=f"the {kind} that is not to be shown")
    parser.add_argument("--ground", default="community request", help="burial, sacred, community request or embargo")
    parser.add_argument("--note", default="", metavar="TEXT", help="who asked for it, until when, whom to consult")
    parser.add_argument("--lift", metavar="REASON", help="free it again, for a reason that goes on record")
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Restrict, free or list."""
    from motifs.workflows import restricting

    named = [(kind, getattr(arguments, kind)) for kind in KINDS if getattr(arguments, kind) is not None]
    by = by_name(arguments)
    with collection(arguments.collection) as cat:
        if not named:
            now = restricting.restricted_now(cat)
        elif arguments.lift is not None:
            now = restricting.lift(cat, *named[0], reason=arguments.lift, by=by)
        else:
            now = restricting.restrict(cat, *named[0], arguments.ground, note=arguments.note, by=by)
    rows = [[one.kind, one.name, one.ground, one.note, one.by, one.at[:10]] for one in now.restrictions]
    lines = [*table(["kind", "name", "ground", "note", "by", "since"], rows), f"{now.withheld} sherds are not shown"]
    document = {
        "restrictions": [asdict(one) for one in now.restrictions],
        "withheld": now.withheld,
        "notice": restricting.NOTICE,
    }
    return Answer(document, [*lines, "", restricting.NOTICE])
