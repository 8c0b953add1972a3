"""Rims of a lot: read by chord and sagitta, off a chart, along an outline, or not at all; and what they add up to.

"Rim, diameter unknown" is an answer, and for small rims often the right one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from motifs.catalogue import RimReading
from motifs.errors import InputError
from motifs.imaging import outline_in_mm
from motifs.imaging.rim_arc import fit_rim_arc, stretch_between
from motifs.sites.counts import SMALL_RIM_PERCENT, rim_eve
from motifs.sites.rims import rim_diameter_mm, rim_fraction

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, RimRow

READING_SD_MM = 0.25
"""Standard uncertainty of a calliper on a worn rim, chord and sagitta alike; common practice, no source."""

LARGEST_RELATIVE_SD = 0.12
"""A diameter less sure than this is no reading."""

RIM = "rim"
"""Term of the tag that says where on the vessel the sherd sat."""

PointPx = tuple[float, float]


@dataclass(frozen=True, slots=True)
class RimProposal:
    """What a circle along an outline says; nothing is recorded. reading None: the stretch tells no diameter."""

    sherd: str
    reading: RimReading | None
    residual_mm: float | None
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LotRims:
    """The rims of a lot. eve: sum of rim shares, a lower bound and no number of vessels; method says how it came."""

    lot: str
    rims: tuple[RimRow, ...]
    eve: float
    with_share: int
    unknown: int
    method: str
    warnings: tuple[str, ...]


def rim_by_chord(chord_mm: float, sagitta_mm: float, *, reading_sd_mm: float = READING_SD_MM) -> RimReading:
    """Diameter and share of the rim from chord and sagitta, with their uncertainties.

    Raises
    ------
    InputError
        Not lengths above 0; or the sagitta is so small that a reading error moves the diameter by 12 % or more.
    """
    diameter = rim_diameter_mm(chord_mm, sagitta_mm)
    diameter_sd, percent_sd = _spread_of_chord(chord_mm, sagitta_mm, reading_sd_mm)
    if diameter_sd >= LARGEST_RELATIVE_SD * diameter:
        raise InputError(
            f"chord {chord_mm:g} mm with a rise of {sagitta_mm:g} mm: an error of {reading_sd_mm:g} mm moves the diameter of "
            f"{diameter:.0f} mm by {diameter_sd:.0f} mm ({diameter_sd / diameter:.0%}); read it on a rim chart, or record "
            "the rim with diameter unknown"
        )
    percent = _percent_of_chord(chord_mm, sagitta_mm)
    return RimReading("chord", diameter, diameter_sd, percent, percent_sd, chord_mm, sagitta_mm)


def rim_by_chart(diameter_mm: float, percent: float | None, *, class_mm: float = 10.0) -> RimReading:
    """Diameter class and share as read on a rim chart.

    The uncertainty is that of a class of `class_mm`, and of shares read to 5 % (rectangular: a class over root 12); charts
    with classes of 1 or 2 cm and shares to 1 to 5 % are common practice.

    Raises
    ------
    InputError
        A diameter not above 0, or a share not above 0 and up to 100 %.
    """
    if not (math.isfinite(diameter_mm) and diameter_mm > 0):
        raise InputError(f"a rim diameter of {diameter_mm:g} mm cannot be; read the chart again")
    if percent is not None and not 0 < percent <= 100:
        raise InputError(f"a rim share of {percent:g} % cannot be; give a number above 0 and up to 100")
    root_12 = math.sqrt(12.0)
    return RimReading("chart", diameter_mm, class_mm / root_12, percent, None if percent is None else 5.0 / root_12)


def rim_unknown(note: str = "") -> RimReading:
    """A rim whose diameter cannot be read."""
    return RimReading("unknown", note=note)


def propose_rim(
    cat: Catalogue, number: str, start_px: PointPx, end_px: PointPx, *, view_id: int | None = None
) -> RimProposal:
    """Fit a circle along the stretch of an outline that the analyst says is rim; record nothing.

    Parameters
    ----------
    number : of the sherd.
    start_px, end_px : the ends of the stretch, in px of the photograph; the shorter way round is taken.
    view_id : a view of the sherd whose outline is meant; its face if None.

    Raises
    ------
    UnknownName, InputError
        No such sherd or view; the view is another sherd's; the photograph has no scale.
    """
    piece = cat.sherd(number) if view_id is None else cat.view(view_id)
    if view_id is not None and cat.view(view_id).sherd != number:
        raise InputError(f"view {view_id} is not of sherd '{number}'; pair it first, or name a view of the sherd")
    photo = cat.photo(piece.photo_id)
    if photo.scale is None:
        raise InputError(f"photo '{photo.file_name}' has no scale, so no diameter can be read; set its scale first")
    outline, start, end = (outline_in_mm(points, photo.scale) for points in (piece.outline_px, start_px, end_px))
    arc = fit_rim_arc(stretch_between(outline, start, end), scale_relative_sd=photo.scale.relative_sd)
    if arc is None:
        return RimProposal(number, None, None, ("the stretch is too short or too straight to tell a diameter",))
    reading = RimReading(
        "outline",
        arc.diameter_mm,
        arc.diameter_sd_mm,
        100 * arc.fraction,
        100 * arc.fraction_sd,
        arc.chord_mm,
        arc.sagitta_mm,
    )
    kind = "face" if view_id is None else cat.view(view_id).kind
    return RimProposal(number, reading, arc.residual_mm, (*_axis_warning(kind), *rim_warnings(reading)))


def record_rim(cat: Catalogue, number: str, reading: RimReading, *, by: str, note: str = "") -> RimRow:
    """Record a rim on a person's word, and with it that the sherd is a rim; it replaces an earlier reading.

    UnknownName for the sherd.
    """
    with cat.transaction(by=by):
        cat.add_tag(number, RIM, "position")
        return cat.record_rim(number, replace(reading, note=note) if note else reading)


def withdraw_rim(cat: Catalogue, number: str, *, by: str) -> None:
    """Take a reading back: the sherd is no rim after all. UnknownName for the sherd."""
    with cat.transaction(by=by):
        cat.withdraw_rim(number)


def lot_rims(cat: Catalogue, lot: str) -> LotRims:
    """Return the rims of a lot and their EVE; UnknownName for the lot."""
    rims = tuple(cat.rims(lot).values())
    shares = [rim.reading.percent for rim in rims if rim.reading.percent is not None]
    unknown = sum(rim.reading.diameter_mm is None for rim in rims)
    warnings = tuple(f"{rim.sherd}: {warning}" for rim in rims for warning in rim_warnings(rim.reading))
    method = "rim EVE: sum of rim shares; a lower bound for comparing assemblages, no number of vessels"
    return LotRims(lot, rims, rim_eve(shares), len(shares), unknown, method, warnings)


def rim_warnings(reading: RimReading) -> tuple[str, ...]:
    """What to keep in mind about a reading, in words."""
    told = []
    if reading.percent is not None and reading.percent < SMALL_RIM_PERCENT:
        told.append(
            f"{reading.percent:.1f} % of the rim: under {SMALL_RIM_PERCENT:g} % many workers record the diameter as unknown"
        )
    sure = reading.diameter_mm is None or reading.diameter_sd_mm is None
    if not sure and reading.diameter_sd_mm >= LARGEST_RELATIVE_SD * reading.diameter_mm:  # type: ignore[operator]
        told.append(
            f"the diameter is known to {reading.diameter_sd_mm:.0f} mm only; diameter unknown may be the better answer"
        )
    return tuple(told)


def _axis_warning(kind: str) -> tuple[str, ...]:
    if kind == "rim":
        return ()
    return (
        f"taken on the {kind}: right only where the photograph looks along the axis of the vessel, as at a rim laid on the table",
    )


def _percent_of_chord(chord_mm: float, sagitta_mm: float) -> float:
    diameter = rim_diameter_mm(chord_mm, sagitta_mm)
    # A rise above the radius is an arc past half way round; rounding may leave the chord a hair over the diameter.
    is_over_half = sagitta_mm > diameter / 2
    return 100.0 * rim_fraction(min(chord_mm, diameter), diameter, is_over_half=is_over_half)


def _spread_of_chord(chord_mm: float, sagitta_mm: float, sd_mm: float) -> tuple[float, float]:
    """Standard uncertainties of diameter (mm) and share (%), to first order, chord and sagitta erring apart."""
    by_chord, by_sagitta = chord_mm / (2 * sagitta_mm), 1 - chord_mm**2 / (4 * sagitta_mm**2)
    diameter_sd = sd_mm * math.hypot(by_chord, by_sagitta)
    step = 1e-4 * min(chord_mm, sagitta_mm)
    slopes = [
        (_percent_of_chord(chord_mm + dc, sagitta_mm + ds) - _percent_of_chord(chord_mm - dc, sagitta_mm - ds))
        / (2 * step)
        for dc, ds in ((step, 0.0), (0.0, step))
    ]
    return diameter_sd, sd_mm * math.hypot(*slopes)
