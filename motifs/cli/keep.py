"""`keep`: put a comparandum into a list, with the reason and, for a published piece, its citation."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.cli.answer import Answer
from motifs.cli.options import add_by, by_name, collection
from motifs.errors import InputError

if TYPE_CHECKING:
    import argparse

SUMMARY = "keep a comparandum in a list with the reason; a published piece is kept by its citation"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("list", metavar="LIST", help="name of the list; made if need be")
    parser.add_argument("sherd", metavar="SHERD", help="the sherd that is compared")
    parser.add_argument("--with", dest="other", metavar="SHERD", help="the sherd of the collection it is compared with")
    parser.add_argument("--reason", required=True, metavar="TEXT", help="what the two have in common")
    parser.add_argument(
        "--cite",
        action="append",
        default=[],
        metavar="FIELD=TEXT",
        help="author, year, title, pages, figure, piece, holder, inventory_number or rights; may be repeated",
    )
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Keep it, or nothing."""
    from dataclasses import asdict

    from motifs.workflows.comparanda_lists import citation_of, keep_comparandum

    citation = citation_of(dict(_field(text) for text in arguments.cite))
    with collection(arguments.collection) as cat:
        kept = keep_comparandum(
            cat,
            arguments.list,
            arguments.sherd,
            arguments.other,
            arguments.reason,
            citation=citation,
            by=by_name(arguments),
        )
        count = len(cat.comparanda_in(kept.list_name))
    document = {"list": kept.list_name, "kept": asdict(kept), "comparanda": count}
    return Answer(document, [f"list {kept.list_name}: {count} comparanda"])


def _field(text: str) -> tuple[str, str]:
    name, sign, value = text.partition("=")
    if not sign:
        raise InputError(f"--cite '{text}' is not FIELD=TEXT, as in --cite author='M. Oduya'")
    return name.strip(), value
