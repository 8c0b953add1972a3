"""Readings of a sherd's cues as one measurement of the catalogue."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from motifs.catalogue import Measurement
from motifs.records import CueReading

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.catalogue import Json

EVIDENCE = "evidence"
"""Name of the measurement that holds every cue of a sherd."""


def pack_evidence(readings: Mapping[str, CueReading], basis: str) -> Measurement:
    """All readings, with what they rest on."""
    cues: Json = {cue: [_short(reading.value), _short(_folded(reading.sd))] for cue, reading in readings.items()}
    return Measurement(value={"basis": basis, "cues": cues})


def _folded(sd: tuple[float, ...]) -> tuple[float, ...]:
    """One number for a whole vector's uncertainty where all its parts have the same."""
    return sd[:1] if len(set(sd)) == 1 else sd


def _short(numbers: Sequence[float]) -> list[Json]:
    return [float(f"{number:.6g}") for number in numbers]


def unpack_evidence(measurement: Measurement | None, basis: str) -> dict[str, CueReading] | None:
    """The readings, or None where there are none or they rest on something else."""
    kept = measurement.value if measurement is not None else None
    if not isinstance(kept, dict) or kept.get("basis") != basis or not isinstance(kept["cues"], dict):
        return None
    return {cue: _reading(pair) for cue, pair in kept["cues"].items()}


def _reading(pair: Any) -> CueReading:
    value, sd = pair
    return CueReading(tuple(value), tuple(sd) * (len(value) if len(sd) == 1 else 1))
