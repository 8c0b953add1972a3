"""Sherds for the tests of the encoders: cut out of photographs and patterns that nobody here drew for the purpose."""

from __future__ import annotations

import cv2
import numpy as np
from skimage import data

from motifs.records import SherdCrop

BACKDROP = (40, 90, 160)


def sherd(
    pattern: np.ndarray, *, angle_deg: float = 0.0, centre: tuple[int, int] = (256, 256), seed: int = 0
) -> SherdCrop:
    """Cut an irregular sherd of about 26 mm out of a grey or colour picture, turned, on a blue backdrop."""
    picture = pattern if pattern.ndim == 3 else np.repeat(pattern[..., None], 3, axis=2)
    rng = np.random.default_rng(seed)
    side = 300
    matrix = cv2.getRotationMatrix2D((float(centre[0]), float(centre[1])), angle_deg, 1.0)
    matrix[:, 2] += side / 2 - centre[0], side / 2 - centre[1]
    image = cv2.warpAffine(picture, matrix, (side, side), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    angles = np.sort(rng.uniform(0, 2 * np.pi, 8)) + np.radians(angle_deg)
    reach = rng.uniform(90, 140, 8)
    corners = np.stack([reach * np.cos(angles), reach * np.sin(angles)], axis=1) + side / 2
    mask = np.zeros((side, side), np.uint8)
    cv2.fillPoly(mask, [corners.astype(np.int32)], 1)
    image[mask == 0] = BACKDROP
    return SherdCrop(image.astype(np.uint8), mask > 0, 10.0, 12.0, is_scaled=True)


def textures() -> dict[str, np.ndarray]:
    """scikit-image's bundled photographs of brick, grass and gravel, (512, 512) uint8 (CC0, ambientCG)."""
    return {"brick": data.brick(), "grass": data.grass(), "gravel": data.gravel()}


def square(side_px: int, colour: tuple[int, int, int] = (200, 120, 80)) -> SherdCrop:
    """One even square sherd that fills its crop."""
    image = np.empty((side_px, side_px, 3), np.uint8)
    image[:] = colour
    return SherdCrop(image, np.ones((side_px, side_px), np.bool_), 10.0, 10.0, is_scaled=True)
