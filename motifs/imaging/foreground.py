"""Which pixels are not backdrop, and not the shadow that a sherd throws on it.

Colours are compared after the light has been flattened. A shadow is backdrop with less light: it lies on the
curve from the backdrop's colour towards black, and its outer edge is soft. What lies off that curve, or
is lighter, or much darker, is foreground. What lies on it is decided by its edges: backdrop floods into it unless a
sharp edge stops the flood.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import cv2
import numpy as np

from motifs.imaging.backdrop_colour import (
    BLACK_LIGHTNESS,
    CODING_SIGMA_PX,
    BackdropColour,
    backdrop_colour,
    coding_sd,
    distances,
    grained_colour,
)
from motifs.imaging.colour import linear_to_lab, to_linear
from motifs.imaging.faint import enclosed_regions, faint_regions, has_grain

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.imaging.backdrop import Surface

_HIGH: Final = 5.0  # standard deviations of the backdrop: surely not backdrop
_STRONG: Final = 10.0  # more than coding noise ever makes
_LOW: Final = 2.6  # joined when attached to sure foreground
_GAP: Final = np.ones((5, 5), dtype=np.uint8)  # a leak through a sherd's edge is narrower than this
_SHARP_SIDE: Final = 0.3  # share of a shadow-like region's lit border that betrays a thing
_LIGHT_SHADOW: Final = 0.5  # share of light left from which on a shadow may have a sharp edge
_STRIP_ROWS: Final = 24
_LEAST_THING: Final = 60  # px: smaller lone regions stay shadow or dirt


@dataclass(frozen=True, slots=True)
class Foreground:
    """What stands out from the backdrop, on the working image.

    mask: (h, w) bool, sherds and everything else that is neither backdrop nor shadow. sure: (h, w) bool, the
    part that lies off the shadow curve. raw: (h, w) bool, the mask before gaps were closed. lab: (h, w, 3) float32 flattened and smoothed. colour: the backdrop's.
    """

    mask: NDArray[np.bool_]
    sure: NDArray[np.bool_]
    raw: NDArray[np.bool_]
    lab: NDArray[np.float32]
    colour: BackdropColour


def find_foreground(working: NDArray[np.uint8], surface: Surface, level: NDArray[np.float64]) -> Foreground:
    """Separate foreground from backdrop and shadow.

    Parameters
    ----------
    working
        (h, w, 3) uint8, the working image.
    surface
        Its backdrop light, of the same pixel grid.
    level
        (3,) linear light the backdrop is brought to: its reflectance where known.

    Returns
    -------
    Foreground
    """
    light = surface.image()
    flat = to_linear(working) * (level.astype(np.float32) / light)
    lab = np.asarray(cv2.GaussianBlur(linear_to_lab(flat), (0, 0), CODING_SIGMA_PX), dtype=np.float32)
    coding = coding_sd(surface, level)
    colour = backdrop_colour(lab, level, coding)
    is_grained = has_grain(lab, level)
    if is_grained:
        colour = grained_colour(lab, level)
    sd = colour.sd_image((working.shape[1], working.shape[0]))
    near, off_curve, darker = _distances_by_strips(lab, colour, sd)
    sure = off_curve > _HIGH
    shadow_like = darker & ~sure & (near > _LOW)
    candidate = near > _HIGH
    edges = _sharp_edges(lab, sd)
    reached = _flood(~candidate, shadow_like | ~candidate, edges)
    root = (lab[..., 0] + 16.0) / np.float32(colour.centre[0] + 16.0)
    share = root * root * root
    if colour.centre[0] >= BLACK_LIGHTNESS:
        reached &= ~_things_among(reached & candidate & ~sure, candidate, edges, share, is_grained=is_grained)
    raw = _without_spurs(candidate & (sure | ~reached), near)
    mask = _grow(raw, (near > _LOW) & ((off_curve > _LOW) | ~darker))
    mask = mask | faint_regions(lab, mask, level, coding, is_grained=is_grained)
    mask = mask | enclosed_regions(lab, mask, candidate)
    return Foreground(mask=_tidy(mask), raw=raw, sure=sure, lab=lab, colour=colour)


def _distances_by_strips(
    lab: NDArray[np.float32], colour: BackdropColour, sd: NDArray[np.float32]
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.bool_]]:
    """`distances`, a few rows at a time: what lies between the steps stays in the processor's cache."""
    shape = lab.shape[:2]
    near, off_curve = np.empty(shape, dtype=np.float32), np.empty(shape, dtype=np.float32)
    darker = np.empty(shape, dtype=np.bool_)
    for top in range(0, shape[0], _STRIP_ROWS):
        rows = np.s_[top : top + _STRIP_ROWS]
        near[rows], off_curve[rows], darker[rows] = distances(lab[rows], colour, sd[rows])
    return near, off_curve, darker


