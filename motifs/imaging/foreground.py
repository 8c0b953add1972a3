"""Which pixels are not backdrop, and not the shadow that a sherd throws on it.

Colours are compared after the light has been flattened. A shadow is backdrop with less light: it lies on the
curve from the backdrop's colour towards black, and its outer edge is soft. What lies off that curve, or
is lighter, or much darker, is foreground. What lies on it is decided by its edges: backdrop floods into it unless a
sharp edge stops the flood.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

from motifs.imaging.colour import linear_to_lab, to_linear

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.imaging.backdrop import Surface

_DEEPEST_SHADOW: Final = 0.22  # least share of light left in a shadow
_HIGH: Final = 5.0  # standard deviations of the backdrop: surely not backdrop
_LOW: Final = 2.6  # joined when attached to sure foreground
_GAP: Final = np.ones((5, 5), dtype=np.uint8)  # a leak through a sherd's edge is narrower than this
_SHARP_SIDE: Final = 0.3  # share of a shadow-like region's lit border that betrays a thing
_MIN_SD: Final = (1.1, 0.7, 0.7)  # of L*, a*, b* after light smoothing
_SHADOW_TINT: Final = 0.06  # chroma a shadow may gain for each unit of L* it loses: sky light is bluer than the lamp


@dataclass(frozen=True, slots=True)
class BackdropColour:
    """Colour of the flattened backdrop: L*a*b* and its spread.

    centre: (3,) L*a*b*; sd: (3,) robust standard deviations after smoothing. level: (3,) linear light the
    flattened image is normalised to.
    """

    centre: NDArray[np.float64]
    sd: NDArray[np.float64]
    level: NDArray[np.float64]


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
    lab = cv2.GaussianBlur(linear_to_lab(flat), (0, 0), 0.8)
    colour = _backdrop_colour(lab, level)
    near, off_curve, darker = distances(lab, colour)
    sure = off_curve > _HIGH
    shadow_like = darker & ~sure & (near > _LOW)
    candidate = near > _HIGH
    edges = _sharp_edges(lab, colour)
    reached = _flood(~candidate, shadow_like | ~candidate, edges)
    reached &= ~_sharp_sided(reached & candidate & ~sure, ~candidate, edges)
    mask = candidate & (sure | ~reached)
    raw = mask
    mask = _grow(mask, (near > _LOW) & ((off_curve > _LOW) | ~darker))
    return Foreground(mask=_tidy(mask), raw=raw, sure=sure, lab=lab, colour=colour)


def distances(
    lab: NDArray[np.float32], colour: BackdropColour
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.bool_]]:
    """How far pixels lie from the backdrop and from the curve of its shadows, in standard deviations.

    Returns
    -------
    tuple
        (h, w) float32 distance to the backdrop's colour; (h, w) float32 distance to the shadow curve; (h, w)
        bool, darker than the backdrop.
    """
    centre, sd = colour.centre.astype(np.float32), colour.sd.astype(np.float32)
    shift = (lab - centre) / sd
    near = np.sqrt((shift**2).sum(axis=2))
    # L* + 16 is proportional to the cube root of light (CIE 15), and a*, b* scale with it along the curve.
    share = np.clip((lab[..., 0] + 16.0) / (centre[0] + 16.0), 0.0, 1.0)
    deepest = np.float32(_DEEPEST_SHADOW ** (1.0 / 3.0))
    lost = np.maximum(centre[0] - lab[..., 0], 0.0)
    chroma_sd = sd[1:] + np.float32(_SHADOW_TINT / _LOW) * lost[..., None]
    chroma = (lab[..., 1:] - centre[1:] * share[..., None]) / chroma_sd
    too_dark = np.maximum(deepest - share, 0.0) * (centre[0] + 16.0) / sd[0]
    too_light = np.maximum(shift[..., 0], 0.0)
    off = np.sqrt((chroma**2).sum(axis=2) + too_dark**2 + too_light**2)
    return near, off, lab[..., 0] < centre[0]


def _backdrop_colour(lab: NDArray[np.float32], level: NDArray[np.float64]) -> BackdropColour:
    """Robust centre and spread of the flattened backdrop, refined from all pixels near the surface's colour."""
    centre = linear_to_lab(level[None])[0].astype(np.float64)
    sample = lab[::3, ::3].reshape(-1, 3).astype(np.float64)
    sd = np.array([3.0, 2.0, 2.0])
    for _ in range(4):
        inside = (np.abs(sample - centre) < 3.0 * sd).all(axis=1)
        if inside.sum() < 50:
            break
        centre = np.median(sample[inside], axis=0)
        spread = 1.55 * np.median(np.abs(sample[inside] - centre), axis=0)
        sd = np.maximum(spread, _MIN_SD)
    return BackdropColour(centre=centre, sd=sd, level=level)


