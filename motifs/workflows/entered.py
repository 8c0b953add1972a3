"""What a person entered of a sherd as readings of cues: wall thickness (or weight, which stands for it) and rim diameter."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from motifs.records import CueReading

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import Catalogue, SherdRow

READING_SD_MM = 0.3
"""Standard uncertainty of a calliper reading on an uneven wall."""
DENSITY_G_CM3 = 1.9
DENSITY_SD = 0.12
"""Earthenware, and its relative spread with the area's: common practice, from memory. It only turns weight into thickness."""
CHART_SD = 0.05
"""Relative uncertainty of a diameter that was written down without one."""


def entered_readings(cat: Catalogue, lot: str, sherds: Sequence[SherdRow]) -> dict[str, dict[str, CueReading]]:
    """Readings `wall` and `rim` by sherd number; a sherd of which nothing was entered is absent. UnknownName for the lot.

    A rim that was read (chord, chart, outline) goes before a diameter in the written record, a thickness before a weight.
    """
    records = {row.number: row.fields for row in cat.records(lot)}
    rims = cat.rims(lot)
    found: dict[str, dict[str, CueReading]] = {}
    for sherd in sherds:
        fields = records.get(sherd.number, {})
        wall = wall_reading(fields, sherd.area_mm2)
        read = rims[sherd.number].reading if sherd.number in rims else None
        diameter = _number(fields, "rim diameter mm") if read is None else read.diameter_mm
        sd = None if read is None else read.diameter_sd_mm
        readings = {} if wall is None else {"wall": wall}
        if diameter is not None and diameter > 0:
            readings["rim"] = CueReading((diameter,), (sd or CHART_SD * diameter,))
        if readings:
            found[sherd.number] = readings
    return found


def wall_reading(fields: Mapping[str, str], area_mm2: float | None) -> CueReading | None:
    """Wall thickness in mm from a written record: as entered, or what the weight comes to on the sherd's area; None for neither."""
    thickness = _number(fields, "thickness mm")
    if thickness is not None and thickness > 0:
        return CueReading((thickness,), (READING_SD_MM,))
    weight_g = _number(fields, "weight g")
    if weight_g is None or weight_g <= 0 or not area_mm2:
        return None
    by_weight_mm = 1000 * weight_g / (DENSITY_G_CM3 * area_mm2)
    return CueReading((by_weight_mm,), (DENSITY_SD * by_weight_mm,))


def _number(fields: Mapping[str, str], name: str) -> float | None:
    """The field as a finite number, or None; the written record keeps text."""
    try:
        value = float(fields.get(name, ""))
    except ValueError:
        return None
    return value if math.isfinite(value) else None