def _sharp_edges(lab: NDArray[np.float32], sd: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Edges that rise within a few pixels, as those of things do and those of shadows do not."""
    lightness = np.ascontiguousarray(lab[..., 0])
    slope = cv2.magnitude(
        cv2.Sobel(lightness, cv2.CV_32F, 1, 0, scale=0.125), cv2.Sobel(lightness, cv2.CV_32F, 0, 1, scale=0.125)
    )
    window = np.ones((9, 9), dtype=np.uint8)
    contrast = cv2.dilate(lightness, window) - cv2.erode(lightness, window)
    return (slope > 1.2 * sd[..., 0]) & (slope > 0.2 * contrast)


def _flood(start: NDArray[np.bool_], passable: NDArray[np.bool_], barrier: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mark what can be reached from `start` through `passable` by ways a few pixels wide that cross no barrier."""
    open_ground = (passable & ~barrier).astype(np.uint8)
    wide = cv2.erode(open_ground, _GAP)
    _, labels = cv2.connectedComponents(wide, connectivity=4)
    counts = np.bincount(labels[start & (wide > 0)], minlength=int(labels.max()) + 1)
    is_reached = counts > 0
    is_reached[0] = False
    reached = is_reached[labels].astype(np.uint8)
    return (cv2.dilate(reached, np.ones((7, 7), dtype=np.uint8)) > 0) & passable


def _things_among(
    regions: NDArray[np.bool_],
    candidate: NDArray[np.bool_],
    edges: NDArray[np.bool_],
    share: NDArray[np.float32],
    *,
    is_grained: bool,
) -> NDArray[np.bool_]:
    """Those shadow-like regions that cannot be shadows.

    A shadow has something beside it that throws it and is not larger than that. A deep one does not meet the lit
    backdrop with a sharp edge; a light one may, where a single lamp throws it. A dark streak of grain is no shadow either, but has no sharp edge all around.
    share: of light left, (h, w).
    """
    kernel = np.ones((5, 5), dtype=np.uint8)
    # The blurred rim of a dark sherd on white runs through all greys: too thin to be a shadow, and to join two.
    opened = cv2.morphologyEx(regions.astype(np.uint8), cv2.MORPH_OPEN, kernel)
    count, labels = cv2.connectedComponents(opened, connectivity=4)
    if count == 1:
        return np.zeros(regions.shape, dtype=bool)
    around = cv2.dilate(labels.astype(np.float32), np.ones((7, 7), dtype=np.uint8)).astype(np.int32)
    inside = opened > 0
    area = np.bincount(labels[inside], minlength=count).astype(np.float64)
    beyond = (around > 0) & ~candidate
    met = np.bincount(around[beyond], minlength=count)
    sharp = np.bincount(around[beyond & (cv2.dilate(edges.astype(np.uint8), kernel) > 0)], minlength=count)
    _, others = cv2.connectedComponents((candidate & (opened == 0)).astype(np.uint8), connectivity=4)
    caster = _neighbours_area(around, others, count)
    left = np.bincount(labels[inside], weights=share[inside], minlength=count) / np.maximum(area, 1.0)
    is_sharp = sharp > _SHARP_SIDE * np.maximum(met, 1)
    is_alone = (area > caster) & (area > _LEAST_THING) & (is_sharp if is_grained else True)
    is_thing = (is_sharp & (left < _LIGHT_SHADOW)) | is_alone
    is_thing[0] = False
    found: NDArray[np.bool_] = (cv2.dilate(is_thing[labels].astype(np.uint8), kernel) > 0) & regions
    return found


def _neighbours_area(around: NDArray[np.int32], others: NDArray[np.int32], count: int) -> NDArray[np.float64]:
    """Area of all the foreground pieces beside each region together, (count,)."""
    sizes = np.bincount(others.ravel()).astype(np.float64)
    beside = (around > 0) & (others > 0)
    region, piece = np.divmod(np.unique(around[beside].astype(np.int64) * len(sizes) + others[beside]), len(sizes))
    total: NDArray[Any] = np.bincount(region, weights=sizes[piece], minlength=count)
    return total


def _grow(mask: NDArray[np.bool_], allowed: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Hysteresis: weak pixels join where they hang on strong ones within a few pixels."""
    joined = mask.astype(np.uint8)
    weak = allowed.astype(np.uint8)
    kernel = np.ones((3, 3), dtype=np.uint8)
    for _ in range(4):
        joined |= np.asarray(cv2.dilate(joined, kernel), dtype=np.uint8) & weak
    return joined > 0


def _without_spurs(mask: NDArray[np.bool_], near: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Drop weak appendages: compression leaves faint blocks of colour beside strong edges."""
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (13, 13))
    opened = cv2.morphologyEx(fill_holes(mask).astype(np.uint8), cv2.MORPH_OPEN, kernel) > 0
    _, labels = cv2.connectedComponents((mask & ~opened).astype(np.uint8), connectivity=4)
    area = np.bincount(labels.ravel())
    strong = np.bincount(labels[(near > _STRONG) & (labels > 0)], minlength=len(area))
    is_spur = strong < 0.3 * area
    is_spur[0] = False
    kept: NDArray[np.bool_] = mask & ~is_spur[labels]
    return kept


def _tidy(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Close hairline gaps, fill holes, drop hairs and spurs."""
    small = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    closed = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, small)
    wide = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7))
    return cv2.morphologyEx(fill_holes(closed > 0).astype(np.uint8), cv2.MORPH_OPEN, wide) > 0


def fill_holes(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Fill every hole of a mask."""
    contours, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    filled = np.zeros(mask.shape, dtype=np.uint8)
    cv2.drawContours(filled, contours, -1, 1, cv2.FILLED)
    return filled > 0