def _sharp_edges(lab: NDArray[np.float32], colour: BackdropColour) -> NDArray[np.bool_]:
    """Edges that rise within a few pixels, as those of things do and those of shadows do not."""
    lightness = np.ascontiguousarray(lab[..., 0])
    slope = np.hypot(
        cv2.Sobel(lightness, cv2.CV_32F, 1, 0, scale=0.125), cv2.Sobel(lightness, cv2.CV_32F, 0, 1, scale=0.125)
    )
    window = np.ones((9, 9), dtype=np.uint8)
    contrast = cv2.dilate(lightness, window) - cv2.erode(lightness, window)
    return (slope > 1.2 * colour.sd[0]) & (slope > 0.22 * contrast)


def _flood(
    start: NDArray[np.bool_], passable: NDArray[np.bool_], barrier: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Mark what can be reached from `start` through `passable` by ways a few pixels wide that cross no barrier."""
    open_ground = (passable & ~barrier).astype(np.uint8)
    wide = cv2.erode(open_ground, _GAP)
    _, labels = cv2.connectedComponents(wide, connectivity=4)
    counts = np.bincount(labels[start & (wide > 0)], minlength=int(labels.max()) + 1)
    is_reached = counts > 0
    is_reached[0] = False
    reached = is_reached[labels].astype(np.uint8)
    return (cv2.dilate(reached, np.ones((7, 7), dtype=np.uint8)) > 0) & passable


def _sharp_sided(
    regions: NDArray[np.bool_], lit: NDArray[np.bool_], edges: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Those regions that meet the lit backdrop with a sharp edge: no shadow does, so a thing lies in them."""
    kernel = np.ones((5, 5), dtype=np.uint8)
    count, labels = cv2.connectedComponents(regions.astype(np.uint8), connectivity=4)
    around = cv2.dilate(labels.astype(np.float32), kernel).astype(np.int32)
    border = lit & (around > 0)
    met = np.bincount(around[border], minlength=count)
    sharp = np.bincount(around[border & (cv2.dilate(edges.astype(np.uint8), kernel) > 0)], minlength=count)
    is_thing = sharp > _SHARP_SIDE * np.maximum(met, 1)
    is_thing[0] = False
    found: NDArray[np.bool_] = is_thing[labels]
    return found


def _grow(mask: NDArray[np.bool_], allowed: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Hysteresis: weak pixels join where they hang on strong ones within a few pixels."""
    joined = mask.astype(np.uint8)
    weak = allowed.astype(np.uint8)
    kernel = np.ones((3, 3), dtype=np.uint8)
    for _ in range(4):
        joined = joined | (cv2.dilate(joined, kernel) & weak)
    return joined > 0


def _tidy(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Close hairline gaps, fill holes, drop hairs."""
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    closed = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, kernel)
    return fill_holes(cv2.morphologyEx(closed, cv2.MORPH_OPEN, kernel) > 0)


def fill_holes(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Fill every hole of a mask."""
    contours, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    filled = np.zeros(mask.shape, dtype=np.uint8)
    cv2.drawContours(filled, contours, -1, 1, cv2.FILLED)
    return filled > 0
