"""A sherd cut out of its photograph: light corrected, at a fixed number of pixels a millimetre."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

from motifs.imaging.colour import to_linear, to_srgb8
from motifs.imaging.flat_crop import MARGIN_MM, cut_flat_crop
from motifs.imaging.light import corrected, gain_at
from motifs.imaging.outline import as_outline, fill_outline
from motifs.records import CROP_PX_PER_MM, SherdCrop

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from motifs.records import LightField, PhotoImage, Scale

NOMINAL_SHERD_MM: Final = 50.0
"""Without a scale the longer side of the outline's box is taken as this, and the crop is marked unscaled."""

_MAX_CROP_SIDE_PX: Final = 6000


def cut_crop(photo: PhotoImage, light: LightField, scale: Scale | None, outline_px: ArrayLike) -> SherdCrop:
    """Cut one sherd out of a photograph.

    Shrinking averages over areas, enlarging uses a Lanczos kernel, both in linear light; the light field is divided
    out first. Parts of the margin outside the photograph repeat its last pixels. Where the scale knows the plane that the
    sherd lies in, the crop looks straight down on that plane.

    Parameters
    ----------
    photo
        The whole photograph.
    light
        Its light field.
    scale
        Its scale; None gives a nominal one (``is_scaled`` False).
    outline_px
        (N, 2) polygon, N >= 3.

    Returns
    -------
    SherdCrop
        ``image`` (h, w, 3) uint8 sRGB and ``mask`` (h, w) bool at ``CROP_PX_PER_MM`` px/mm.

    Raises
    ------
    ValueError
        The outline is no polygon, or lies outside the photograph.
    """
    outline = as_outline(outline_px)
    if scale is not None and scale.plane is not None:
        return cut_flat_crop(photo, light, scale.plane, outline)
    px_per_mm = scale.px_per_mm if scale is not None else _nominal_px_per_mm(outline)
    zoom = CROP_PX_PER_MM / px_per_mm
    left, top, right, bottom = _box(photo, outline, MARGIN_MM * px_per_mm)
    zoom = min(zoom, _MAX_CROP_SIDE_PX / max(right - left, bottom - top))
    linear = _corrected(photo, light, (left, top, right, bottom))
    width, height = max(1, round((right - left) * zoom)), max(1, round((bottom - top) * zoom))
    kernel = cv2.INTER_AREA if zoom < 1 else cv2.INTER_LANCZOS4
    resized = np.asarray(cv2.resize(linear, (width, height), interpolation=kernel), dtype=np.float32)
    stretch = np.array([width / (right - left), height / (bottom - top)])
    moved = (outline - (left, top) + 0.5) * stretch - 0.5
    return SherdCrop(
        image=to_srgb8(resized),
        mask=fill_outline(moved, (height, width)),
        px_per_mm=CROP_PX_PER_MM,
        source_px_per_mm=float(px_per_mm),
        is_scaled=scale is not None,
    )


def _nominal_px_per_mm(outline: NDArray[np.float32]) -> float:
    extent = float(np.ptp(outline, axis=0).max())
    return max(extent, 1.0) / NOMINAL_SHERD_MM


def _box(photo: PhotoImage, outline: NDArray[np.float32], margin_px: float) -> tuple[int, int, int, int]:
    height, width = photo.rgb.shape[:2]
    low = np.maximum(np.floor(outline.min(axis=0) - margin_px), 0).astype(int)
    high = np.minimum(np.ceil(outline.max(axis=0) + margin_px) + 1, (width, height)).astype(int)
    if (high - low < 1).any():
        raise ValueError("the outline lies outside the photograph")
    return int(low[0]), int(low[1]), int(high[0]), int(high[1])


def _corrected(photo: PhotoImage, light: LightField, box: tuple[int, int, int, int]) -> NDArray[np.float32]:
    left, top, right, bottom = box
    height, width = photo.rgb.shape[:2]
    xx, yy = np.meshgrid(np.arange(left, right, dtype=np.float32), np.arange(top, bottom, dtype=np.float32))
    gain = gain_at(light, xx, yy, (width, height))
    return corrected(to_linear(photo.rgb[top:bottom, left:right]), gain, light)
