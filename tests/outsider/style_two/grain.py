"""Tiles of noise and their sampling at any place of a wall."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from tests.outsider.optics import Image

SIDE = 512


@dataclass(frozen=True)
class Tile:
    """A square of noise of unit SD that repeats in both directions; one tile spans span_mm."""

    values: Image
    span_mm: float

    def at(self, u_mm: Image, v_mm: Image) -> Image:
        """Value at places of the wall, bilinear."""
        scale = np.float32(SIDE / self.span_mm)
        # One row and column of the far side are added, so that the join of two tiles is seamless.
        joined = np.pad(self.values, ((0, 1), (0, 1)), mode="wrap")
        x, y = np.mod(u_mm * scale, np.float32(SIDE)), np.mod(v_mm * scale, np.float32(SIDE))
        return cv2.remap(
            joined, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )


def grain_tile(span_mm: float, grain_mm: float, rng: np.random.Generator, *, stretch: float = 1.0) -> Tile:
    """Gaussian noise; grain_mm is its correlation length, stretch makes it longer along u."""
    f = np.fft.fftfreq(SIDE, span_mm / SIDE)
    fx, fy = np.meshgrid(f * stretch, f)
    window = np.exp(-2 * (np.pi * grain_mm / 2) ** 2 * (fx**2 + fy**2))
    values = np.fft.ifft2(np.fft.fft2(rng.normal(size=(SIDE, SIDE))) * window).real
    return Tile((values / values.std()).astype(np.float32), span_mm)


def fleck_tile(span_mm: float, per_mm2: float, size_mm: float, rng: np.random.Generator) -> Tile:
    """Temper grains: 1 inside a grain, 0 outside, angular, wrapped."""
    canvas = np.zeros((SIDE, SIDE), np.uint8)
    scale = SIDE / span_mm
    for _ in range(int(rng.poisson(per_mm2 * span_mm**2))):
        corners = rng.normal(0, size_mm * rng.lognormal(-0.5, 0.45) * scale / 2, (5, 2))
        middle = rng.random(2) * SIDE
        for dx in (-SIDE, 0, SIDE):
            for dy in (-SIDE, 0, SIDE):
                hull = cv2.convexHull(((corners + middle + (dx, dy)) * 16).astype(np.int32))
                if (np.abs(middle + np.array([dx, dy]) - SIDE / 2) < SIDE / 2 + 30).all():
                    cv2.fillConvexPoly(canvas, hull, 255, cv2.LINE_AA, 4)
    return Tile(canvas.astype(np.float32) / 255, span_mm)
