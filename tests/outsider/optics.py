"""Colour and file steps that both styles need: L*a*b* to linear light, linear light to a JPEG."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.color import lab2rgb

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

Image = NDArray[np.float32]


def lab_to_linear(lab: Sequence[float] | NDArray[np.floating]) -> Image:
    """L*a*b* (D65) to linear sRGB, any leading shape, clipped to 0.003..1."""
    encoded = lab2rgb(np.asarray(lab, dtype=float))
    linear = np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)
    return np.clip(linear, 0.003, 1.0).astype(np.float32)


def encode_srgb(linear: Image) -> NDArray[np.uint8]:
    """Linear 0..1 to 8-bit sRGB (IEC 61966-2-1 curve), through a table of 4096 steps."""
    steps = np.linspace(0, 1, 4096)
    curve = np.where(steps <= 0.0031308, steps * 12.92, 1.055 * steps ** (1 / 2.4) - 0.055)
    table = np.round(curve * 255).astype(np.uint8)
    return table[(np.clip(linear, 0, 1) * 4095).astype(np.uint16)]


def write_jpeg(rgb: NDArray[np.uint8], path: Path, quality: int, *, halve_chroma: bool) -> None:
    """Write a JPEG; halve_chroma chooses 4:2:0 over 4:4:4."""
    sampling = cv2.IMWRITE_JPEG_SAMPLING_FACTOR_420 if halve_chroma else cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444
    options = [cv2.IMWRITE_JPEG_QUALITY, quality, cv2.IMWRITE_JPEG_SAMPLING_FACTOR, sampling]
    if not cv2.imwrite(str(path), cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR), options):
        raise OSError(f"could not write {path.name}")
