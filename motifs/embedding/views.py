"""Fixed-scale views of a sherd: what a network sees.

Scale carries information (line width, spacing), so a sherd is never stretched to fill its square: it is
resampled to the encoder's px/mm, by area, and set on a square canvas. Small sherds stay small; a sherd
larger than the canvas is covered by several overlapping views. The backdrop is replaced by the colour that
the network takes for zero (measured: better than the sherd's own mean colour), so that it does not speak.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from motifs.embedding.contrast import contrast_image
from motifs.embedding.lines import NEUTRAL, attention, line_image
from motifs.errors import InputError
from motifs.records import SherdCrop

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from motifs.embedding.specs import EncoderSpec, Picture

    Floats = NDArray[np.float32]

Box = tuple[int, int, int, int]
"""X, Y, width, height in px of the crop."""

OVERLAP = 0.25
"""Share of a canvas that neighbouring views of a large sherd have in common, at least."""
MOST_VIEWS = 36
"""A sherd is covered by at most this many views a turn; the emptiest are left out."""
SMALLEST_SHARE = 0.05
"""A view with less sherd than this share of the fullest one's is left out."""


@dataclass(frozen=True, slots=True)
class View:
    """One square picture of (a part of) a sherd.

    image: (S, S, 3) uint8 sRGB. mask: (S, S) uint8, how much the network listens to a pixel, 0 outside the sherd and
    255 inside (less on undecorated ground, for an encoder of lines). weight: sum of the mask / 255, > 0.
    """

    image: NDArray[np.uint8]
    mask: NDArray[np.uint8]
    weight: float


def cut_box(crop: SherdCrop, box: Box) -> SherdCrop:
    """Cut a detail out of a crop.

    Parameters
    ----------
    crop: of the sherd.
    box: px of the crop; parts beyond the crop are ignored.

    Raises
    ------
    InputError: width or height below 1, or no part of the sherd inside.
    """
    x, y, width, height = box
    rows, columns = slice(max(y, 0), max(y + height, 0)), slice(max(x, 0), max(x + width, 0))
    mask = crop.mask[rows, columns]
    if width < 1 or height < 1 or not mask.any():
        raise InputError(f"Box {x},{y},{width},{height} holds no part of the sherd; draw it over the sherd.")
    return SherdCrop(crop.image[rows, columns], mask, crop.px_per_mm, crop.source_px_per_mm, crop.is_scaled)


def views_of(crop: SherdCrop, spec: EncoderSpec) -> Iterator[View]:
    """Prepare every view of a sherd that an encoder asks for, turn by turn.

    Parameters
    ----------
    crop: of the sherd; its mask must not be empty.
    spec: px_per_mm, input_px, rotations and picture are used.

    Yields
    ------
    View: at least one a turn.

    Raises
    ------
    ValueError: image and mask differ in size, or the mask is empty.
    """
    if crop.image.shape[:2] != crop.mask.shape or crop.image.ndim != 3:
        raise ValueError(f"image {crop.image.shape} and mask {crop.mask.shape} of a crop do not fit")
    if not crop.mask.any():
        raise ValueError("the crop's mask is empty")
    is_lines = spec.picture == "lines"
    is_relative = spec.picture in {"lines", "contrast"}
    neutral = np.full(3, NEUTRAL, np.float32) if is_relative else np.array(spec.mean, np.float32) * np.float32(255.0)
    image, mask = _rescale(_trim(crop), spec.px_per_mm / crop.px_per_mm, neutral)
    image = _picture(image, mask, spec.picture, spec.px_per_mm)
    for turn in range(spec.rotations):
        turned, turned_mask = _turn(image, mask, 360.0 * turn / spec.rotations, neutral)
        for view in _cover(turned, turned_mask, spec.input_px, neutral):
            yield _attentive(view, spec.px_per_mm) if is_lines else view


def decorated_picture(crop: SherdCrop, spec: EncoderSpec) -> tuple[Floats, Floats, tuple[int, int]]:
    """Prepare a whole sherd unturned, as one picture of its own size.

    Returns
    -------
    image: (h, w, 3) float32 in 0..255, neutral outside the sherd, at spec.px_per_mm.
    mask: (h, w) float32 in 0..1.
    corner_px: x, y in px of the crop where the picture's left upper corner lies.

    Raises
    ------
    ValueError: as views_of.
    """
    if crop.image.shape[:2] != crop.mask.shape or not crop.mask.any():
        raise ValueError(f"image {crop.image.shape} and mask {crop.mask.shape} of a crop do not fit, or it is empty")
    is_relative = spec.picture in {"lines", "contrast"}
    neutral = np.full(3, NEUTRAL, np.float32) if is_relative else np.array(spec.mean, np.float32) * np.float32(255.0)
    image, mask = _rescale(_trim(crop), spec.px_per_mm / crop.px_per_mm, neutral)
    corner = int(np.flatnonzero(crop.mask.any(axis=0))[0]), int(np.flatnonzero(crop.mask.any(axis=1))[0])
    return _picture(image, mask, spec.picture, spec.px_per_mm), mask, corner


def _attentive(view: View, px_per_mm: float) -> View:
    """Let a view of lines be heard where something is drawn."""
    weights = attention(view.image[..., 0], view.mask, px_per_mm)
    return View(view.image, weights, float(weights.sum(dtype=np.int64)) / 255.0)


