"""`rim`: record the rim of a sherd."""

from __future__ import annotations

import argparse
import math
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer
from motifs.cli.options import add_by, by_name, collection, positive_count, positive_number

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, RimReading
    from motifs.workflows.rims import RimProposal

SUMMARY = "record a rim by chord and sagitta, off a chart, along the outline, or with diameter unknown"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("sherd", metavar="SHERD")
    parser.add_argument(
        "--chord", type=positive_number, metavar="MM", help="straight length between the ends of the rim"
    )
    parser.add_argument(
        "--sagitta", type=positive_number, metavar="MM", help="rise of the rim over the middle of the chord"
    )
    parser.add_argument(
        "--reading-sd", type=positive_number, metavar="MM", help="how well both were read (default: 0.25)"
    )
    parser.add_argument("--diameter", type=positive_number, metavar="MM", help="diameter, as read on a rim chart")
    parser.add_argument(
        "--percent", type=positive_number, metavar="P", help="share of the whole rim, as read on a rim chart"
    )
    parser.add_argument("--unknown", action="store_true", help="it is a rim, and its diameter cannot be read")
    parser.add_argument(
        "--stretch",
        nargs=2,
        type=_point,
        metavar="X,Y",
        help="ends of the rim on the outline, px of the photograph: propose",
    )
    parser.add_argument(
        "--view", type=positive_count, metavar="VIEW", help="the view on whose outline the stretch lies"
    )
    parser.add_argument("--accept", action="store_true", help="record what --stretch proposes")
    parser.add_argument("--withdraw", action="store_true", help="take the reading back: it is no rim after all")
    parser.add_argument("--note", default="", metavar="TEXT", help="a remark for the record")
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Record one reading, propose one, or take one back."""
    from motifs.workflows.rims import record_rim, rim_warnings, withdraw_rim

    _one_way(arguments)
    by = by_name(arguments)
    with collection(arguments.collection) as cat:
        number = cat.sherd(arguments.sherd).number
        if arguments.withdraw:
            withdraw_rim(cat, number, by=by)
            return Answer({"sherd": number, "rim": None, "recorded": False}, [f"{number}: no rim recorded"])
        if arguments.stretch:
            return _proposed(cat, number, arguments, by)
        reading = _read(arguments)
        record_rim(cat, number, reading, by=by, note=arguments.note)
    return Answer(_document(number, reading, recorded=True), [_line(number, reading)], rim_warnings(reading))


def _one_way(arguments: argparse.Namespace) -> None:
    from motifs.errors import InputError

    ways = {
        "--chord and --sagitta": arguments.chord is not None or arguments.sagitta is not None,
        "--diameter": arguments.diameter is not None or arguments.percent is not None,
        "--unknown": arguments.unknown,
        "--stretch": arguments.stretch is not None,
        "--withdraw": arguments.withdraw,
    }
    chosen = [way for way, is_chosen in ways.items() if is_chosen]
    if len(chosen) != 1:
        told = f"not {' and '.join(chosen)} together" if chosen else "none was given"
        raise InputError(f"a rim is recorded in one way: {', '.join(ways)}; {told}")
    if (arguments.chord is None) != (arguments.sagitta is None):
        raise InputError("chord and sagitta go together; give --chord MM and --sagitta MM")
    if arguments.percent is not None and arguments.diameter is None:
        raise InputError("a share of the rim without a diameter means nothing; give --diameter MM too, or --unknown")
    if (arguments.accept or arguments.view is not None) and not arguments.stretch:
        raise InputError("--accept and --view go with --stretch; give the ends of the rim on the outline")


def _read(arguments: argparse.Namespace) -> RimReading:
    from motifs.workflows.rims import READING_SD_MM, rim_by_chart, rim_by_chord, rim_unknown

    if arguments.unknown:
        return rim_unknown()
    if arguments.chord is not None:
        return rim_by_chord(arguments.chord, arguments.sagitta, reading_sd_mm=arguments.reading_sd or READING_SD_MM)
    return rim_by_chart(arguments.diameter, arguments.percent)


def _proposed(cat: Catalogue, number: str, arguments: argparse.Namespace, by: str) -> Answer:
    from motifs.errors import InputError
    from motifs.workflows.rims import propose_rim, record_rim

    proposal: RimProposal = propose_rim(cat, number, *arguments.stretch, view_id=arguments.view)
    if proposal.reading is None and arguments.accept:
        raise InputError(f"'{number}': {proposal.warnings[0]}; nothing was recorded, --unknown is an answer too")
    if proposal.reading is None:
        return Answer({"sherd": number, "rim": None, "recorded": False}, [f"{number}: no diameter"], proposal.warnings)
    if arguments.accept:
        record_rim(cat, number, proposal.reading, by=by, note=arguments.note)
    told = "recorded" if arguments.accept else "proposed, not recorded (--accept records it)"
    document = {**_document(number, proposal.reading, recorded=arguments.accept), "residual_mm": proposal.residual_mm}
    return Answer(document, [f"{_line(number, proposal.reading)}, {told}"], proposal.warnings)


def reading_document(reading: RimReading) -> dict[str, object]:
    """A rim as JSON."""
    return {
        "method": reading.method,
        "diameter_mm": reading.diameter_mm,
        "diameter_sd_mm": reading.diameter_sd_mm,
        "percent": reading.percent,
        "percent_sd": reading.percent_sd,
        "chord_mm": reading.chord_mm,
        "sagitta_mm": reading.sagitta_mm,
        "note": reading.note,
    }


def _document(number: str, reading: RimReading, *, recorded: bool) -> dict[str, object]:
    return {"sherd": number, "rim": reading_document(reading), "recorded": recorded}


def _line(number: str, reading: RimReading) -> str:
    if reading.diameter_mm is None:
        return f"{number}: rim, diameter unknown"
    sd = "" if reading.diameter_sd_mm is None else f" ± {reading.diameter_sd_mm:.0f}"
    share = "" if reading.percent is None else f", {reading.percent:.1f} % of the rim"
    return f"{number}: rim, diameter {reading.diameter_mm:.0f}{sd} mm{share}"


def _point(text: str) -> tuple[float, float]:
    """X,Y in px of the photograph."""
    try:
        x, y = (float(part) for part in text.split(","))
    except ValueError:
        x = y = math.nan
    if not (math.isfinite(x) and math.isfinite(y)):
        raise argparse.ArgumentTypeError(f"{text!r} is not X,Y in px of the photograph")
    return x, y
