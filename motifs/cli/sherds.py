"""`sherds`: the catalogue with its measurements."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection
from motifs.cli.progress import progress_bars

if TYPE_CHECKING:
    import argparse

    from motifs.catalogue import Catalogue

SUMMARY = "list the catalogue, or one lot of it, with measurements and tags"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("--lot", metavar="LOT", help="only this lot")
    parser.add_argument("--measure", action="store_true", help="first measure what is not measured yet, and keep it")
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """List kept sherds in catalogue order."""
    with collection(arguments.collection) as cat:
        if arguments.measure:
            _measure(cat, arguments)
        return _as_json(cat, arguments.lot) if arguments.json else _as_table(cat, arguments.lot)


def _as_json(cat: Catalogue, lot: str | None) -> Answer:
    from motifs.workflows.listing_text import list_as_json

    listed = list_as_json(cat, lot)
    pieces = ['{"sherds": [', ", ".join(listed.documents), "]}"]
    return Answer({}, warnings=_unmeasured(listed.unmeasured, len(listed.documents)), json_pieces=pieces)


def _as_table(cat: Catalogue, lot: str | None) -> Answer:
    from motifs.workflows.listing import list_sherds

    listed = list_sherds(cat, lot)
    rows = [
        [
            row.sherd,
            row.lot,
            row.site,
            row.photo,
            _rounded(row.measurements.get("area_mm2"), 0),
            _rounded(row.measurements.get("max_dimension_mm"), 1),
            ", ".join(tag.term for tag in row.tags),
            "; ".join([*([row.look] if row.look else []), *row.flags]) or None,
        ]
        for row in listed
    ]
    warnings = _unmeasured(sum(not row.is_measured for row in listed), len(listed))
    head = ["sherd", "lot", "site", "photo", "area mm2", "max mm", "tags", "look at"]
    return Answer({}, [*table(head, rows), f"{len(listed)} sherds"], warnings)


def _unmeasured(absent: int, listed: int) -> list[str]:
    return [f"{absent} of {listed} sherds are not measured yet; 'sherds --measure' does it"] if absent else []


def _measure(cat: Catalogue, arguments: argparse.Namespace) -> None:
    from motifs.workflows.measurements import ensure_figures

    with progress_bars() as progress:
        ensure_figures(cat, cat.sherds(arguments.lot), by=by_name(arguments), progress=progress)


def _rounded(value: object, digits: int) -> str | None:
    """No more digits than a photograph can promise."""
    return f"{value:.{digits}f}" if isinstance(value, (int, float)) else None
