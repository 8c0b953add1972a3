"""`symmetry`: band or plane group of a sherd's decoration."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import box, collection

if TYPE_CHECKING:
    import argparse

    from motifs.workflows.symmetry import SherdSymmetry

SUMMARY = "read the symmetry of a sherd's decoration: band or plane group, repeats seen, axes and centres"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument("sherd", metavar="SHERD", help="catalogue number")
    parser.add_argument("--box", type=box, metavar="X,Y,W,H", help="only this box, in px of the sherd's crop")
    parser.add_argument(
        "--picture", type=Path, metavar="FILE", help="draw axes and centres over the crop into this .png"
    )


def run(arguments: argparse.Namespace) -> Answer:
    """Read, draw if asked, and say what could not be seen."""
    from motifs.workflows.symmetry import read_sherd, save_drawing

    with collection(arguments.collection) as cat:
        reading = read_sherd(cat, arguments.sherd, box_px=arguments.box)
        if arguments.picture is not None:
            save_drawing(cat, reading, arguments.picture)
    return Answer(_document(reading), _lines(reading), reading.symmetry.notes)


def _document(reading: SherdSymmetry) -> dict[str, object]:
    found = reading.symmetry
    group = found.group
    return {
        "sherd": reading.sherd,
        "box_px": reading.box_px,
        "kind": None if group is None else group.kind,
        "group": None if group is None else group.symbol,
        "orbifold": None if group is None else group.orbifold,
        "iuc_short": None if group is None else group.iuc_short,
        "iuc_full": None if group is None else group.iuc_full,
        "at_least": found.is_at_least,
        "repeats": found.repeats,
        "support": found.support,
        "axis_deg": found.axis_deg,
        "repeat_mm": reading.repeat_mm,
        "read_from": reading.read_from,
        "coherence": found.coherence,
        "weights": found.weights,
        "notes": found.notes,
    }


def _lines(reading: SherdSymmetry) -> list[str]:
    from motifs.design import explained

    found = reading.symmetry
    if found.group is None:
        return [f"{reading.sherd}: indeterminate"]
    at_least = "at least " if found.is_at_least else ""
    lengths = " and ".join(f"{length:.1f} mm" for length in reading.repeat_mm) or "unknown (no scale)"
    likely = sorted(((weight, name) for name, weight in found.weights.items() if weight >= 0.01), reverse=True)
    return [
        f"{reading.sherd}: {at_least}{explained(found.group)}",
        f"repeats seen: {found.repeats:.1f}; repeat: {lengths}; support {found.support:.2f}",
        *table(["group", "weight"], [[name, float(weight)] for weight, name in likely]),
    ]
