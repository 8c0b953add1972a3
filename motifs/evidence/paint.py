"""Cue `paint`: colour of the ink (paint, slip or the floor of an incised line)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motifs.evidence.paste import region_colour

if TYPE_CHECKING:
    from motifs.evidence.surface import Face
    from motifs.records import CueReading

NAME = "paint"


def measure(face: Face) -> CueReading | None:
    """L*a*b* of the ink (value of 3) with its standard uncertainty; None when no ink can be told from the ground."""
    if not face.ink_is_known:
        return None
    deep = face.ink & (face.coverage >= np.quantile(face.coverage[face.ink], 0.4)) if face.ink.any() else face.ink
    return region_colour(face, deep)
