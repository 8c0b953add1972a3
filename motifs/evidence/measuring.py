"""Measure every cue of one sherd."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motifs.evidence import line, paint, paste, texture
from motifs.evidence.surface import read_face
from motifs.records import CueReading

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from motifs.records import SherdCrop

VERSION = "1"
"""Changes whenever a reading would change, so that stored readings are measured again."""

VESSEL_ENCODER = "vessel"
"""Name (before the dot of the tag) of the encoder whose vector is the cue `vessel_vector`."""


def measure_sherd(crop: SherdCrop, vectors: Mapping[str, NDArray[np.float32]]) -> dict[str, CueReading]:
    """Readings by cue name; a cue that could not be measured is absent.

    Parameters
    ----------
    crop : SherdCrop
        Light-corrected, 10 px/mm. Without a scale (is_scaled False) nothing in mm is measured.
    vectors : mapping of encoder tag to (dim,) float32
        Unit vectors of the same crop; the vessel encoder's becomes a cue.
    """
    readings: dict[str, CueReading] = {}
    face = read_face(crop)
    if face is not None:
        in_mm = {line.LINE: line.measure_line, line.GAP: line.measure_gap} if crop.is_scaled else {}
        grain = {texture.NAME: texture.measure} if crop.is_scaled else {}
        for name, measure in {paste.NAME: paste.measure, paint.NAME: paint.measure, **grain, **in_mm}.items():
            reading = measure(face)
            if reading is not None:
                readings[name] = reading
    for tag, vector in vectors.items():
        if tag.split(".")[0] == VESSEL_ENCODER:
            readings["vessel_vector"] = _vector_reading(crop, vector)
    return readings


def _vector_reading(crop: SherdCrop, vector: NDArray[np.float32]) -> CueReading:
    """A vector is the surer the more surface it saw: uncertainty falls with the root of the area (40 mm square: 1 / 20)."""
    area_mm2 = max(float(crop.mask.sum()) / crop.px_per_mm**2, 25.0)
    sd = 2.0 / float(np.sqrt(area_mm2))
    return CueReading(tuple(map(float, vector)), (sd,) * len(vector))
