"""`form`: the form of a vessel, its bands and repeats, and a reconstruction drawing."""

from __future__ import annotations

import argparse
import math
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, add_vessel, by_name, collection, positive_count, positive_number, vessel_given

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

SUMMARY = (
    "record a vessel's profile, wall and repeats; list its bands from rim to base; draw its reconstruction to scale"
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("lot", metavar="LOT")
    add_vessel(parser)
    parser.add_argument(
        "--profile", nargs="+", type=_point, metavar="DROP,RADIUS", help="points of the outside from the rim down, mm"
    )
    parser.add_argument("--wall", type=positive_number, metavar="MM", help="thickness of the wall")
    parser.add_argument("--repeats", type=positive_count, metavar="K", help="how often the decoration goes round")
    parser.add_argument("--repeat-mm", type=positive_number, metavar="MM", help="length of one repeat; K follows")
    parser.add_argument(
        "--at-diameter", type=positive_number, metavar="MM", help="where the repeat was measured (default: the widest)"
    )
    parser.add_argument(
        "--sure-to", type=positive_number, metavar="MM", help="measured down to here below the rim; below is conjecture"
    )
    parser.add_argument("--note", default="", metavar="TEXT", help="a remark for the record")
    parser.add_argument("--draw", metavar="FILE", help="reconstruction drawing, .svg or .pdf")
    parser.add_argument("--scale", type=positive_count, default=2, metavar="N", help="draw at 1:N, 1 to 4 (default: 2)")
    parser.add_argument("--section-right", action="store_true", help="section to the right, outside to the left")
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Record what is given, list, draw."""
    from motifs.workflows.vessel_form import bands_of

    by = by_name(arguments)
    warnings: tuple[str, ...] = ()
    with collection(arguments.collection) as cat:
        vessel = vessel_given(cat, arguments)
        if arguments.profile or arguments.repeats or arguments.repeat_mm:
            warnings = _record(cat, vessel, arguments, by)
        if arguments.draw:
            from motifs.workflows.form_drawing import draw_form

            file = Path(arguments.draw)
            told = draw_form(
                cat, arguments.lot, vessel, file, scale=arguments.scale, is_reversed=arguments.section_right, by=by
            )
            warnings = (*warnings, *told)
        form, bands = cat.vessel_form(arguments.lot, vessel), bands_of(cat, arguments.lot, vessel)
    document = {
        "lot": arguments.lot,
        "vessel": vessel,
        "form": None if form is None else asdict(form),
        "bands": [asdict(band) for band in bands],
        "notes": list(warnings),
    }
    rows = [[band.part, ", ".join(band.motifs) or None, len(band.sherds)] for band in bands]
    head = f"Vessel {vessel} of lot {arguments.lot}: no form recorded"
    if form is not None:
        rim = 2 * form.profile_mm[0][1]
        head = (
            f"Vessel {vessel} of lot {arguments.lot}: rim {rim:.0f} mm, {len(form.profile_mm)} points of the profile, "
            f"{form.repeats or 'unknown'} repeats"
        )
    return Answer(document, [head, *table(["part", "motifs", "sherds"], rows)], warnings)


def _record(cat: Catalogue, vessel: str, arguments: argparse.Namespace, by: str) -> tuple[str, ...]:
    from motifs.errors import InputError
    from motifs.workflows.vessel_form import record_form, repeats_of

    before = cat.vessel_form(arguments.lot, vessel)
    profile = arguments.profile or (None if before is None else before.profile_mm)
    if profile is None:
        raise InputError("repeats go with a profile; give --profile DROP,RADIUS ... too")
    repeats, odd = arguments.repeats or (None if before is None else before.repeats), None
    if arguments.repeat_mm:
        widest = 2 * max(radius for _, radius in profile)
        repeats, odd = repeats_of(arguments.at_diameter or widest, arguments.repeat_mm)
    record_form(
        cat,
        arguments.lot,
        vessel,
        profile,
        wall_mm=arguments.wall or (None if before is None else before.wall_mm),
        repeats=repeats,
        sure_to_mm=arguments.sure_to or (None if before is None else before.sure_to_mm),
        note=arguments.note,
        by=by,
    )
    return () if odd is None else (odd,)


def _point(text: str) -> tuple[float, float]:
    """DROP,RADIUS in mm."""
    try:
        drop, radius = (float(part) for part in text.split(","))
    except ValueError:
        drop = radius = math.nan
    if not (math.isfinite(drop) and math.isfinite(radius)):
        raise argparse.ArgumentTypeError(f"{text!r} is not DROP,RADIUS in mm")
    return drop, radius
