"""Put shapes on a tray without touching, on a grid of 1 mm."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Sequence

Mask = NDArray[np.bool_]


def to_millimetre_grid(mask: Mask, px_per_mm: float) -> Mask:
    """Coarse footprint of a mask: every 1 mm cell that it touches."""
    height, width = (max(1, int(np.ceil(side / px_per_mm))) for side in mask.shape)
    coarse = cv2.resize(mask.astype(np.float32), (width, height), interpolation=cv2.INTER_AREA)
    return coarse > 0


def place_shapes(
    footprints: Sequence[Mask], tray_mm: tuple[int, int], gap_mm: int, margin_mm: int, rng: np.random.Generator
) -> list[tuple[int, int]] | None:
    """Top-left corners (x, y) in mm for every footprint, in order, or None if the tray is too small.

    Larger footprints are placed first; each goes to a random one of the free places.
    """
    width, height = tray_mm
    taken = np.ones((height, width), np.float32)
    taken[margin_mm : height - margin_mm, margin_mm : width - margin_mm] = 0
    corners: dict[int, tuple[int, int]] = {}
    for index in sorted(range(len(footprints)), key=lambda i: -footprints[i].sum()):
        corner = _free_corner(taken, footprints[index], rng)
        if corner is None:
            return None
        corners[index] = corner
        _occupy(taken, footprints[index], corner, gap_mm)
    return [corners[index] for index in range(len(footprints))]


def _free_corner(taken: NDArray[np.float32], footprint: Mask, rng: np.random.Generator) -> tuple[int, int] | None:
    rows, columns = footprint.shape
    if rows > taken.shape[0] or columns > taken.shape[1]:
        return None
    overlap = cv2.matchTemplate(taken, footprint.astype(np.float32), cv2.TM_CCORR)
    free = np.flatnonzero(overlap < 0.5)
    if not free.size:
        return None
    y, x = np.unravel_index(rng.choice(free), overlap.shape)
    return int(x), int(y)


def _occupy(taken: NDArray[np.float32], footprint: Mask, corner: tuple[int, int], gap_mm: int) -> None:
    grown = cv2.dilate(np.pad(footprint, gap_mm).astype(np.uint8), np.ones((2 * gap_mm + 1,) * 2, np.uint8)) > 0
    x, y = corner[0] - gap_mm, corner[1] - gap_mm
    top, left = max(y, 0), max(x, 0)
    window = taken[top : y + grown.shape[0], left : x + grown.shape[1]]
    part = grown[top - y : top - y + window.shape[0], left - x : left - x + window.shape[1]]
    window[part] = 1
