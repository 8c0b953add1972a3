"""Building blocks of the rendered trays: linear light, fractal noise, sherd polygons, anti-aliased coverage."""

from __future__ import annotations

import cv2
import numpy as np
from scipy.spatial import Voronoi


def linear(rgb8) -> np.ndarray:
    value = np.asarray(rgb8, dtype=np.float64) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def encoded(light: np.ndarray) -> np.ndarray:
    light = np.clip(light, 0, 1)
    return np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)


def fractal(rng, shape, scale_px, octaves=4) -> np.ndarray:
    """Smooth random texture, mean 0, about unit spread."""
    total = np.zeros(shape)
    for octave in range(octaves):
        step = max(1.0, scale_px / 2**octave)
        small = rng.standard_normal((int(shape[0] / step) + 3, int(shape[1] / step) + 3)).astype(np.float32)
        total += cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC) / 1.6**octave
    return total / max(total.std(), 1e-9)


def sherd_polygon(rng, size_mm: float) -> np.ndarray:
    """A broken piece: a Voronoi cell with rough, slightly rounded edges, (N, 2) mm around its centre."""
    points = rng.uniform(-2.2, 2.2, (28, 2)) * size_mm
    points[0] = rng.uniform(-0.2, 0.2, 2) * size_mm
    cells = Voronoi(points)
    region = cells.regions[cells.point_region[0]]
    if -1 in region or len(region) < 3:
        return sherd_polygon(rng, size_mm)
    corners = cells.vertices[region]
    extent = np.ptp(corners, axis=0)
    if extent.max() > 4 * extent.min() or np.abs(corners).max() > 3 * size_mm:
        return sherd_polygon(rng, size_mm)
    corners = (corners - corners.mean(0)) * (size_mm * rng.uniform(0.7, 1.3) / extent.max())
    dense = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        length = np.hypot(*(end - start))
        count = max(3, int(length / 0.5))
        share = np.linspace(0, 1, count, endpoint=False)[:, None]
        normal = np.array([-(end - start)[1], (end - start)[0]]) / max(length, 1e-9)
        walk = np.cumsum(rng.normal(0, 0.16, count))
        walk -= np.linspace(walk[0], walk[-1], count)
        bow = rng.normal(0, 0.03) * length * np.sin(np.pi * share[:, 0])
        dense.append(start + share * (end - start) + (walk + bow)[:, None] * normal)
    outline = np.concatenate(dense)
    kernel = np.hanning(7)[1:-1] / np.hanning(7)[1:-1].sum()
    padded = np.concatenate([outline[-3:], outline, outline[:3]])
    return np.stack([np.convolve(padded[:, k], kernel, "same")[3:-3] for k in (0, 1)], axis=1)


def coverage(polygon_px, shape) -> np.ndarray:
    """Anti-aliased coverage of a polygon, 0..1."""
    low = np.maximum(np.floor(polygon_px.min(0)).astype(int) - 2, 0)
    high = np.minimum(np.ceil(polygon_px.max(0)).astype(int) + 3, (shape[1], shape[0]))
    full = np.zeros(shape, dtype=np.float32)
    if (high <= low).any():
        return full
    factor = 4
    width, height = (high - low) * factor
    fine = np.zeros((height, width), dtype=np.uint8)
    points = ((polygon_px - low + 0.5) * factor - 0.5) * 16
    cv2.fillPoly(fine, [np.rint(points).astype(np.int32)], 255, cv2.LINE_8, 4)
    box = cv2.resize(fine, (width // factor, height // factor), interpolation=cv2.INTER_AREA) / 255.0
    full[low[1] : high[1], low[0] : high[0]] = box
    return full
