"""`restrict`: keep a site, lot, sherd or motif from being shown, list what is, and free it again."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import UNLOCKING, add_by, by_name, collection

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
    # A list of what is not to be named would name it: only who unlocks it reads the names.
    listed = (
        now.restrictions
        if UNLOCKING.get() is not None
        else [replace(one, name="", note="") for one in now.restrictions]
    )
    rows = [[one.kind, one.name or "(not shown)", one.ground, one.note, one.by, one.at[:10]] for one in listed]
    counted = "1 sherd is" if now.withheld == 1 else f"{now.withheld} sherds are"
    lines = [*table(["kind", "name", "ground", "note", "by", "since"], rows), f"{counted} not shown"]
    document = {
        "restrictions": [asdict(one) for one in listed],
        "withheld": now.withheld,
        "notice": restricting.NOTICE,
    }
    return Answer(document, [*lines, "", restricting.NOTICE])
