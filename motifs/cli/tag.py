"""`tag`: put a term on sherds, or take it off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.cli.answer import Answer
from motifs.cli.options import add_by, box, by_name, collection, share
from motifs.errors import InputError

if TYPE_CHECKING:
    import argparse

    from motifs.catalogue import TagRow

SUMMARY = "put a term of the vocabulary on sherds, or take it off; without a term, list what they have"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    pair = ("KIND", "TERM")
    parser.add_argument("sherds", nargs="+", metavar="SHERD", help="catalogue numbers")
    one = parser.add_mutually_exclusive_group()
    one.add_argument("--put", nargs=2, metavar=pair, help='put on, e.g. motif meander; "indeterminate" is a term')
    one.add_argument("--off", nargs=2, metavar=pair, help="take off")
    parser.add_argument(
        "--box", type=box, metavar="X,Y,W,H", help="the term holds for this box of the crop (one sherd)"
    )
    parser.add_argument("--confidence", type=share, metavar="C", help="how sure you are, 0 to 1")
    parser.add_argument("--new", action="store_true", help="add the term to the vocabulary if it is not there")
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Tag or untag all of them, or none."""
    from motifs.workflows.tagging import tag_sherds, tags_in_words, untag_sherds

    if arguments.put is None and (arguments.box or arguments.new or arguments.confidence is not None):
        raise InputError("--box, --confidence and --new go with --put KIND TERM")
    by = by_name(arguments)
    lines: list[str] = []
    notes: tuple[str, ...] = ()
    with collection(arguments.collection) as cat:
        if arguments.put is not None:
            done = tag_sherds(
                cat,
                arguments.sherds,
                *arguments.put,
                box_px=arguments.box,
                confidence=arguments.confidence,
                is_new=arguments.new,
                by=by,
            )
            notes = done.notes
            lines.append(f"{done.kind} '{done.term}' put on {len(done.changed)} sherds; {len(done.unchanged)} had it")
        elif arguments.off is not None:
            done = untag_sherds(cat, arguments.sherds, *arguments.off, by=by)
            lines.append(f"{done.kind} '{done.term}' taken off {len(done.changed)} sherds")
        found = {number: cat.tags_of([number])[number] for number in arguments.sherds}
    if not lines:
        lines = [f"{number}  {line}" for number, tags in found.items() for line in tags_in_words(tags) or ("no tags",)]
    document = {"sherds": [{"sherd": number, "tags": [_told(tag) for tag in tags]} for number, tags in found.items()]}
    return Answer(document, lines, notes)


def _told(tag: TagRow) -> dict[str, object]:
    return {
        "kind": tag.kind,
        "term": tag.term,
        "box_px": tag.box_px,
        "confidence": tag.confidence,
        "by": tag.by,
        "at": tag.at,
    }
