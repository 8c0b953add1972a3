"""A sherd's crop drawn with known figures: a band of zigzags between framing lines, 10 px/mm, paste and paint as given."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from motifs.records import SherdCrop

PX = 10.0
FINER = 4
PASTE, PAINT, OTHER_PAINT = (192, 135, 94), (79, 70, 62), (142, 79, 62)
"""5YR 6/6, 10YR 3/1 and 10R 4/6 as sRGB (renotation, adapted from C to D65)."""


def banded_sherd(
    *,
    repeat_mm: float = 11.0,
    height_mm: float = 16.0,
    line_mm: float = 1.6,
    turn_deg: float = 0.0,
    size_mm: float = 46.0,
    framed: bool = True,
    zigzag: bool = True,
    second_paint: bool = False,
    noise: float = 2.0,
    seed: int = 1,
) -> SherdCrop:
    """Draw it four times finer, turn it anticlockwise, average down, blur a little and add noise."""
    side = round((size_mm + 8) * PX * FINER)
    image = Image.new("RGB", (side, side), PASTE)
    pen, k, middle = ImageDraw.Draw(image), PX * FINER, side / 2
    width = round(line_mm * k)
    if framed:
        for edge in (-height_mm / 2, height_mm / 2):
            y = middle + edge * k
            pen.line((0, y, side, y), PAINT, width)
    if zigzag:
        top, bottom = middle - (height_mm / 2 - line_mm) * k, middle + (height_mm / 2 - line_mm) * k
        corners = [
            (middle + (step * repeat_mm / 2 - 60) * k, top if step % 2 else bottom)
            for step in range(round(240 / repeat_mm))
        ]
        pen.line(corners, OTHER_PAINT if second_paint else PAINT, width, joint="curve")
    image = image.rotate(turn_deg, Image.Resampling.BICUBIC, fillcolor=PASTE)
    image = image.resize((side // FINER, side // FINER), Image.Resampling.BOX).filter(ImageFilter.GaussianBlur(0.8))
    rng = np.random.default_rng(seed)
    mask = _ragged(side // FINER, size_mm, rng)
    pixels = np.where(mask[..., None], np.asarray(image, np.float64), 150.0) + rng.normal(0, noise, (*mask.shape, 3))
    return SherdCrop(np.clip(np.rint(pixels), 0, 255).astype(np.uint8), mask, PX, 12.0, True)


def _ragged(side: int, size_mm: float, rng: np.random.Generator) -> np.ndarray:
    angles = np.sort(rng.uniform(0, 2 * np.pi, 11))
    radii = size_mm * PX / 2 * rng.uniform(0.85, 1.0, 11)
    corners = [(side / 2 + r * np.cos(a), side / 2 + r * np.sin(a)) for a, r in zip(angles, radii, strict=True)]
    mask = Image.new("1", (side, side))
    ImageDraw.Draw(mask).polygon(corners, fill=1)
    return np.asarray(mask, bool)
