"""Cue `paste`: colour of the undecorated ground."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motifs.evidence.colour import linear_to_lab
from motifs.records import CueReading

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.evidence.surface import Face

NAME = "paste"
BLOCK_MM = 2.5
FLOOR_LAB = (0.6, 0.3, 0.4)
"""Standard uncertainty left even on a large clean face (8 bit, JPEG)."""


def measure(face: Face) -> CueReading | None:
    """L*a*b* of the ground (value of 3), with its standard uncertainty from 3 mm blocks; None under 4 mm2 of ground."""
    return region_colour(face, face.ground)


def region_colour(face: Face, region: NDArray[np.bool_]) -> CueReading | None:
    """Median L*a*b* of a part of the face; the uncertainty from the spread of block means."""
    if region.sum() < 4 * face.px_per_mm**2:
        return None
    pixels = face.linear[region]
    lab = linear_to_lab(np.median(pixels, axis=0))
    blocks = _block_colours(face, region)
    spread = (
        1.4826 * np.median(np.abs(blocks - np.median(blocks, axis=0)), axis=0) if len(blocks) > 2 else np.full(3, 2.5)
    )
    sd = np.hypot(1.2533 * spread / np.sqrt(max(len(blocks), 1)), FLOOR_LAB)
    return CueReading(tuple(map(float, lab)), tuple(map(float, sd)))


def _block_colours(face: Face, region: NDArray[np.bool_]) -> NDArray[np.float64]:
    """L*a*b* means of the blocks that the region fills to a quarter, shape (B, 3)."""
    side = max(2, round(BLOCK_MM * face.px_per_mm))
    rows, columns = np.nonzero(region)
    across = face.linear.shape[1] // side + 1
    key = (rows // side) * across + columns // side
    count = np.bincount(key)
    full = np.flatnonzero(count >= 0.15 * side * side)
    if full.size == 0:
        return np.empty((0, 3))
    pixels = face.linear[region]
    means = np.stack([np.bincount(key, pixels[:, c])[full] / count[full] for c in range(3)], axis=1)
    return linear_to_lab(means)
