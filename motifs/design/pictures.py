"""Pictures with a mask: shrinking them and softening them without letting the outside in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
from scipy import ndimage

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Plane = NDArray[np.float64]
    Mask = NDArray[np.bool_]


def resized(picture: Plane, mask: Mask, longest_px: int) -> tuple[Plane, Mask, float]:
    """Shrink to a longest side in px; the factor is new px a px. Never enlarges."""
    factor = min(1.0, longest_px / max(picture.shape))
    if factor == 1.0:
        return picture, mask, 1.0
    size = (max(4, round(picture.shape[1] * factor)), max(4, round(picture.shape[0] * factor)))
    weight = cv2.resize(mask.astype(np.float64), size, interpolation=cv2.INTER_AREA)
    value = cv2.resize(np.where(mask, picture, 0.0), size, interpolation=cv2.INTER_AREA)
    return np.asarray(value / np.maximum(weight, 1e-6), np.float64), np.asarray(weight > 0.5), factor


def softened(picture: Plane, mask: Mask, sigma_px: float) -> Plane:
    """Blur by a Gaussian, counting only what lies in the mask."""
    weight = ndimage.gaussian_filter(mask.astype(np.float64), sigma_px)
    value = ndimage.gaussian_filter(np.where(mask, picture, 0.0), sigma_px)
    return np.asarray(value / np.maximum(weight, 1e-3), np.float64)
