"""Colour for the renderer: sRGB, linear light and CIE L*a*b* (D65), and the clays' range in Munsell chips.

The conversions are those of IEC 61966-2-1 (sRGB) and CIE 15 (L*a*b*).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from motifs.practice.arrays import ByteMap, FloatArray, Map

WHITE_D65 = np.array([0.95047, 1.0, 1.08883])
RGB_TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
XYZ_TO_RGB = np.linalg.inv(RGB_TO_XYZ)

CLAY_CHIPS_SRGB: dict[str, tuple[int, int, int]] = {
    "5YR 6/6": (192, 135, 94),
    "10YR 7/3": (194, 170, 139),
    "2.5YR 5/8": (179, 101, 61),
    "7.5YR 4/2": (112, 92, 77),
    "10R 4/6": (142, 79, 62),
    "2.5YR 6/6": (195, 133, 103),
    "5YR 5/4": (152, 113, 88),
    "7.5YR 7/4": (204, 167, 133),
    "7.5YR 6/4": (177, 141, 108),
    "10YR 6/2": (161, 145, 125),
    "10YR 8/2": (214, 198, 175),
    "2.5Y 7/2": (185, 172, 147),
    "5Y 6/1": (152, 147, 134),
    "10YR 3/1": (79, 70, 62),
    "10R 5/8": (183, 98, 72),
    "7.5YR 8/6": (243, 190, 136),
    "5YR 3/2": (88, 67, 56),
}
"""sRGB of Munsell renotation chips (Newhall, Nickerson & Judd 1943; adapted from illuminant C to D65)."""


def srgb_to_linear(srgb: Any) -> FloatArray:
    """8-bit sRGB (0..255) to linear light (0..1)."""
    value = np.asarray(srgb, np.float64) / 255.0
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def _encode(linear: FloatArray) -> FloatArray:
    value = np.clip(linear, 0.0, 1.0)
    return np.where(value <= 0.0031308, 12.92 * value, 1.055 * value ** (1 / 2.4) - 0.055)


ENCODE_STEPS = 8192
_ENCODE_TABLE = np.round(_encode(np.linspace(0.0, 1.0, ENCODE_STEPS)) * 255.0).astype(np.uint8)


def linear_to_srgb(linear: Any) -> ByteMap:
    """Linear light (0..1, clipped) to 8-bit sRGB, through a table of 8192 steps."""
    index = np.clip(np.asarray(linear, np.float32) * (ENCODE_STEPS - 1) + 0.5, 0, ENCODE_STEPS - 1)
    return np.asarray(_ENCODE_TABLE[index.astype(np.uint16)], np.uint8)


def linear_to_lab(linear: Any) -> FloatArray:
    """Linear sRGB (..., 3) to L*a*b* under D65."""
    xyz = np.asarray(linear, np.float64) @ RGB_TO_XYZ.T / WHITE_D65
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1)


def lab_to_linear(lab: Any) -> FloatArray:
    """L*a*b* (..., 3) under D65 to linear sRGB, clipped to 0.002..1."""
    lab = np.asarray(lab, np.float64)
    fy = (lab[..., 0] + 16) / 116
    f = np.stack([fy + lab[..., 1] / 500, fy, fy - lab[..., 2] / 200], axis=-1)
    xyz = np.where(f > 6 / 29, f**3, 3 * (6 / 29) ** 2 * (f - 4 / 29)) * WHITE_D65
    return np.asarray(np.clip(xyz @ XYZ_TO_RGB.T, 0.002, 1.0), np.float64)


def clay_lab(rng: np.random.Generator) -> tuple[float, float, float]:
    """Draw the colour of a fired clay: a blend of two chips between 10R and 5Y, value 3 to 8."""
    chips = list(CLAY_CHIPS_SRGB.values())
    first, second = (linear_to_lab(srgb_to_linear(chips[int(k)])) for k in rng.integers(len(chips), size=2))
    share = rng.uniform(0.0, 0.5)
    lab = first * (1 - share) + second * share + rng.normal(0.0, [1.5, 0.8, 1.2])
    return float(np.clip(lab[0], 31.0, 80.5)), float(max(lab[1], -0.5)), float(max(lab[2], 3.0))


def shifted_lab(rng: np.random.Generator, lab: tuple[float, float, float], length: float) -> tuple[float, float, float]:
    """Move a colour by a given distance (CIE 1976 dE) in a random direction, more in lightness than in hue."""
    way = rng.normal(0.0, [1.0, 0.6, 0.8])
    moved = np.asarray(lab) + way / max(float(np.linalg.norm(way)), 1e-9) * length
    return float(np.clip(moved[0], 8.0, 95.0)), float(moved[1]), float(moved[2])


def mixed(below: Map, colour: Any, cover: Map) -> Map:
    """Lay a colour ((3,) linear) or a colour map over another by a cover map (H, W) in 0..1."""
    top = np.asarray(colour, np.float32)
    return below + (top - below) * cover[..., None]
