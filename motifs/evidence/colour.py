"""Colour spaces of the evidence: sRGB, linear light, CIE L*a*b* and log-ratio colour.

Log-ratio colour is (100 ln Y, 100 ln R/G, 100 ln B/G) of linear sRGB. A change of light multiplies linear values, so it
adds a constant in this space whatever the surface, and shading of a curved wall moves the first component only.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

LINEAR_FLOOR = 0.004
"""About one step of 8 bits in linear light: below it a logarithm says nothing."""

# IEC 61966-2-1:1999 (sRGB, D65); rows X, Y, Z.
_RGB_TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
_WHITE = _RGB_TO_XYZ.sum(axis=1)
_CIE_DELTA = 6 / 29


def srgb_to_linear(rgb: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Linear light 0..1 of 8-bit sRGB of any shape, by table."""
    return _LINEAR_TABLE[rgb]


def _linear_table() -> NDArray[np.float32]:
    value = np.arange(256) / 255.0
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4).astype(np.float32)


_LINEAR_TABLE = _linear_table()


def linear_to_lab(linear: NDArray[np.floating]) -> NDArray[np.float64]:
    """CIE 1976 L*a*b* (D65) of linear sRGB, shape (..., 3)."""
    ratio = np.asarray(linear, np.float64) @ _RGB_TO_XYZ.T / _WHITE
    bent = np.where(ratio > _CIE_DELTA**3, np.cbrt(ratio), ratio / (3 * _CIE_DELTA**2) + 4 / 29)
    x, y, z = bent[..., 0], bent[..., 1], bent[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def lab_to_linear(lab: NDArray[np.floating]) -> NDArray[np.float64]:
    """Linear sRGB of CIE L*a*b* (D65), shape (..., 3); may leave 0..1."""
    lab = np.asarray(lab, np.float64)
    y = (lab[..., 0] + 16) / 116
    bent = np.stack([y + lab[..., 1] / 500, y, y - lab[..., 2] / 200], axis=-1)
    ratio = np.where(bent > _CIE_DELTA, bent**3, 3 * _CIE_DELTA**2 * (bent - 4 / 29))
    return np.asarray(ratio * _WHITE @ np.linalg.inv(_RGB_TO_XYZ).T)


def linear_to_log_ratio(linear: NDArray[np.floating]) -> NDArray[np.float64]:
    """Log-ratio colour of linear sRGB, shape (..., 3); values under LINEAR_FLOOR are raised to it."""
    rgb = np.log(np.maximum(np.asarray(linear, np.float64), LINEAR_FLOOR)) * 100
    luminance = np.maximum(np.asarray(linear, np.float64), LINEAR_FLOOR) @ _RGB_TO_XYZ[1]
    return np.stack([100 * np.log(luminance), rgb[..., 0] - rgb[..., 1], rgb[..., 2] - rgb[..., 1]], axis=-1)


def lab_to_log_ratio(lab: NDArray[np.floating]) -> NDArray[np.float64]:
    """Log-ratio colour of CIE L*a*b*, shape (..., 3)."""
    return linear_to_log_ratio(lab_to_linear(lab))
