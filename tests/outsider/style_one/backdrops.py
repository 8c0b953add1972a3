"""Backdrops, scale bars and paper slips of style one, as reflectance."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from tests.outsider.optics import Image, lab_to_linear
from tests.outsider.style_one.surface import cyclic_noise

if TYPE_CHECKING:
    from numpy.typing import NDArray

TONES = {"light": (84, 96), "dark": (8, 22), "coloured": (38, 72), "cloth": (45, 80), "wood": (42, 66)}


def lay_backdrop(kind: str, seed: int, shape: tuple[int, int], px: float) -> Image:
    """Reflectance of a backdrop, (H, W, 3) linear; the same seed gives the same sheet."""
    rng = np.random.default_rng(seed)
    tone = rng.uniform(*TONES[kind])
    chroma, hue = (
        {"coloured": rng.uniform(18, 38), "wood": 24.0}.get(kind, rng.uniform(0, 4)),
        rng.uniform(0, 2 * np.pi),
    )
    if kind == "wood":
        hue = np.radians(70)
    if kind == "coloured":  # not the hue of clay, as a photographer would choose
        hue = rng.uniform(np.radians(110), np.radians(300))
    base = lab_to_linear((tone, chroma * np.cos(hue), chroma * np.sin(hue)))
    return base * _weave(kind, shape, px, rng)[..., None]


def _weave(kind: str, shape: tuple[int, int], px: float, rng: np.random.Generator) -> Image:
    fine = 1 + 0.012 * cyclic_noise(shape, 2, rng) + 0.012 * cyclic_noise(shape, 30 * px, rng)
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32) / np.float32(px)
    if kind == "cloth":
        wobble = 0.3 * cyclic_noise(shape, 20 * px, rng)
        pitch = rng.uniform(0.8, 1.4)
        threads = np.sin(2 * np.pi * (x + wobble) / pitch) * np.sin(2 * np.pi * (y + wobble) / pitch)
        return fine * (1 + 0.13 * threads + 0.09 * cyclic_noise(shape, 35 * px, rng))
    if kind == "wood":
        rings = np.sin(2 * np.pi * (y / 9 + 0.7 * cyclic_noise(shape, 60 * px, rng) + 0.004 * x))
        grain = cv2.blur(rng.normal(0, 1, shape).astype(np.float32), (round(12 * px), 1)) * 3
        return np.clip(fine * (1 + 0.13 * rings + 0.12 * grain), 0.3, 1.6)
    return fine


def draw_bar(bar_mm: int, px: float, rng: np.random.Generator) -> tuple[Image, NDArray[np.bool_]]:
    """One row of 1 cm blocks, black first, in a thin black frame; reflectance (h, w) and footprint."""
    tall, over = rng.uniform(6, 10), 4
    frame = 0.4
    size = (round((tall + 2 * frame) * px * over), round((bar_mm + 2 * frame) * px * over))
    bar = np.full(size, 0.035, np.float32)
    x = (np.arange(size[1]) + 0.5) / (px * over) - frame
    y = (np.arange(size[0]) + 0.5) / (px * over) - frame
    white = (x >= 0) & (x < bar_mm) & (np.floor(x / 10) % 2 == 1)
    bar[np.ix_((y >= 0) & (y < tall), white)] = 0.86
    return bar, np.ones(size, bool)


def turn_bar(bar: Image, bar_over: int, angle_deg: float) -> tuple[Image, Image]:
    """Rotate a supersampled bar; give its reflectance and coverage, both (h, w), at final resolution."""
    height, width = bar.shape
    reach = int(np.hypot(height, width)) // bar_over + 6
    turn = cv2.getRotationMatrix2D((0, 0), angle_deg, 1.0)
    centre = np.array([(width - 1) / 2, (height - 1) / 2])
    turn[:, 2] = (reach * bar_over - 1) / 2 - turn[:, :2] @ centre
    side = (reach * bar_over, reach * bar_over)
    cover = cv2.warpAffine(np.ones_like(bar), turn, side, flags=cv2.INTER_LINEAR)
    ink = cv2.warpAffine(bar, turn, side, flags=cv2.INTER_LINEAR)
    small = (reach, reach)
    cover = cv2.resize(cover, small, interpolation=cv2.INTER_AREA)
    return cv2.resize(ink, small, interpolation=cv2.INTER_AREA) / np.maximum(cover, 1e-3), cover


def draw_slip(text: str, px: float, rng: np.random.Generator) -> Image:
    """A paper slip with a number in ink, (h, w) reflectance."""
    slip = np.full((round(9 * px), round(20 * px)), 0.82, np.uint8).astype(np.float32)
    slip[:] = 0.82
    ink = np.full(slip.shape, 255, np.uint8)
    cv2.putText(
        ink,
        text,
        (round(2 * px), round(6.4 * px)),
        cv2.FONT_HERSHEY_SCRIPT_SIMPLEX,
        px / 6.5,
        30,
        max(1, round(px / 6)),
        cv2.LINE_AA,
    )
    return (
        slip
        * (0.15 + 0.85 * ink.astype(np.float32) / 255)
        * (1 + 0.02 * rng.normal(size=slip.shape).astype(np.float32))
    )
