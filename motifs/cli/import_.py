"""`import`: a table of finds (CSV, Excel), or a bag that `export` wrote into an empty collection."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection
from motifs.errors import InputError

if TYPE_CHECKING:
    from motifs.workflows.importing import ImportPlan

SUMMARY = "take in a table of finds (CSV, Excel) after looking at every cell, or a bag into an empty collection"
MOST_SHOWN = 200


def _pair(text: str) -> tuple[str, str]:
    column, _, field = text.rpartition("=")
    if not column:
        raise argparse.ArgumentTypeError(f"{text!r} is not COLUMN=FIELD")
    return column.strip(), field.strip()


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("source", type=Path, metavar="FILE", help="a .csv, .tsv or .xlsx table, or a bag's folder")
    parser.add_argument(
        "--map", type=_pair, action="append", default=[], metavar="COLUMN=FIELD",
        help="what a column holds, where its name does not say; an empty FIELD leaves it out",
    )  # fmt: skip
    parser.add_argument("--lot", metavar="LOT", help="of rows that name none")
    parser.add_argument("--site", metavar="SITE", help="of rows that name none")
    parser.add_argument("--dry-run", action="store_true", help="only say what would happen")
    parser.add_argument("--update", action="store_true", help="let rows change records that are there")
    parser.add_argument("--leave-out-faulty", action="store_true", help="take in the other rows where some are wrong")
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Take in a bag or a table."""
    if arguments.source.is_dir():
        return _bag(arguments)
    from motifs.workflows.importing import carry_out, plan_import, propose_columns
    from motifs.workflows.tables_in import read_sheet

    sheet = read_sheet(arguments.source)
    columns = propose_columns(sheet.head, dict(arguments.map))
    with collection(arguments.collection, create=not arguments.dry_run) as cat:
        plan = plan_import(cat, sheet, columns, lot=arguments.lot, site=arguments.site, is_update=arguments.update)
        is_refused = bool(plan.faults) and not arguments.leave_out_faulty
        written = 0
        if not (arguments.dry_run or is_refused):
            written = carry_out(cat, plan, leave_out_faulty=True, by=by_name(arguments))
    return _answer(plan, written, is_refused=is_refused)


def _answer(plan: ImportPlan, written: int, *, is_refused: bool) -> Answer:
    document = {
        "file": plan.name,
        "columns": plan.columns,
        "unused": list(plan.unused),
        "add": plan.count("add"),
        "change": plan.count("change"),
        "same": plan.count("same"),
        "faults": [asdict(fault) for fault in plan.faults],
        "written": written,
    }
    rows = [[fault.row, fault.column or "(whole row)", fault.message] for fault in plan.faults[:MOST_SHOWN]]
    lines = [*table(["row", "column", "what is wrong"], rows)] if rows else []
    if len(plan.faults) > MOST_SHOWN:
        lines.append(f"and {len(plan.faults) - MOST_SHOWN} more; --json lists all")
    lines.append(
        f"{plan.name}: {plan.count('add')} to add, {plan.count('change')} to change, {plan.count('same')} the same, "
        f"{len(plan.faults)} faults; {written} written"
    )
    warnings = [f"columns not taken in: {', '.join(plan.unused)}"] if plan.unused else []
    if is_refused:
        warnings.append("nothing was taken in; mend the table, or leave those rows out with --leave-out-faulty")
    return Answer(document, lines, warnings, exit_code=2 if is_refused else 0)


def _bag(arguments: argparse.Namespace) -> Answer:
    from motifs.workflows.exporting import is_bag, take_in_bag

    if not is_bag(arguments.source):
        raise InputError(f"'{arguments.source}' is a folder but no bag; name a table, or a folder that export wrote")
    with collection(arguments.collection, create=True) as cat:
        taken = take_in_bag(cat, arguments.source, by=by_name(arguments))
    line = f"{taken.lots} lots, {taken.photos} photographs, {taken.sherds} sherds as they were"
    return Answer(asdict(taken), [line])
