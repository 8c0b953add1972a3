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

from motifs.imaging.colour import fractional_to_linear, linear_to_lab, to_linear, to_srgb8

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.imaging.backdrop import Surface

_DEEPEST_SHADOW: Final = 0.28  # least share of light left in a shadow
_HIGH: Final = 5.0  # standard deviations of the backdrop: surely not backdrop
_LOW: Final = 2.6  # joined when attached to sure foreground
_GAP: Final = np.ones((5, 5), dtype=np.uint8)  # a leak through a sherd's edge is narrower than this
_SHARP_SIDE: Final = 0.3  # share of a shadow-like region's lit border that betrays a thing
_LEAST_THING: Final = 60  # px: smaller lone regions stay shadow or dirt
_WIDE: Final = 1.0 / 1.2816  # from the 80th percentile of absolute residuals to a standard deviation
_SD_GRID: Final = (9, 12)
_SIGNALS: Final = (  # RGB change for one level of Y, Cb, Cr (ITU-T T.871), and how many levels are taken
    ((1.0, 1.0, 1.0), 0.7),
    ((0.0, -0.344, 1.772), 1.5),
    ((1.402, -0.714, 0.0), 1.5),
)
_MIN_SD: Final = (1.1, 0.7, 0.7)  # of L*, a*, b* after light smoothing
_SHADOW_TINT: Final = 0.06  # chroma a shadow may gain for each unit of L* it loses: sky light is bluer than the lamp


@dataclass(frozen=True, slots=True)
class BackdropColour:
    """Colour of the flattened backdrop.

    centre: (3,) L*a*b*. sd_grid: (rows, columns, 3) float32 robust standard deviations after smoothing, on a coarse
    grid over the photograph, because noise grows where the light is poor. level: (3,) linear light the
    flattened image is normalised to.
    """

    centre: NDArray[np.float64]
    sd_grid: NDArray[np.float32]
    level: NDArray[np.float64]

    def sd_image(self, size_px: tuple[int, int]) -> NDArray[np.float32]:
        """Standard deviations at every pixel of a (width, height) image, (h, w, 3)."""
        spread: NDArray[np.float32] = cv2.resize(self.sd_grid, size_px, interpolation=cv2.INTER_LINEAR)
        return spread

    def sd_at(self, points: NDArray[np.float64], size_px: tuple[int, int]) -> NDArray[np.float32]:
        """Standard deviations at (N, 2) points of a (width, height) image, (N, 3), from the nearest cell."""
        rows, columns = self.sd_grid.shape[:2]
        column = np.clip(points[:, 0] * columns / size_px[0], 0, columns - 1).astype(int)
        row = np.clip(points[:, 1] * rows / size_px[1], 0, rows - 1).astype(int)
        return self.sd_grid[row, column]


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
    colour = _backdrop_colour(lab, level, _coding_sd(surface, level))
    sd = colour.sd_image((working.shape[1], working.shape[0]))
    near, off_curve, darker = distances(lab, colour.centre, sd)
    sure = off_curve > _HIGH
    shadow_like = darker & ~sure & (near > _LOW)
    candidate = near > _HIGH
    edges = _sharp_edges(lab, sd)
    reached = _flood(~candidate, shadow_like | ~candidate, edges)
    reached &= ~_things_among(reached & candidate & ~sure, candidate, edges)
    mask = candidate & (sure | ~reached)
    raw = mask
    mask = _grow(mask, (near > _LOW) & ((off_curve > _LOW) | ~darker))
    return Foreground(mask=_tidy(mask), raw=raw, sure=sure, lab=lab, colour=colour)


def distances(
    lab: NDArray[np.float32], centre: NDArray[np.float64], sd: NDArray[np.float32]
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.bool_]]:
    """How far pixels lie from the backdrop and from the curve of its shadows, in standard deviations.

    Parameters
    ----------
    lab
        (h, w, 3) L*a*b* of flattened light.
    centre
        (3,) L*a*b* of the backdrop.
    sd
        Its standard deviations, broadcast against `lab`.

    Returns
    -------
    tuple
        (h, w) float32 distance to the backdrop's colour; (h, w) float32 distance to the shadow curve; (h, w)
        bool, darker than the backdrop.
    """
    middle = centre.astype(np.float32)
    shift = (lab - middle) / sd
    near = np.sqrt((shift**2).sum(axis=2))
    # L* + 16 is proportional to the cube root of light (CIE 15), and a*, b* scale with it along the curve.
    share = np.clip((lab[..., 0] + 16.0) / (middle[0] + 16.0), 0.0, 1.0)
    deepest = np.float32(_DEEPEST_SHADOW ** (1.0 / 3.0))
    lost = np.maximum(middle[0] - lab[..., 0], 0.0)
    chroma_sd = sd[..., 1:] + np.float32(_SHADOW_TINT / _LOW) * lost[..., None]
    chroma = (lab[..., 1:] - middle[1:] * share[..., None]) / chroma_sd
    too_dark = np.maximum(deepest - share, 0.0) * (middle[0] + 16.0) / sd[..., 0]
    too_light = np.maximum(shift[..., 0], 0.0)
    off = np.sqrt((chroma**2).sum(axis=2) + too_dark**2 + too_light**2)
    return near, off, lab[..., 0] < middle[0]


