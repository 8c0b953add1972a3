"""What lies on the table besides sherds in style two: sheets, planks, cloth, measures, tickets."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from tests.outsider.optics import Image, lab_to_linear
from tests.outsider.style_two.grain import Tile, grain_tile

if TYPE_CHECKING:
    from numpy.typing import NDArray

HUES_DEG = {"coloured": (120, 330), "cloth": (0, 360)}


def spread_backdrop(kind: str, seed: int, shape: tuple[int, int], px: float) -> Image:
    """Reflectance (H, W, 3); the same seed is the same sheet."""
    rng = np.random.default_rng(seed + 5)
    y, x = np.meshgrid(np.arange(shape[0]) / px, np.arange(shape[1]) / px, indexing="ij")
    u, v = x.astype(np.float32), y.astype(np.float32)
    fibre = grain_tile(60, 0.5, rng)
    if kind == "cloth":
        return _cloth(u, v, fibre, rng)
    if kind == "wood":
        return _planks(u, v, fibre, rng)
    light = {"light": rng.uniform(78, 94), "dark": rng.uniform(10, 26), "coloured": rng.uniform(35, 70)}[kind]
    chroma = rng.uniform(15, 40) if kind == "coloured" else rng.uniform(0, 5)
    hue = np.radians(rng.uniform(*HUES_DEG.get(kind, (0, 360))))
    cloudy = grain_tile(400, 60, rng)
    return (
        lab_to_linear((light, chroma * np.cos(hue), chroma * np.sin(hue)))
        * (1 + 0.015 * fibre.at(u, v) + 0.015 * cloudy.at(u, v))[..., None]
    )


def _cloth(u: Image, v: Image, fibre: Tile, rng: np.random.Generator) -> Image:
    """Twill with folds."""
    hue, chroma = np.radians(rng.uniform(90, 340)), rng.uniform(3, 25)
    base = lab_to_linear((rng.uniform(28, 82), chroma * np.cos(hue), chroma * np.sin(hue)))
    pitch = rng.uniform(0.9, 1.8)
    pull = 0.5 * grain_tile(200, 30, rng).at(u, v)
    twill = np.sin(2 * np.pi * (u + v + pull) / pitch) + 0.6 * np.sin(2 * np.pi * (u - 0.5 * v + pull) / (0.7 * pitch))
    folds = np.zeros_like(u)
    for _ in range(int(rng.integers(2, 5))):
        turn = rng.uniform(0, np.pi)
        far = u * np.cos(turn) + v * np.sin(turn) - rng.uniform(20, 250)
        folds += rng.uniform(0.08, 0.2) * np.tanh(far / 3) * np.exp(-((far / 12) ** 2))
    return base * (1 + 0.09 * twill + 0.03 * fibre.at(u, v) + folds)[..., None].astype(np.float32)


def _planks(u: Image, v: Image, fibre: Tile, rng: np.random.Generator) -> Image:
    """Boards with rings, pores and dark seams."""
    wide = rng.uniform(70, 120)
    board = np.floor(v / wide)
    rings = grain_tile(300, 25, rng, stretch=5).at(u + board * 77, v)
    streak = np.sin(2 * np.pi * (3.5 * rings + v / 14 + board))
    base = lab_to_linear((rng.uniform(38, 66), rng.uniform(5, 12), rng.uniform(18, 28)))
    pores = grain_tile(120, 0.5, rng, stretch=12).at(u, v)
    seam = np.exp(-(((np.mod(v, wide) - 0.4) / 0.5) ** 2))
    tone = 1 + 0.1 * streak + 0.07 * pores + 0.04 * (board % 2) + 0.02 * fibre.at(u, v) - 0.75 * seam
    return np.clip(base * tone[..., None], 0.004, 1).astype(np.float32)


def draw_measure(bar_mm: int, px: float, rng: np.random.Generator) -> Image:
    """A printed card with a checkered bar of 1 cm cells, in two opposed rows or one row; (h, w) reflectance, 4x."""
    scale, margin = px * 4, rng.uniform(2.5, 5)
    rows, tall = int(rng.integers(1, 3)), rng.uniform(3.5, 6)
    below = 5.5 if rng.random() < 0.6 else 1.0
    size = (round((rows * tall + 2 * margin + below) * scale), round((bar_mm + 2 * margin) * scale))
    card = np.full(size, 0.84, np.float32)
    x = (np.arange(size[1]) + 0.5) / scale - margin
    y = (np.arange(size[0]) + 0.5) / scale - margin
    within = np.ix_((y >= -0.25) & (y < rows * tall + 0.25), (x >= -0.25) & (x < bar_mm + 0.25))
    card[within] = 0.05
    for row in range(rows):
        inside = np.ix_((y >= row * tall) & (y < (row + 1) * tall), (x >= 0) & (x < bar_mm))
        colours = np.where(np.floor(x / 10) % 2 == row, 0.05, 0.84)[(x >= 0) & (x < bar_mm)]
        card[inside] = colours
    if below > 2:
        _figures(card, bar_mm, margin, rows * tall + margin + 4.2, scale)
    return card


def _figures(card: Image, bar_mm: int, margin: float, base_mm: float, scale: float) -> None:
    ink = np.zeros(card.shape, np.uint8)
    for place, text in ((0, "0"), (bar_mm - 7, f"{bar_mm // 10} cm")):
        at = (round((margin + place) * scale), round(base_mm * scale))
        cv2.putText(
            ink, text, at, cv2.FONT_HERSHEY_SIMPLEX, scale * 0.11, 255, max(1, round(scale * 0.28)), cv2.LINE_AA
        )
    card *= 1 - 0.92 * ink.astype(np.float32) / 255


def draw_ticket(text: str, px: float, rng: np.random.Generator) -> NDArray[np.float32]:
    """A ruled ticket with a line of handwriting, (h, w) reflectance."""
    wide, tall = rng.uniform(22, 34), rng.uniform(12, 18)
    ticket = np.full((round(tall * px), round(wide * px)), rng.uniform(0.7, 0.85), np.float32)
    for line in np.arange(4, tall, 4):
        ticket[min(round(line * px), len(ticket) - 1)] *= 0.75
    ink = np.zeros(ticket.shape, np.uint8)
    cv2.putText(
        ink,
        text,
        (round(2 * px), round(7 * px)),
        cv2.FONT_HERSHEY_COMPLEX_SMALL,
        px / 7,
        255,
        max(1, round(px / 7)),
        cv2.LINE_AA,
    )
    return ticket * (1 - 0.85 * ink.astype(np.float32) / 255)
