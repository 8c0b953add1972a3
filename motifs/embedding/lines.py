"""Decoration without paste, paint or light: a picture of painted and cut lines only."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]

GROUND_MM = 3.0
"""Ground level is a mean over this reach (standard deviation), mm: wider than a line, narrower than a shadow."""
STROKE_MM = 1.5
"""What is shorter than this in every direction is temper, not a stroke, mm."""
RIM_MM = 0.6
"""Left out along the edge, where the surface is chipped or bends away, mm."""
DIRECTIONS = 8
GAIN = 40.0
STRONG_PERCENTILE = 95.0
FAINTEST = 0.06
"""Contrast that is not raised any further, share of the ground: an undecorated sherd stays grey."""
DARKEST = 10.0
"""Grey levels added to the ground, so that noise on black paste is not taken for contrast."""
PLAIN_SHARE = 0.1
"""How much undecorated ground counts beside lines."""
FULL_INK = 0.35
NEARBY_MM = 2.0
NEUTRAL = 128.0


def line_image(grey: Floats, mask: Floats, px_per_mm: float) -> Floats:
    """Show strokes, dark or bright, at one strength whatever the paste, paint and light.

    Contrast as a share of the ground's level, so that shading cancels; opened with short lines in eight directions so that specks of
    temper go and strokes stay, scaled by the sherd's own strongest contrast.

    Parameters
    ----------
    grey: (h, w) float32 in 0..255. mask: (h, w) float32 in 0..1.
    px_per_mm: of both.

    Returns
    -------
    (h, w) float32 in 0..255; 128 where nothing is drawn and outside the sherd.
    """
    reach = max(1, round(RIM_MM * px_per_mm))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    inner = cv2.erode(mask, disc, borderType=cv2.BORDER_CONSTANT, borderValue=0.0)
    share = cv2.GaussianBlur(inner, (0, 0), GROUND_MM * px_per_mm) + 1e-3
    ground = cv2.GaussianBlur(grey * inner, (0, 0), GROUND_MM * px_per_mm) / share
    contrast = ((grey - ground) / (ground + DARKEST) * inner).astype(np.float32)
    strokes = without_specks(contrast, max(3, round(STROKE_MM * px_per_mm) | 1))
    seen = np.abs(strokes[inner > 0.5])
    strength = max(float(np.percentile(seen, STRONG_PERCENTILE)) / 2.0 if seen.size else 0.0, FAINTEST)
    lines: Floats = np.clip(NEUTRAL + GAIN * strokes / strength, 0.0, 255.0).astype(np.float32)
    return lines


def without_specks(contrast: Floats, length_px: int) -> Floats:
    """Keep what is at least so long in some direction, dark and bright apart.

    Parameters
    ----------
    contrast: (h, w) float32, 0 for ground.
    length_px: odd, >= 3.
    """
    bright, dark = np.maximum(contrast, 0.0), np.maximum(-contrast, 0.0)
    kept = [np.zeros_like(contrast), np.zeros_like(contrast)]
    for segment in _segments(length_px):
        for number, side in enumerate((bright, dark)):
            kept[number] = np.maximum(kept[number], cv2.morphologyEx(side, cv2.MORPH_OPEN, segment))
    strokes: Floats = kept[0] - kept[1]
    return strokes


def attention(lines: NDArray[np.uint8], mask: NDArray[np.uint8], px_per_mm: float) -> NDArray[np.uint8]:
    """Weigh pixels by how much is drawn near them, so that plain ground does not drown the decoration.

    Parameters
    ----------
    lines: (S, S) uint8 line image. mask: (S, S) uint8, 0 outside the sherd.
    px_per_mm: of both.

    Returns
    -------
    (S, S) uint8, 0 outside the sherd, 255 amid decoration.
    """
    ink = np.abs(lines.astype(np.float32) - NEUTRAL) / NEUTRAL
    near = cv2.GaussianBlur(ink, (0, 0), NEARBY_MM * px_per_mm) / FULL_INK
    weight = np.clip(PLAIN_SHARE + (1.0 - PLAIN_SHARE) * near, 0.0, 1.0) * (mask > 0)
    weights: NDArray[np.uint8] = np.rint(weight * 255.0).astype(np.uint8)
    return weights


def _segments(length_px: int) -> list[NDArray[np.uint8]]:
    """Straight lines of one length through the middle of a square, evenly spaced in direction."""
    middle = (length_px - 1) / 2.0
    segments = []
    for angle in np.pi * np.arange(DIRECTIONS) / DIRECTIONS:
        dx, dy = middle * np.cos(angle), middle * np.sin(angle)
        segment = np.zeros((length_px, length_px), np.uint8)
        ends = (round(middle - dx), round(middle - dy)), (round(middle + dx), round(middle + dy))
        segments.append(cv2.line(segment, *ends, 1, 1).astype(np.uint8))
    return segments