def _coding_sd(surface: Surface, level: NDArray[np.float64]) -> NDArray[np.float32]:
    """What JPEG and 8-bit coding alone do to the backdrop's L*a*b*, on the coarse grid, (rows, columns, 3).

    A few levels of the colour-difference signals (ITU-T T.871) are nothing on white and a visible tint on black.
    """
    rows, columns = _SD_GRID
    light = surface.grid(columns, rows)
    encoded = to_srgb8(light).astype(np.float32)
    still = linear_to_lab(np.broadcast_to(level, light.shape))
    spread = np.zeros_like(light)
    for rgb_of_unit, steps in _SIGNALS:
        moved = np.clip(encoded + steps * np.array(rgb_of_unit, dtype=np.float32), 0, 255)
        change = linear_to_lab(level * fractional_to_linear(moved) / np.maximum(fractional_to_linear(encoded), 1e-4)) - still
        spread += change**2
    return np.sqrt(spread)


def _backdrop_colour(
    lab: NDArray[np.float32], level: NDArray[np.float64], coding_sd: NDArray[np.float32]
) -> BackdropColour:
    """Robust centre and spread of the flattened backdrop, refined from all pixels near the surface's colour."""
    centre = linear_to_lab(level[None])[0].astype(np.float64)
    sample = lab[::3, ::3].reshape(-1, 3).astype(np.float64)
    sd = np.array([3.0, 2.0, 2.0])
    for _ in range(4):
        inside = (np.abs(sample - centre) < 3.0 * sd).all(axis=1)
        if inside.sum() < 50:
            break
        centre = np.median(sample[inside], axis=0)
        sd = np.maximum(_WIDE * np.percentile(np.abs(sample[inside] - centre), 80, axis=0), _MIN_SD)
    return BackdropColour(centre=centre, sd_grid=_local_sd(lab, centre, np.hypot(sd, coding_sd)), level=level)


def _local_sd(lab: NDArray[np.float32], centre: NDArray[np.float64], least: NDArray[np.float64]) -> NDArray[np.float32]:
    """Spread of backdrop-like pixels in each cell of a coarse grid, never below the least it must have."""
    rows, columns = _SD_GRID
    residual = np.abs(lab[::2, ::2] - centre.astype(np.float32))
    height, width = residual.shape[:2]
    limit: NDArray[np.float32] = cv2.resize(4.0 * least.astype(np.float32), (width, height))
    inside = (residual < limit).all(axis=2)
    grid = least.astype(np.float32)
    for row in range(rows):
        for column in range(columns):
            cell = np.s_[
                row * height // rows : (row + 1) * height // rows, column * width // columns : (column + 1) * width // columns
            ]
            chosen = residual[cell][inside[cell]]
            if len(chosen) >= 60:
                grid[row, column] = np.maximum(grid[row, column], _WIDE * np.percentile(chosen, 80, axis=0))
    smoothed: NDArray[np.float32] = cv2.blur(grid, (3, 3), borderType=cv2.BORDER_REPLICATE)
    return smoothed


def _sharp_edges(lab: NDArray[np.float32], sd: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Edges that rise within a few pixels, as those of things do and those of shadows do not."""
    lightness = np.ascontiguousarray(lab[..., 0])
    slope = np.hypot(
        cv2.Sobel(lightness, cv2.CV_32F, 1, 0, scale=0.125), cv2.Sobel(lightness, cv2.CV_32F, 0, 1, scale=0.125)
    )
    window = np.ones((9, 9), dtype=np.uint8)
    contrast = cv2.dilate(lightness, window) - cv2.erode(lightness, window)
    return (slope > 1.2 * sd[..., 0]) & (slope > 0.2 * contrast)


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


def _things_among(
    regions: NDArray[np.bool_], candidate: NDArray[np.bool_], edges: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Those shadow-like regions that cannot be shadows.

    A shadow has something beside it that throws it, is not larger than that, and does not meet the lit
    backdrop with a sharp edge.
    """
    kernel = np.ones((5, 5), dtype=np.uint8)
    # The blurred rim of a dark sherd on white runs through all greys: too thin to be a shadow, and to join two.
    opened = cv2.morphologyEx(regions.astype(np.uint8), cv2.MORPH_OPEN, kernel)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(opened, connectivity=4)
    around = cv2.dilate(labels.astype(np.float32), np.ones((7, 7), dtype=np.uint8)).astype(np.int32)
    area = stats[:, cv2.CC_STAT_AREA].astype(np.float64)
    met = np.bincount(around[~candidate], minlength=count)
    sharp = np.bincount(around[~candidate & (cv2.dilate(edges.astype(np.uint8), kernel) > 0)], minlength=count)
    _, others = cv2.connectedComponents((candidate & (opened == 0)).astype(np.uint8), connectivity=4)
    caster = _largest_neighbour(around, others, count)
    is_thing = (sharp > _SHARP_SIDE * np.maximum(met, 1)) | ((area > caster) & (area > _LEAST_THING))
    is_thing[0] = False
    found: NDArray[np.bool_] = (cv2.dilate(is_thing[labels].astype(np.uint8), kernel) > 0) & regions
    return found


def _largest_neighbour(around: NDArray[np.int32], others: NDArray[np.int32], count: int) -> NDArray[np.float64]:
    """Area of the largest piece of foreground beside each region, (count,)."""
    sizes = np.bincount(others.ravel()).astype(np.float64)
    sizes[0] = 0.0
    beside = (around > 0) & (others > 0)
    largest = np.zeros(count)
    np.maximum.at(largest, around[beside], sizes[others[beside]])
    return largest


def _grow(mask: NDArray[np.bool_], allowed: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Hysteresis: weak pixels join where they hang on strong ones within a few pixels."""
    joined = mask.astype(np.uint8)
    weak = allowed.astype(np.uint8)
    kernel = np.ones((3, 3), dtype=np.uint8)
    for _ in range(4):
        joined = joined | (cv2.dilate(joined, kernel) & weak)
    return joined > 0


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
