"""What lies in the frame before it is lit: albedo, heights, slopes and gloss, and whose pixel each one is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from motifs.practice.arrays import as_map

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.practice.arrays import Map

STEEPEST = 3.0


@dataclass(slots=True)
class Scene:
    """The tray as a picture of matter, filled from the backdrop up.

    albedo: (H, W, 3) linear. height_mm: (H, W), for shadows. skin: (H, W, 3) slope in x, slope in y (mm a mm) and
    gloss 0..1 of what is seen. labels: (H, W) int16, number of the sherd or 0.
    """

    albedo: Map
    height_mm: Map
    skin: Map
    labels: NDArray[np.int16]


def bare_scene(albedo: Map) -> Scene:
    """Return a level, dull scene of the backdrop alone."""
    shape = albedo.shape[:2]
    return Scene(albedo, np.zeros(shape, np.float32), np.zeros((*shape, 3), np.float32), np.zeros(shape, np.int16))


def skin_of(height_mm: Map, gloss: float, px_per_mm: float) -> Map:
    """Return slopes and gloss of a height map (h, w, 3); heights must run on smoothly beyond the thing's outline."""
    slopes = [
        np.clip(as_map(cv2.Scharr(height_mm, cv2.CV_32F, dx, dy, scale=px_per_mm / 32)), -STEEPEST, STEEPEST)
        for dx, dy in ((1, 0), (0, 1))
    ]
    return np.stack([*slopes, np.full_like(height_mm, gloss)], axis=-1)


def lay(
    scene: Scene, albedo: Map, cover: Map, height_mm: Map, skin: Map | None, corner_px: tuple[int, int], number: int = 0
) -> None:
    """Lay a thing on a scene; what hangs over the frame is cut off.

    Parameters
    ----------
    scene : Scene, changed in place
    albedo, cover, height_mm : (h, w, 3), (h, w), (h, w) of the thing's own patch
    skin : (h, w, 3) as of skin_of; level and dull when None
    corner_px : (x, y) of the patch in the scene
    number : label of the thing's pixels
    """
    x, y = corner_px
    rows, columns = cover.shape
    top, left = max(y, 0), max(x, 0)
    bottom, right = min(y + rows, scene.labels.shape[0]), min(x + columns, scene.labels.shape[1])
    if bottom <= top or right <= left:
        return
    there = (slice(top, bottom), slice(left, right))
    here = (slice(top - y, bottom - y), slice(left - x, right - x))
    part = cover[here]
    scene.albedo[there] += (albedo[here] - scene.albedo[there]) * part[..., None]
    if skin is None:
        scene.skin[there] *= 1 - part[..., None]
    else:
        scene.skin[there] += (skin[here] - scene.skin[there]) * part[..., None]
    scene.height_mm[there] = np.maximum(scene.height_mm[there], height_mm[here] * part)
    scene.labels[there][part > 0.5] = number
