"""Decoration in its contrasts: each channel against the sherd's own ground, all at one strength.

Paste, slip and light change the level and the strength of a decoration, not where it lies. Local contrast takes the level
out; one strength for the three channels keeps what hue tells apart (red paint on brown paste).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]

GROUND_MM = 5.0
"""Standard deviation of the window that the ground is averaged over."""
STRONG_QUANTILE = 0.95
FAINTEST = 6.0
"""Strength (0..255) below which a contrast is not stretched further: noise."""
GAIN = 64.0
NEUTRAL = 128.0


def contrast_image(image: Floats, mask: Floats, px_per_mm: float) -> Floats:
    """Local contrast of a sherd.

    Parameters
    ----------
    image: (h, w, 3) float32 sRGB in 0..255. mask: (h, w) float32 in 0..1. px_per_mm: of both.

    Returns
    -------
    (h, w, 3) float32 in 0..255; 128 where nothing is drawn and outside the sherd.
    """
    sigma = GROUND_MM * px_per_mm
    weight = mask[..., None]
    share = cv2.GaussianBlur(mask, (0, 0), sigma)[..., None] + 1e-3
    ground = cv2.GaussianBlur(image * weight, (0, 0), sigma).reshape(image.shape) / share
    strokes = (image - ground) * weight
    seen = np.abs(strokes).max(axis=2)[mask > 0.5]
    strength = max(float(np.quantile(seen, STRONG_QUANTILE)) if seen.size else 0.0, FAINTEST)
    contrast: Floats = np.clip(NEUTRAL + GAIN * strokes / strength, 0.0, 255.0).astype(np.float32)
    return contrast
