"""`views`: interiors and other views of the sherds of a lot."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection, positive_count, positive_number
from motifs.cli.progress import progress_bars

if TYPE_CHECKING:
    import argparse

    from motifs.catalogue import Catalogue, ViewRow

SUMMARY = "list the further views of a lot's sherds, or take in a photograph of the sherds turned over"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("lot", metavar="LOT")
    parser.add_argument(
        "--backs",
        nargs="+",
        type=Path,
        metavar="PHOTO",
        help="photographs of the turned-over sherds, to pair with the faces",
    )
    parser.add_argument(
        "--showing", default="interior", choices=("interior", "other"), help="what they show (default: interior)"
    )
    parser.add_argument("--px-per-mm", type=positive_number, metavar="F", help="scale, where no scale bar tells it")
    parser.add_argument("--bar-mm", type=positive_number, metavar="MM", help="length of the scale bar, where unusual")
    parser.add_argument(
        "--confirm",
        nargs="+",
        type=positive_count,
        default=[],
        metavar="VIEW",
        help="you have looked: the pairing is right",
    )
    parser.add_argument(
        "--pair",
        nargs=2,
        action="append",
        default=[],
        metavar=("VIEW", "SHERD"),
        help="say whose view it is; may be repeated",
    )
    parser.add_argument(
        "--loose", nargs="+", type=positive_count, default=[], metavar="VIEW", help="nobody knows whose view it is"
    )
    parser.add_argument(
        "--drop", nargs="+", type=positive_count, default=[], metavar="VIEW", help="take out what is no view after all"
    )
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Take in, settle, then list every view of the lot."""
    from motifs.workflows.views import take_backs

    warnings: list[str] = []
    with collection(arguments.collection) as cat:
        cat.lot(arguments.lot)
        if arguments.backs:
            with progress_bars() as progress:
                taken = take_backs(
                    cat,
                    arguments.lot,
                    arguments.backs,
                    kind=arguments.showing,
                    px_per_mm=arguments.px_per_mm,
                    bar_mm=arguments.bar_mm,
                    by=by_name(arguments),
                    progress=progress,
                )
            warnings += taken.warnings
            if not taken.is_to_scale:
                warnings.append("a photograph has no scale: shapes alone were compared, look at every pair")
        if arguments.confirm or arguments.pair or arguments.loose or arguments.drop:
            _settle(cat, arguments)
        views, sherds = cat.views(arguments.lot), [sherd.number for sherd in cat.sherds(arguments.lot)]
    shown = {view.sherd for view in views if view.kind == arguments.showing}
    without = [number for number in sherds if number not in shown]
    head = ["view", "shows", "photo", "sherd", "standing", "mm apart", "margin"]
    rows = [
        [one.view_id, one.kind, one.photo_name, one.sherd, one.standing, one.distance_mm, one.margin] for one in views
    ]
    closing = f"{len(views)} views; {len(without)} of {len(sherds)} sherds without a view showing {arguments.showing}"
    document = {"lot": arguments.lot, "views": [_document(view) for view in views], "without": without}
    return Answer(document, [*table(head, rows), closing], warnings)


def _settle(cat: Catalogue, arguments: argparse.Namespace) -> None:
    """Record what the line says of single views, all of it or nothing."""
    from motifs.errors import InputError
    from motifs.workflows.views import confirm_views, drop_view, pair_view

    by = by_name(arguments)
    for view_id, _ in arguments.pair:
        if not view_id.isascii() or not view_id.isdigit():
            raise InputError(f"'{view_id}' is no number of a view; list the views of lot '{arguments.lot}' to see them")
    with cat.transaction(by=by):
        confirm_views(cat, arguments.confirm, by=by)
        for view_id, number in arguments.pair:
            pair_view(cat, int(view_id), number, by=by)
        for view_id in arguments.loose:
            pair_view(cat, view_id, None, by=by)
        for view_id in arguments.drop:
            drop_view(cat, view_id, by=by)


def _document(view: ViewRow) -> dict[str, object]:
    return {
        "view": view.view_id,
        "shows": view.kind,
        "photo": view.photo_name,
        "sherd": view.sherd,
        "standing": view.standing,
        "distance_mm": view.distance_mm,
        "margin": view.margin,
        "turn_deg": view.turn_deg,
        "area_mm2": view.area_mm2,
        "outline_px": [[round(float(x), 2), round(float(y), 2)] for x, y in view.outline_px],
    }
