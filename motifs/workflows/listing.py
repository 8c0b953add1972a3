"""The catalogue as rows: every sherd with what was measured and said of it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.workflows.evidence_json import EVIDENCE
from motifs.workflows.figure_words import has_slip
from motifs.workflows.figures import FIGURES, quality_flags, shown_basis, unpack_figures

if TYPE_CHECKING:
    from collections.abc import Mapping

    from motifs.catalogue import Catalogue, Json, Measurement, RimRow, SherdHead, TagRow
    from motifs.records import Scale

LONGEST_LISTED = 16
"""Cues with more values than this (vectors) are not listed: nobody reads them."""

CUE_UNITS = {"paste": "L*a*b*", "paint": "L*a*b*", "line": "mm", "gap": "mm", "thickness": "mm"}
"""Units of the cues of sorting; a cue not named here is a pure number."""


@dataclass(frozen=True, slots=True)
class ListedSherd:
    """One line of the catalogue.

    measurements: area_mm2 and max_dimension_mm (None without a scale), and everything measured or read so far as
    {"value", "unit", "sd"}; what could not be seen has the value None. is_measured: all figures are there, as this program
    measures them. flags: what a photographer should mend.
    """

    sherd: str
    lot: str
    site: str | None
    photo: str
    measurements: dict[str, Json]
    tags: tuple[TagRow, ...]
    look: str | None
    is_measured: bool = False
    flags: tuple[str, ...] = ()


def list_sherds(cat: Catalogue, lot: str | None = None) -> tuple[ListedSherd, ...]:
    """Kept sherds in catalogue order, of the whole collection or of one lot (UnknownName)."""
    if lot is not None:
        cat.lot(lot)
    sherds = cat.sherd_heads(lot)
    numbers = [sherd.number for sherd in sherds]
    measured, tags, rims = cat.measurements_of(numbers), cat.tags_of(numbers), cat.rims(lot)
    scales = cat.scales()
    return tuple(
        _listed(
            sherd, measured[sherd.number], scales[sherd.photo_id], tags.get(sherd.number, ()), rims.get(sherd.number)
        )
        for sherd in sherds
    )


def _listed(
    sherd: SherdHead,
    measured: Mapping[str, Measurement],
    scale: Scale | None,
    tags: tuple[TagRow, ...],
    rim: RimRow | None,
) -> ListedSherd:
    figures = unpack_figures(measured.get(FIGURES), shown_basis(scale))
    listed: dict[str, Json] = {"area_mm2": sherd.area_mm2, "max_dimension_mm": sherd.max_dimension_mm}
    for name, measurement in measured.items():
        if name == EVIDENCE:
            listed.update(_cues(measurement.value, scale))
        elif name != FIGURES:
            listed[name] = {"value": measurement.value, "unit": None, "sd": measurement.sd}
    is_slipped = has_slip(tags)
    for kept, figure in (figures or {}).items():
        # What a face shows where nothing is drawn is the slip, where a person said that there is one.
        name = kept.replace("paste_", "slip_") if is_slipped else kept
        listed[name] = {"value": figure.value, "unit": figure.unit, "sd": figure.sd}
    if rim is not None:
        listed.update(listed_rim(rim))
    return ListedSherd(
        sherd.number,
        sherd.lot,
        sherd.site,
        sherd.photo_name,
        listed,
        tags,
        sherd.look,
        figures is not None,
        quality_flags(figures or {}),
    )


def listed_rim(rim: RimRow) -> dict[str, Json]:
    """What a list says of a rim."""
    read = rim.reading
    return {
        "rim_diameter": {"value": read.diameter_mm, "unit": "mm", "sd": read.diameter_sd_mm, "method": read.method},
        "rim_share": {"value": read.percent, "unit": "%", "sd": read.percent_sd, "method": read.method},
    }


def _cues(kept: Json, scale: Scale | None) -> dict[str, Json]:
    """The cues of sorting; lengths carry the scale's uncertainty, which all sherds of one photograph share."""
    cues = kept.get("cues") if isinstance(kept, dict) else None
    listed: dict[str, Json] = {}
    for name, pair in (cues or {}).items() if isinstance(cues, dict) else ():
        if isinstance(pair, list) and isinstance(pair[0], list) and len(pair[0]) <= LONGEST_LISTED:
            unit = CUE_UNITS.get(name, "1")
            listed[name] = {"value": pair[0], "unit": unit, "sd": _with_scale(pair, scale) if unit == "mm" else pair[1]}
    return listed


def _with_scale(pair: list[Json], scale: Scale | None) -> Json:
    values, sds = pair
    if scale is None or not isinstance(values, list) or not isinstance(sds, list):
        return sds
    return [math.hypot(float(sd), scale.relative_sd * float(value)) for value, sd in zip(values, sds, strict=False)]  # type: ignore[arg-type]
