"""Whether a sherd was photographed well enough to be measured: blur at its outline, burnt-out and blocked-up pixels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np
from scipy.ndimage import map_coordinates

from motifs.imaging.outline import as_outline, fill_outline

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from motifs.records import PhotoImage

BURNT_LEVEL: Final = 254
"""A channel at this 8-bit level or above has lost what was there; common practice, no source."""

BLOCKED_LEVEL: Final = 2
_REACH_PX: Final = 12.0
_STEP_PX: Final = 0.5
_PLACES: Final = 96
_LEAST_STEP: Final = 15.0
"""8-bit levels between sherd and backdrop below which an edge says nothing of blur."""
_LEAST_PROFILES: Final = 8
_FLOOR_PX: Final = 0.15
"""Blur below half a pixel can hardly be told from none."""


@dataclass(frozen=True, slots=True)
class ShotQuality:
    """How one sherd came out.

    blur_px: standard deviation of the Gaussian that blurs its outline, px of the photograph, and its standard
    uncertainty; None where sherd and backdrop hardly differ. burnt_share, blocked_share: 0..1 of its pixels.
    """

    blur_px: float | None
    blur_px_sd: float | None
    burnt_share: float
    blocked_share: float


def shot_quality(photo: PhotoImage, outline_px: ArrayLike) -> ShotQuality:
    """Judge how a sherd was photographed.

    A step blurred by a Gaussian has its steepest slope at step / (sigma sqrt(2 pi)). Slopes are read across the outline
    at many places; the lower quartile counts, since shadows and worn edges only ever make an edge softer.

    Parameters
    ----------
    photo
        The whole photograph as shot, not light-corrected.
    outline_px
        (N, 2) polygon, N >= 3.

    Raises
    ------
    ValueError
        The outline is no polygon, or lies outside the photograph.
    """
    outline = as_outline(outline_px)
    burnt, blocked = _clipped_shares(photo.rgb, outline)
    sigmas = _edge_sigmas(photo.rgb, outline)
    if sigmas.size < _LEAST_PROFILES:
        return ShotQuality(None, None, burnt, blocked)
    low = float(np.quantile(sigmas, 0.25))
    near = sigmas[sigmas <= np.median(sigmas)]
    sd = float(np.hypot(near.std() / np.sqrt(near.size) + 0.05 * low, _FLOOR_PX))
    return ShotQuality(low, sd, burnt, blocked)


def _clipped_shares(rgb: NDArray[np.uint8], outline: NDArray[np.float32]) -> tuple[float, float]:
    height, width = rgb.shape[:2]
    left, top = np.maximum(np.floor(outline.min(axis=0)), 0).astype(int)
    right, bottom = np.minimum(np.ceil(outline.max(axis=0)) + 1, (width, height)).astype(int)
    if right <= left or bottom <= top:
        raise ValueError("the outline lies outside the photograph")
    box = np.ascontiguousarray(rgb[top:bottom, left:right])
    mask = fill_outline(outline - (left, top), (bottom - top, right - left)).astype(np.uint8)
    pixels = cv2.countNonZero(mask)
    if not pixels:
        return 0.0, 0.0
    brightest = cv2.max(cv2.max(box[..., 0], box[..., 1]), box[..., 2])
    counts = cv2.calcHist([brightest], [0], mask, [256], [0, 256]).ravel()
    return float(counts[BURNT_LEVEL:].sum() / pixels), float(counts[: BLOCKED_LEVEL + 1].sum() / pixels)


def _edge_sigmas(rgb: NDArray[np.uint8], outline: NDArray[np.float32]) -> NDArray[np.float64]:
    """Blur in px at each place of the outline where the step is clear."""
    places, normals = _places_and_normals(outline)
    reach = np.arange(-_REACH_PX, _REACH_PX + _STEP_PX / 2, _STEP_PX)
    points = places[:, None] + reach[None, :, None] * normals[:, None]
    levels = _levels_at(rgb, points)
    step = np.abs(np.median(levels[:, :6], axis=1) - np.median(levels[:, -6:], axis=1))
    slope = np.abs(levels[:, 2:] - levels[:, :-2]).max(axis=1) / (2 * _STEP_PX)
    clear = (step >= _LEAST_STEP) & (slope > 0)
    # Differences over one pixel and interpolation between pixels widen an edge; their variances come off again.
    widened = (2 * _STEP_PX) ** 2 / 12 + 1 / 6
    sigma = step[clear] / (slope[clear] * np.sqrt(2 * np.pi))
    return np.asarray(np.sqrt(np.maximum(sigma**2 - widened, 0.0)), np.float64)


def _places_and_normals(outline: NDArray[np.float32]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Places evenly along the outline, (n, 2), and unit vectors across it."""
    closed = np.vstack([outline, outline[:1]]).astype(np.float64)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.linspace(0, along[-1], 4 * _PLACES, endpoint=False)
    fine = np.column_stack([np.interp(at, along, closed[:, axis]) for axis in (0, 1)])
    tangent = np.roll(fine, -2, axis=0) - np.roll(fine, 2, axis=0)
    normal = np.column_stack([tangent[:, 1], -tangent[:, 0]])
    normal /= np.maximum(np.hypot(*normal.T), 1e-9)[:, None]
    return fine[::4], normal[::4]


def _levels_at(rgb: NDArray[np.uint8], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Grey levels at points (..., 2) of the photograph; beyond its edge the last pixels are repeated."""
    low = np.maximum(np.floor(points.min(axis=(0, 1))) - 1, 0).astype(int)
    high = np.minimum(np.ceil(points.max(axis=(0, 1))) + 2, rgb.shape[1::-1]).astype(int)
    grey = cv2.cvtColor(np.ascontiguousarray(rgb[low[1] : high[1], low[0] : high[0]]), cv2.COLOR_RGB2GRAY)
    rows, columns = points[..., 1] - low[1], points[..., 0] - low[0]
    return np.asarray(map_coordinates(grey.astype(np.float64), [rows, columns], order=1, mode="nearest"), np.float64)
