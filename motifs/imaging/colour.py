"""sRGB, linear light and CIE L*a*b* (D65), for arrays of whole photographs.

The transfer curve is that of IEC 61966-2-1 (sRGB); L*a*b* is CIE 15 with the D65 white, as in the records.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import cv2
import numpy as np
from skimage.color import deltaE_ciede2000

if TYPE_CHECKING:
    from numpy.typing import NDArray


def _decode_curve() -> NDArray[np.float32]:
    encoded = np.arange(256, dtype=np.float64) / 255.0
    linear = np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)
    return linear.astype(np.float32)


_LINEAR_OF_8BIT: Final = _decode_curve()
_ENCODE_STEPS: Final = 4096


def _encode_table() -> NDArray[np.uint8]:
    # Indexed by the square root of linear light, so that the steps stay fine in the darks.
    linear = (np.arange(_ENCODE_STEPS + 1, dtype=np.float64) / _ENCODE_STEPS) ** 2
    encoded = np.where(linear <= 0.0031308, linear * 12.92, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.rint(encoded * 255.0).astype(np.uint8)


_ENCODED_OF_ROOT: Final = _encode_table()


def to_linear(rgb: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Linear light, 0..1 float32, of 8-bit sRGB of any shape."""
    if rgb.ndim == 3 and rgb.size:  # OpenCV looks an image up five times as fast as numpy
        return np.asarray(cv2.LUT(rgb, _LINEAR_OF_8BIT), dtype=np.float32).reshape(rgb.shape)
    return _LINEAR_OF_8BIT[rgb]


def fractional_to_linear(levels: NDArray[np.floating[Any]]) -> NDArray[np.float32]:
    """Linear light of fractional 8-bit levels (0..255), by interpolation between whole ones."""
    low = np.floor(levels).astype(np.uint8)
    high = np.ceil(levels).astype(np.uint8)
    share = (levels - low).astype(np.float32)
    blend: NDArray[np.float32] = to_linear(low) * (1 - share) + to_linear(high) * share
    return blend


def to_srgb8(linear: NDArray[np.floating[Any]]) -> NDArray[np.uint8]:
    """8-bit sRGB of linear light; values outside 0..1 are clipped."""
    root = np.sqrt(np.clip(linear, 0.0, 1.0))
    encoded: NDArray[np.uint8] = _ENCODED_OF_ROOT[(root * _ENCODE_STEPS + 0.5).astype(np.int32)]
    return encoded


def linear_to_lab(linear: NDArray[np.floating[Any]]) -> NDArray[np.float32]:
    """L*a*b* (D65) of linear sRGB, (..., 3) float32; negative light is taken as none."""
    if linear.size == 0:
        return np.zeros(linear.shape, dtype=np.float32)
    light = np.ascontiguousarray(np.maximum(linear, 0.0), dtype=np.float32)
    # Row by row: an image goes in as it is, since rows of one pixel take seven times as long.
    rows = light if light.ndim == 3 else light.reshape(-1, 1, 3)
    lab = np.asarray(cv2.cvtColor(rows, cv2.COLOR_LRGB2Lab), dtype=np.float32)
    return lab.reshape(linear.shape)


def delta_e(lab_a: NDArray[np.floating[Any]], lab_b: NDArray[np.floating[Any]]) -> NDArray[np.float64]:
    """CIEDE2000 colour difference (Sharma, Wu & Dalal 2005) of L*a*b* colours, (..., 3) each."""
    first, second = np.asarray(lab_a, dtype=np.float64), np.asarray(lab_b, dtype=np.float64)
    return np.asarray(deltaE_ciede2000(first, second), dtype=np.float64)  # type: ignore[no-untyped-call]
