"""`treatment`: the decision and treatment record of a vessel, and the arithmetic of a solution."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection, positive_count, positive_number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import TreatmentRow

SUMMARY = "record what was found, decided and done to a vessel, and how to take it apart again; work out a solution"
KINDS = ("decision", "condition", "cleaning", "marking", "joining", "fill", "photographs", "taking apart")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("lot", metavar="LOT")
    parser.add_argument(
        "--vessel", metavar="V", help="its number from 1, or its name, as sort and the sorting table show it"
    )
    parser.add_argument("--add", choices=KINDS, metavar="KIND", help=f"add an entry: {', '.join(KINDS)}")
    parser.add_argument(
        "--field",
        action="append",
        default=[],
        type=_field,
        metavar="NAME=TEXT",
        help="what the entry says; may be repeated",
    )
    parser.add_argument("--date", default="", metavar="YYYY-MM-DD", help="when the work was done")
    parser.add_argument("--person", default="", metavar="NAME", help="who did the work")
    parser.add_argument("--note", default="", metavar="TEXT", help="a remark for the record")
    parser.add_argument("--replace", type=positive_count, metavar="N", help="entry that this one corrects")
    parser.add_argument("--withdraw", type=positive_count, metavar="N", help="take an entry out; the history keeps it")
    parser.add_argument(
        "--solution", nargs=2, metavar=("PERCENT", "BASIS"), help='resin for a solution, for instance 10 "w/w"'
    )
    parser.add_argument(
        "--solvent-ml", type=positive_number, default=100.0, metavar="ML", help="of acetone (default: 100)"
    )
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Add, correct, take out, or only list."""
    from motifs.errors import InputError
    from motifs.workflows import treatment as work
    from motifs.workflows.layout import vessel_by_name

    if arguments.solution:
        return _solution(arguments)
    warnings: tuple[str, ...] = ()
    by = by_name(arguments)
    with collection(arguments.collection) as cat:
        if arguments.vessel and not cat.treatments(arguments.lot, arguments.vessel):
            vessel_by_name(cat, arguments.lot, arguments.vessel)
        if arguments.add:
            if not arguments.vessel:
                raise InputError("an entry belongs to a vessel; give --vessel V")
            entered = work.add_entry(
                cat,
                arguments.lot,
                arguments.vessel,
                arguments.add,
                dict(arguments.field),
                done_on=arguments.date,
                person=arguments.person or by,
                note=arguments.note,
                replaces=arguments.replace,
                by=by,
            )
            warnings = entered.warnings
        elif arguments.withdraw:
            work.take_out(cat, arguments.lot, arguments.withdraw, by=by)
        rows = cat.treatments(arguments.lot, arguments.vessel)
        missing = work.missing_kinds(rows)
    document = {
        "lot": arguments.lot,
        "entries": [asdict(row) for row in rows],
        "missing": list(missing),
        "warnings": list(warnings),
    }
    return Answer(document, _lines(rows, missing), warnings)


def _solution(arguments: argparse.Namespace) -> Answer:
    from motifs.errors import InputError
    from motifs.workflows.recipes import recipe

    try:
        percent = float(arguments.solution[0])
    except ValueError:
        raise InputError(f"--solution '{arguments.solution[0]}' is no number; write 10") from None
    made = recipe(percent, arguments.solution[1], arguments.solvent_ml)
    line = (
        f"{made.percent:g} % ({made.basis}): {made.resin_g:.2f} g of resin to {made.solvent_ml:g} mL acetone "
        f"({made.solvent_g:.1f} g), which is {made.by_mass_percent:.1f} % w/w"
    )
    return Answer(asdict(made), [line, *made.cautions])


def _lines(rows: Sequence[TreatmentRow], missing: Sequence[str]) -> list[str]:
    shown = [
        [
            r.treatment_id,
            r.vessel,
            r.done_on,
            r.kind,
            r.person,
            "; ".join(f"{k}: {v}" for k, v in r.fields.items()),
            r.note or None,
        ]
        for r in rows
    ]
    told = [f"Not recorded yet: {', '.join(missing)}"] if missing else []
    return [*table(["entry", "vessel", "date", "kind", "person", "what", "note"], shown), *told]


def _field(text: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not equals or not name.strip():
        raise argparse.ArgumentTypeError(f"{text!r} is not NAME=TEXT")
    return name.strip(), value
