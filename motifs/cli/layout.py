"""`layout`: the dry layout of a vessel and the order in which to put it together."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, add_vessel, by_name, collection, vessel_given
from motifs.cli.progress import progress_bars

if TYPE_CHECKING:
    import argparse

    from motifs.catalogue import Catalogue
    from motifs.workflows.layout import LaidSherd, VesselLayout

SUMMARY = "lay a vessel's sherds out by their joins, and plan an order of assembly that locks no piece out"
CAUTION = "Nothing is glued on a layout alone: try it dry with tape, and ask a conservator; local rules come first."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("lot", metavar="LOT")
    add_vessel(parser)
    parser.add_argument(
        "--place",
        nargs=4,
        metavar=("SHERD", "X", "Y", "TURN"),
        help="lay a sherd by hand (mm, mm, degrees) and lock it",
    )
    parser.add_argument("--release", metavar="SHERD", help="unlock a sherd that was laid by hand")
    parser.add_argument("--picture", metavar="FILE", help="draw the layout into this .png")
    parser.add_argument("--plan", metavar="FILE", help="numbered plan to scale, .svg or .pdf")
    parser.add_argument("--true-size", metavar="FILE", help="the layout at 1:1 over A4 pages, .pdf")
    parser.add_argument("--sheet", metavar="FILE", help="sheet for a dry run with tape, step by step, .pdf")
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Move what is asked for, lay out, draw."""
    from motifs.workflows import layout as work

    by = by_name(arguments)
    with collection(arguments.collection) as cat, progress_bars() as progress:
        vessel = vessel_given(cat, arguments)
        if arguments.place or arguments.release:
            laid = work.lay_out_vessel(cat, arguments.lot, vessel, by=by, progress=progress)
            _move(cat, laid, arguments, by)
        laid = work.lay_out_vessel(cat, arguments.lot, vessel, by=by, progress=progress)
        _draw(cat, laid, arguments)
    return Answer(_document(laid), _lines(laid), laid.notes)


def _move(cat: Catalogue, laid: VesselLayout, arguments: argparse.Namespace, by: str) -> None:
    from motifs.errors import InputError
    from motifs.workflows.layout import leave_to_joins, place_by_hand

    if arguments.release:
        leave_to_joins(cat, laid.sherd(arguments.release).sherd, by=by)
    if arguments.place:
        number, *values = arguments.place
        try:
            x_mm, y_mm, turn_deg = (float(value) for value in values)
        except ValueError:
            raise InputError(
                f"--place {' '.join(arguments.place)}: give X and Y in mm and TURN in degrees as numbers"
            ) from None
        place_by_hand(cat, laid.sherd(number).sherd, x_mm, y_mm, turn_deg, by=by)


def _draw(cat: Catalogue, laid: VesselLayout, arguments: argparse.Namespace) -> None:
    if arguments.picture or arguments.plan or arguments.true_size or arguments.sheet:
        from motifs.workflows import layout_sheets as sheets

        if arguments.picture:
            sheets.save_picture(cat, laid, Path(arguments.picture))
        if arguments.plan:
            sheets.save_plan(laid, Path(arguments.plan))
        if arguments.true_size:
            sheets.save_true_size(cat, laid, Path(arguments.true_size))
        if arguments.sheet:
            sheets.save_step_sheet(laid, Path(arguments.sheet))


def _document(laid: VesselLayout) -> dict[str, object]:
    return {
        "lot": laid.lot,
        "vessel": laid.vessel,
        "wall": laid.wall,
        "is_upright": laid.is_upright,
        "placements": [_placement(one) for one in laid.sherds],
        "joins": [
            {
                "a": join.a,
                "b": join.b,
                "fit": join.fit,
                "word": join.word,
                "residual_mm": join.residual_mm,
                "refused": join.refused,
            }
            for join in laid.joins
        ],
        "steps": [
            {
                "step": step.step,
                "add": step.add,
                "adds": list(step.adds),
                "to": list(step.to),
                "group": step.block,
                "from": step.from_side,
                "box_turn_deg": step.box_turn_deg,
                "locked_out": step.is_locked,
                "warning": step.warning,
            }
            for step in laid.steps
        ],
        "missing_share": laid.missing_share,
        "missing_of": laid.missing_of,
        "caution": CAUTION,
        "notes": list(laid.notes),
    }


def _placement(one: LaidSherd) -> dict[str, object]:
    return {
        "sherd": one.sherd,
        "x_mm": one.x_mm,
        "y_mm": one.y_mm,
        "turn_deg": one.turn_deg,
        "by": one.by,
        "residual_mm": one.residual_mm,
        "group": one.group,
        "locked": one.is_locked,
    }


def _lines(laid: VesselLayout) -> list[str]:
    rows = [
        [s.sherd, s.x_mm, s.y_mm, s.turn_deg, s.by, s.group, s.residual_mm, "yes" if s.is_locked else None]
        for s in laid.sherds
    ]
    steps = [
        [
            s.step,
            s.block,
            ", ".join(s.adds),
            ", ".join(s.to),
            s.from_side,
            None if s.box_turn_deg is None else round(s.box_turn_deg),
            s.warning,
        ]
        for s in laid.steps
    ]
    missing = "" if laid.missing_share is None else f"; {laid.missing_share:.0%} missing of {laid.missing_of}"
    joined = sum(one.by == "joins" for one in laid.sherds)
    return [
        f"Vessel {laid.vessel} of lot {laid.lot}: {joined} of {len(laid.sherds)} sherds joined, {laid.wall}{missing}",
        *table(["sherd", "x mm", "y mm", "turn", "by", "group", "residual mm", "locked"], rows),
        "",
        *table(["step", "group", "add", "to", "from", "box turn", "watch"], steps),
        CAUTION,
    ]
