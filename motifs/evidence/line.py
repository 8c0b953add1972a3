"""Cues `line` and `gap`: widths of the strokes and of the ground between them, in mm.

The width of a stroke is twice the distance transform along its ridge (Blum's medial axis), on the ink coverage resampled
finely. Solid fills are wider than MAX_WIDTH_MM and do not count. Widths read narrow, by up to 15 % (dark ink: the half-way
mixture of colours lies nearer the ground in log-ratio colour); alike on every sherd of a pot, so comparisons hold.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from motifs.records import CueReading

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.evidence.surface import Face

LINE = "line"
GAP = "gap"
FINE_PX_PER_MM = 12.0
MAX_WIDTH_MM = 4.0
MIN_RIDGE_MM = 6.0
CORRELATION_MM = 4.0
"""Along a stroke the width is one hand movement: readings nearer than this are not independent."""


def measure_line(face: Face) -> CueReading | None:
    """Width of the strokes in mm (value of 1), with its standard uncertainty; None with under 6 mm of stroke."""
    return _mode_width(face, of_ink=True) if face.ink_is_known else None


def measure_gap(face: Face) -> CueReading | None:
    """Width of the ground between strokes in mm (value of 1); None with under 6 mm of such gaps."""
    return _mode_width(face, of_ink=False) if face.ink_is_known else None


def stroke_widths(face: Face, *, of_ink: bool) -> NDArray[np.float64]:
    """Widths in mm at the ridge pixels of the strokes (or of the gaps), unordered, one a ridge pixel."""
    factor = FINE_PX_PER_MM / face.px_per_mm
    size = (round(face.coverage.shape[1] * factor), round(face.coverage.shape[0] * factor))
    ink = cv2.resize(face.coverage, size, interpolation=cv2.INTER_CUBIC) > 0.5
    inner = cv2.resize(face.inner.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    part = (ink if of_ink else ~ink) & inner
    depth = cv2.distanceTransform((part | ~inner).astype(np.uint8), cv2.DIST_L2, 5)
    ridge = (depth >= cv2.dilate(depth, np.ones((3, 3), np.uint8)) - 1e-3) & part & (depth > 1.2)
    from_edge = cv2.distanceTransform(inner.astype(np.uint8), cv2.DIST_L2, 5)
    ridge &= from_edge > depth + 1  # a stroke cut off by the broken edge has no width
    width = (2 * depth[ridge] - 1) / FINE_PX_PER_MM
    return np.asarray(width[width < MAX_WIDTH_MM], np.float64)


def _mode_width(face: Face, *, of_ink: bool) -> CueReading | None:
    widths = stroke_widths(face, of_ink=of_ink)
    if widths.size < MIN_RIDGE_MM * FINE_PX_PER_MM:
        return None
    logs = np.log(widths)
    counts, edges = np.histogram(logs, bins=np.linspace(np.log(0.15), np.log(MAX_WIDTH_MM), 41))
    smooth = np.convolve(counts, [1, 2, 3, 2, 1], "same")
    peak = (edges[:-1] + edges[1:])[np.argmax(smooth)] / 2
    near = logs[np.abs(logs - peak) < 0.35]
    independent = max(1.0, near.size / FINE_PX_PER_MM / CORRELATION_MM)
    width = float(np.exp(near.mean()))
    return CueReading((width,), (width * float(np.hypot(max(near.std(), 0.08) / np.sqrt(independent), 0.02)),))
