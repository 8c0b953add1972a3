"""The catalogue as rows: every sherd with what was measured and said of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.workflows.evidence_json import EVIDENCE

if TYPE_CHECKING:
    from collections.abc import Mapping

    from motifs.catalogue import Catalogue, Json, Measurement, SherdRow, TagRow

LONGEST_LISTED = 16
"""Cues with more values than this (vectors) are not listed: nobody reads them."""


@dataclass(frozen=True, slots=True)
class ListedSherd:
    """One line of the catalogue.

    measurements: area_mm2 and max_dimension_mm (None without a scale), and each cue measured so far as
    {"value": [...], "sd": [...]}.
    """

    sherd: str
    lot: str
    site: str | None
    photo: str
    measurements: dict[str, Json]
    tags: tuple[TagRow, ...]
    look: str | None


def list_sherds(cat: Catalogue, lot: str | None = None) -> tuple[ListedSherd, ...]:
    """Kept sherds in catalogue order, of the whole collection or of one lot (UnknownName)."""
    if lot is not None:
        cat.lot(lot)
    sherds = cat.sherds(lot)
    numbers = [sherd.number for sherd in sherds]
    measured, tags = cat.measurements_of(numbers), cat.tags_of(numbers)
    return tuple(
        ListedSherd(
            sherd.number,
            sherd.lot,
            sherd.site,
            sherd.photo_name,
            _measurements(sherd, measured[sherd.number]),
            tags.get(sherd.number, ()),
            sherd.look,
        )
        for sherd in sherds
    )


def _measurements(sherd: SherdRow, measured: Mapping[str, Measurement]) -> dict[str, Json]:
    listed: dict[str, Json] = {"area_mm2": sherd.area_mm2, "max_dimension_mm": sherd.max_dimension_mm}
    for name, measurement in measured.items():
        if name == EVIDENCE:
            listed.update(_cues(measurement.value))
        else:
            listed[name] = {"value": measurement.value, "sd": measurement.sd}
    return listed


def _cues(kept: Json) -> dict[str, Json]:
    cues = kept.get("cues") if isinstance(kept, dict) else None
    listed: dict[str, Json] = {}
    for name, pair in (cues or {}).items() if isinstance(cues, dict) else ():
        if isinstance(pair, list) and isinstance(pair[0], list) and len(pair[0]) <= LONGEST_LISTED:
            listed[name] = {"value": pair[0], "sd": pair[1]}
    return listed
