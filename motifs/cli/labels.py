"""`labels`: catalogue numbers read off photographs, proposed, accepted or refused."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection
from motifs.cli.progress import progress_bars

if TYPE_CHECKING:
    import argparse

    from motifs.catalogue import Catalogue, LabelRow

SUMMARY = "read catalogue numbers on slips and sherds as proposals; number sherds by those you accept"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("lot", metavar="LOT")
    parser.add_argument("--read", action="store_true", help="read the lot's photographs now; nothing is renamed")
    parser.add_argument(
        "--accept",
        nargs="+",
        default=[],
        metavar="SHERD[=NUMBER]",
        help="number these sherds as read, or as you type it",
    )
    parser.add_argument(
        "--refuse", nargs="+", default=[], metavar="SHERD", help="what was read for these sherds is wrong"
    )
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Read, settle, then list what is proposed."""
    from motifs.workflows.labels_read import read_labels

    warnings: list[str] = []
    numbered: tuple[tuple[str, str], ...] = ()
    with collection(arguments.collection) as cat:
        cat.lot(arguments.lot)
        if arguments.read:
            with progress_bars() as progress:
                read = read_labels(cat, arguments.lot, by=by_name(arguments), progress=progress)
            warnings += [f"{number}: its slip lies near another sherd as well; look" for number in read.unclear]
        if arguments.accept or arguments.refuse:
            numbered = _settle(cat, arguments)
        labels = cat.labels(arguments.lot, state="proposed")
        sherds = len(cat.sherds(arguments.lot))
    warnings += [
        f"{one.sherd}: reads '{one.text}' one way up and '{one.rival}' the other" for one in labels if one.rival
    ]
    head = ["sherd", "reads", "where", "sure"]
    rows = [[one.sherd, one.text, one.place, f"{one.confidence:.2f}"] for one in labels]
    told = [f"{old} is {new} now" for old, new in numbered]
    closing = f"{len(labels)} of {sherds} sherds have a number proposed; --accept SHERD gives it to the sherd"
    document = {
        "lot": arguments.lot,
        "labels": [_document(label) for label in labels],
        "numbered": [{"before": old, "sherd": new} for old, new in numbered],
    }
    return Answer(document, [*told, *table(head, rows), closing], warnings)


def _settle(cat: Catalogue, arguments: argparse.Namespace) -> tuple[tuple[str, str], ...]:
    from motifs.workflows.labels_read import accept_labels, refuse_labels

    by = by_name(arguments)
    wanted: dict[str, str | None] = {}
    for item in arguments.accept:
        number, is_typed, typed = item.partition("=")
        wanted[number] = typed if is_typed else None
    with cat.transaction(by=by):
        if arguments.refuse:
            refuse_labels(cat, arguments.lot, arguments.refuse, by=by)
        return accept_labels(cat, arguments.lot, wanted, by=by)


def _document(label: LabelRow) -> dict[str, object]:
    return {
        "label": label.label_id,
        "sherd": label.sherd,
        "reads": label.text,
        "upside_down": label.rival,
        "confidence": round(label.confidence, 4),
        "where": label.place,
        "box_px": [[round(x, 1), round(y, 1)] for x, y in label.box_px],
    }
