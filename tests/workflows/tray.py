"""A small plain tray photograph for the tests of workflows and commands: what they need is known sherds, not realism.

Grey backdrop, a 5 cm bar of 1 cm blocks, irregular sherds of two pastes with painted lines, a little noise.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw

if TYPE_CHECKING:
    from pathlib import Path

PX_PER_MM = 6.0
SIZE_PX = (900, 700)
BACKDROP = (150, 150, 150)
PASTES = ((178, 112, 72), (206, 186, 150))
PAINT = (60, 35, 28)
RADIUS_PX = 80


def tray_image(seed: int, *, sherds: int = 4, bar: bool = True) -> Image.Image:
    """A tray of up to six sherds, alternately of two pastes, px/mm as above."""
    rng = np.random.default_rng(seed)
    image = Image.new("RGB", SIZE_PX, BACKDROP)
    pen = ImageDraw.Draw(image)
    for number in range(sherds):
        centre = np.array([150 + 290 * (number % 3), 140 + 240 * (number // 3)])
        _draw_sherd(image, centre, PASTES[number % 2], rng)
    if bar:
        for block in range(5):
            left = 120 + round(block * 10 * PX_PER_MM)
            fill = (12, 12, 12) if block % 2 == 0 else (244, 244, 244)
            pen.rectangle((left, 610, left + round(10 * PX_PER_MM) - 1, 645), fill=fill)
    pixels = np.asarray(image, dtype=np.float64)
    return Image.fromarray(np.clip(pixels + rng.normal(0, 2.0, pixels.shape), 0, 255).astype(np.uint8))


def _draw_sherd(image: Image.Image, centre: np.ndarray, paste: tuple[int, int, int], rng: np.random.Generator) -> None:
    angles = np.linspace(0, 2 * np.pi, 9, endpoint=False) + rng.normal(0, 0.1, 9)
    corners = centre + (RADIUS_PX * rng.uniform(0.75, 1.1, 9))[:, None] * np.column_stack(
        [np.cos(angles), np.sin(angles)]
    )
    mask = Image.new("L", image.size, 0)
    ImageDraw.Draw(mask).polygon([tuple(corner) for corner in corners], fill=255)
    face = Image.new("RGB", image.size, paste)
    pen = ImageDraw.Draw(face)
    for offset in range(-60, 61, 24):
        y = float(centre[1]) + offset
        pen.line((centre[0] - 100, y, centre[0] + 100, y + float(rng.normal(0, 4))), fill=PAINT, width=7)
    image.paste(face, mask=mask)


def save_tray(path: Path, seed: int, *, sherds: int = 4, bar: bool = True) -> Path:
    """Write a tray as JPEG or PNG, by the path's suffix."""
    tray_image(seed, sherds=sherds, bar=bar).save(path, quality=95)
    return path
