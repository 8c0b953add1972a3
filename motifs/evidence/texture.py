"""Cue `texture`: how grainy the ground is, by grain size: temper, voids and surface finish.

Log luminance of the ground is split into bands of grain size by differences of Gaussians; each band gives the logarithm
of its robust spread. Two more values say whether grains are darker or lighter than the ground.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import cv2
import numpy as np

from motifs.evidence.colour import linear_to_log_ratio
from motifs.records import CueReading

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.evidence.surface import Face

NAME = "texture"
SCALES_MM = (0.12, 0.25, 0.5, 1.0)
MIN_GROUND_MM2 = 15.0


def measure(face: Face) -> CueReading | None:
    """Log spread of three grain bands and two skews (value of 5); None under 15 mm2 of clear ground."""
    clear = cv2.erode(face.ground.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    if clear.sum() < MIN_GROUND_MM2 * face.px_per_mm**2:
        return None
    luminance = linear_to_log_ratio(face.linear)[..., 0].astype(np.float32)
    bands = _bands(luminance, face.ground, face.px_per_mm)
    values, sd = [], []
    for band, grain_mm in zip(bands, SCALES_MM[1:], strict=True):
        inside = band[clear]
        independent = max(4.0, inside.size / (3 * grain_mm * face.px_per_mm) ** 2)
        values.append(float(np.log(inside.std() + 0.3)))
        sd.append(float(np.hypot(0.7 / np.sqrt(independent), 0.03)))
    for band in bands[:2]:
        low, middle, high = np.quantile(band[clear], [0.03, 0.5, 0.97])
        values.append(float((high + low - 2 * middle) / max(high - low, 1e-6)))
        sd.append(0.05)
    return CueReading(tuple(values), tuple(sd))


def _bands(luminance: NDArray[np.float32], ground: NDArray[np.bool_], px_per_mm: float) -> list[NDArray[np.float32]]:
    weight = ground.astype(np.float32)
    levels: list[NDArray[np.float32]] = []
    for scale in SCALES_MM:
        total = cv2.GaussianBlur(luminance * weight, (0, 0), scale * px_per_mm)
        share = cv2.GaussianBlur(weight, (0, 0), scale * px_per_mm)
        levels.append(np.asarray(total / np.maximum(share, 1e-3), np.float32))
    return [fine - coarse for fine, coarse in pairwise(levels)]
