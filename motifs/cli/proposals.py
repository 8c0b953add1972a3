"""`proposals`: tags proposed from neighbours, to accept or refuse; and which sherds to tag next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection, positive_count, share
from motifs.cli.progress import progress_bars
from motifs.errors import UnknownName

if TYPE_CHECKING:
    import argparse

    from motifs.catalogue import Catalogue
    from motifs.workflows.tag_proposals import TagProposal

SUMMARY = "propose motif tags from the nearest tagged sherds, accept or refuse one, or list the sherds to tag next"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("sherds", nargs="*", metavar="SHERD", help="propose for these (default: the whole lot)")
    parser.add_argument("--lot", metavar="LOT", help="propose for this lot (default: the whole collection)")
    parser.add_argument(
        "--least", type=share, default=0.2, metavar="P", help="leave out what is less sure, 0 to 1 (default: 0.2)"
    )
    parser.add_argument(
        "--teach", type=positive_count, metavar="K", help="list the K sherds whose tag would teach most"
    )
    triple = ("SHERD", "KIND", "TERM")
    parser.add_argument("--accept", nargs=3, metavar=triple, help="put a proposed term on a sherd, as your tag")
    parser.add_argument("--refuse", nargs=3, metavar=triple, help="do not propose this term for the sherd again")
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Settle what the line settles, then list."""
    from motifs.workflows.tag_proposals import propose_tags, teaching_sherds

    by = by_name(arguments)
    with collection(arguments.collection) as cat, progress_bars() as progress:
        if arguments.teach is not None:
            chosen = teaching_sherds(cat, arguments.lot, top=arguments.teach, by=by, progress=progress)
            document = {
                "teach": [{"sherd": one.sherd, "settles": one.settles, "confidence": one.confidence} for one in chosen]
            }
            rows: list[list[object]] = [[one.sherd, one.settles, one.confidence] for one in chosen]
            return Answer(document, table(["sherd", "sherds it settles", "surest proposal now"], rows))
        _settle(cat, arguments, by)
        wanted = [cat.sherd(number) for number in arguments.sherds] or list(cat.sherds(arguments.lot))
        found = propose_tags(cat, wanted, least_confidence=arguments.least, by=by, progress=progress)
    proposals = [one for row in found.values() for one in row]
    rows = [[one.sherd, one.kind, one.term, one.confidence, ", ".join(_names(one))] for one in proposals]
    return Answer(
        {"proposals": [_told(one) for one in proposals]},
        table(["sherd", "kind", "term", "confidence", "because of"], rows),
    )


def _settle(cat: Catalogue, arguments: argparse.Namespace, by: str) -> None:
    from motifs.workflows.tag_proposals import accept_proposal, propose_tags, refuse_proposal

    if arguments.refuse is not None:
        sherd, kind, term = arguments.refuse
        refuse_proposal(cat, sherd, kind, term, by=by)
    if arguments.accept is not None:
        number, kind, term = arguments.accept
        open_ = propose_tags(cat, [cat.sherd(number)], least_confidence=0.0, by=by)[number]
        proposal = next((one for one in open_ if (one.kind, one.term) == (kind, term)), None)
        if proposal is None:
            raise UnknownName(f"{kind} '{term}' is not proposed for '{number}'; list the proposals to see which are")
        accept_proposal(cat, proposal, by=by)


def _names(proposal: TagProposal) -> list[str]:
    return [one.sherd for one in proposal.witnesses[:3]]


def _told(proposal: TagProposal) -> dict[str, object]:
    from dataclasses import asdict

    return asdict(proposal)
