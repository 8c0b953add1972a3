"""The decoration as one number a pixel, where ink and ground are not told apart: worn paint, incised and impressed lines.

A groove in raking light has a bright and a dark flank, which a mirror exchanges; how far a pixel stands out from its
surroundings, bright or dark, is the same on both sides.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import ndimage

from motifs.design.pictures import softened

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Plane = NDArray[np.float64]
    Mask = NDArray[np.bool_]

LINE_MM = 0.35
SURROUNDINGS_MM = 5.0
_LUMINANCE = (0.2126, 0.7152, 0.0722)  # of linear sRGB, ITU-R BT.709


def tone_of(linear: NDArray[np.float32], mask: Mask, px_per_mm: float) -> Plane:
    """Lightness against the surroundings, signed: for paint.

    Parameters
    ----------
    linear : (h, w, 3) linear sRGB.
    mask : (h, w) bool.
    px_per_mm : of the picture.

    Returns
    -------
    (h, w) float64, natural logarithm of luminance over that of the surroundings, cut off at the outer thousandths.
    """
    luminance = np.log(np.maximum(linear.astype(np.float64) @ _LUMINANCE, 1e-3))
    near = softened(luminance, mask, LINE_MM * px_per_mm / 2)
    around = softened(luminance, mask, SURROUNDINGS_MM * px_per_mm)
    stands_out = np.where(mask, near - around, 0.0)
    low, high = np.quantile(stands_out[mask], [0.001, 0.999]) if mask.any() else (0.0, 0.0)
    return np.asarray(np.clip(stands_out, low, high), np.float64)


def marks_of(linear: NDArray[np.float32], mask: Mask, px_per_mm: float) -> Plane:
    """How far a pixel stands out from its surroundings, bright or dark: for lines cut or pressed into the clay.

    Parameters and shape as for `tone_of`; values from 0.
    """
    luminance = np.log(np.maximum(linear.astype(np.float64) @ _LUMINANCE, 1e-3))
    near = softened(luminance, mask, LINE_MM * px_per_mm / 3)
    around = ndimage.median_filter(near, size=max(3, round(3.0 * px_per_mm) // 2 * 2 + 1)) if mask.any() else near
    stands_out = np.where(mask, np.abs(near - around), 0.0)
    top = float(np.quantile(stands_out[mask], 0.995)) if mask.any() else 0.0
    return softened(np.minimum(stands_out, top), mask, LINE_MM * px_per_mm)