def _trim(crop: SherdCrop) -> SherdCrop:
    """Cut away what lies beyond the sherd, so that its place in the crop does not matter."""
    rows, columns = np.flatnonzero(crop.mask.any(axis=1)), np.flatnonzero(crop.mask.any(axis=0))
    inner = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    return SherdCrop(crop.image[inner], crop.mask[inner], crop.px_per_mm, crop.source_px_per_mm, crop.is_scaled)


def _rescale(crop: SherdCrop, factor: float, neutral: Floats) -> tuple[Floats, Floats]:
    """Resample without letting the backdrop bleed in.

    Returns
    -------
    image: (h, w, 3) float32 in 0..255, neutral outside the sherd.
    mask: (h, w) float32 in 0..1, the share of a pixel that is sherd.
    """
    height, width = (max(1, round(side * factor)) for side in crop.mask.shape)
    how = cv2.INTER_AREA if factor < 1.0 else cv2.INTER_LINEAR
    weight = crop.mask.astype(np.float32)
    lit = cv2.resize(crop.image.astype(np.float32) * weight[..., None], (width, height), interpolation=how)
    mask = cv2.resize(weight, (width, height), interpolation=how)
    image = lit + (1.0 - mask[..., None]) * neutral
    return image.astype(np.float32), mask.astype(np.float32)


def _picture(image: Floats, mask: Floats, picture: Picture, px_per_mm: float) -> Floats:
    if picture == "contrast":
        return contrast_image(image, mask, px_per_mm)
    if picture == "colour":
        return image
    grey = image @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    if picture == "lines":
        grey = line_image(grey, mask, px_per_mm)
    return np.repeat(grey[..., None], 3, axis=2).astype(np.float32)


def _turn(image: Floats, mask: Floats, angle_deg: float, neutral: Floats) -> tuple[Floats, Floats]:
    """Turn a sherd anticlockwise on a canvas that holds all of it; right angles are exact."""
    if angle_deg % 90.0 == 0.0:
        quarter = round(angle_deg / 90.0)
        return np.rot90(image, quarter), np.rot90(mask, quarter)
    height, width = mask.shape
    matrix = cv2.getRotationMatrix2D(((width - 1) / 2.0, (height - 1) / 2.0), angle_deg, 1.0)
    cos, sin = abs(matrix[0, 0]), abs(matrix[0, 1])
    size = math.ceil(width * cos + height * sin), math.ceil(width * sin + height * cos)
    matrix[:, 2] += (size[0] - width) / 2.0, (size[1] - height) / 2.0
    turned = cv2.warpAffine(image, matrix, size, flags=cv2.INTER_LINEAR, borderValue=[float(v) for v in neutral])
    turned_mask = cv2.warpAffine(mask, matrix, size, flags=cv2.INTER_LINEAR, borderValue=0.0)
    rows, columns = np.flatnonzero(turned_mask.max(axis=1) > 0.5), np.flatnonzero(turned_mask.max(axis=0) > 0.5)
    if len(rows) == 0:
        return turned.astype(np.float32), turned_mask.astype(np.float32)
    inner = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)  # the turn added empty corners
    return turned[inner].astype(np.float32), turned_mask[inner].astype(np.float32)


def _cover(image: Floats, mask: Floats, side_px: int, neutral: Floats) -> Iterator[View]:
    """Set a sherd on one canvas, or on several overlapping ones."""
    spots = [(top, left) for top in _starts(mask.shape[0], side_px) for left in _starts(mask.shape[1], side_px)]
    pixels = [float(mask[_window(spot, side_px)].sum()) for spot in spots]
    fullest = max(pixels)
    order = sorted(range(len(spots)), key=lambda i: (-pixels[i], i))[:MOST_VIEWS]
    for index in sorted(order):
        if pixels[index] >= SMALLEST_SHARE * fullest and pixels[index] > 0.0:
            yield _canvas(image, mask, neutral, spots[index], side_px, pixels[index])


def _starts(length: int, side_px: int) -> list[int]:
    """First pixels of the windows that cover a length; one centred window when it fits."""
    if length <= side_px:
        return [(length - side_px) // 2]
    count = 1 + math.ceil((length - side_px) / (side_px * (1.0 - OVERLAP)))
    return [round(i * (length - side_px) / (count - 1)) for i in range(count)]


def _window(spot: tuple[int, int], side_px: int) -> tuple[slice, slice]:
    top, left = spot
    return slice(max(top, 0), top + side_px), slice(max(left, 0), left + side_px)


def _canvas(image: Floats, mask: Floats, neutral: Floats, spot: tuple[int, int], side_px: int, weight: float) -> View:
    window = _window(spot, side_px)
    part, part_mask = image[window], mask[window]
    top, left = max(-spot[0], 0), max(-spot[1], 0)
    inside = slice(top, top + part_mask.shape[0]), slice(left, left + part_mask.shape[1])
    canvas = np.empty((side_px, side_px, 3), np.uint8)
    canvas[:] = np.rint(neutral).astype(np.uint8)
    canvas[inside] = np.clip(np.rint(part), 0, 255).astype(np.uint8)
    canvas_mask = np.zeros((side_px, side_px), np.uint8)
    canvas_mask[inside] = np.where(part_mask > 0.5, 255, 0)
    return View(canvas, canvas_mask, weight)
