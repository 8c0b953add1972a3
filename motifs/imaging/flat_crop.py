"""A sherd cut out of a photograph whose plane is known: seen straight from above, whatever the slant of the camera."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

from motifs.imaging.colour import to_linear, to_srgb8
from motifs.imaging.light import corrected, gain_at
from motifs.imaging.outline import fill_outline
from motifs.imaging.plane import local_px_per_mm, plane_mm, plane_px
from motifs.records import CROP_PX_PER_MM, SherdCrop

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.records import LightField, PhotoImage, Plane

MARGIN_MM: Final = 3.0
"""Backdrop kept around the sherd."""

_MAX_SIDE_PX: Final = 6000
_MAX_SAMPLED_PX: Final = 9000
_KERNEL_REACH: Final = 4


def cut_flat_crop(photo: PhotoImage, light: LightField, plane: Plane, outline: NDArray[np.float32]) -> SherdCrop:
    """Cut one sherd out, rectified.

    Parameters
    ----------
    photo, light
        The photograph and its light field.
    plane
        Where the sherd lies.
    outline
        (N, 2) float32 polygon in px of the photograph, N >= 3.

    Returns
    -------
    SherdCrop
        At ``CROP_PX_PER_MM``, its axes those of the plane.

    Raises
    ------
    ValueError
        The outline lies outside the photograph.
    """
    flat_mm = plane_mm(plane, outline)
    low, high = flat_mm.min(axis=0) - MARGIN_MM, flat_mm.max(axis=0) + MARGIN_MM
    out = min(CROP_PX_PER_MM, _MAX_SIDE_PX / float((high - low).max()))
    source = float(local_px_per_mm(plane, 0.5 * (low + high)))
    # Sampled at a whole multiple of the crop's resolution that is no coarser than the photograph, then averaged down.
    fold = max(1, int(np.ceil(source / out - 0.05)))
    width, height = (max(1, int(np.ceil(side))) for side in (high - low) * out)
    fold = min(fold, max(1, _MAX_SAMPLED_PX // max(width, height)))
    size = (width * fold, height * fold)
    linear = _seen_from_above(photo, light, plane, low, out * fold, size)
    if fold > 1:
        linear = np.asarray(cv2.resize(linear, (width, height), interpolation=cv2.INTER_AREA), dtype=np.float32)
    return SherdCrop(
        image=to_srgb8(linear),
        mask=fill_outline((flat_mm - low) * out - 0.5, (height, width)),
        px_per_mm=CROP_PX_PER_MM,
        source_px_per_mm=source,
        is_scaled=True,
    )


def _seen_from_above(
    photo: PhotoImage,
    light: LightField,
    plane: Plane,
    corner_mm: NDArray[np.float64],
    px_per_mm: float,
    size: tuple[int, int],
) -> NDArray[np.float32]:
    """Corrected linear light, (h, w, 3), on a grid of the plane that starts at corner_mm."""
    x, y = np.meshgrid((np.arange(size[0]) + 0.5) / px_per_mm, (np.arange(size[1]) + 0.5) / px_per_mm)
    at = plane_px(plane, np.stack([x, y], axis=-1) + corner_mm).astype(np.float32)
    height, width = photo.rgb.shape[:2]
    left, top = np.maximum(np.floor(at.min(axis=(0, 1))).astype(int) - _KERNEL_REACH, 0)
    right, bottom = np.minimum(np.ceil(at.max(axis=(0, 1))).astype(int) + _KERNEL_REACH + 1, (width, height))
    if right - left < 1 or bottom - top < 1:
        raise ValueError("the outline lies outside the photograph")
    xx, yy = np.meshgrid(np.arange(left, right, dtype=np.float32), np.arange(top, bottom, dtype=np.float32))
    gain = gain_at(light, xx, yy, (width, height))
    part = corrected(to_linear(photo.rgb[top:bottom, left:right]), gain, light)
    moved = at - np.array([left, top], dtype=np.float32)
    sampled = cv2.remap(part, moved[..., 0], moved[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(sampled, dtype=np.float32)
