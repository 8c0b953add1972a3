"""Foreground that hardly differs from the backdrop: pale slip on white, tan clay on tan.

Single pixels do not tell there; areas do. Averaging over a few millimetres leaves little noise, so that a small
steady difference stands out, and a bright area that the backdrop cannot flow into is part of what encloses it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

from motifs.imaging.backdrop_colour import AVERAGED_GRAIN_SD, backdrop_colour, distances, grained_colour
from motifs.imaging.weak_areas import settle_weak_areas

if TYPE_CHECKING:
    from numpy.typing import NDArray

_SHRINK: Final = 2
_SIGMA_PX: Final = 1.8  # on the shrunken image
_HIGH: Final = 5.0  # standard deviations of the averaged backdrop
_LOW: Final = 2.5  # the same inside the bays of an outline
_TEXTURE_SIGMA_PX: Final = 3.0
_WEAVE_SD: Final = 1.1  # units of L* from which a backdrop counts as textured
_SMOOTHER: Final = 0.7  # natural logarithm of texture, below the backdrop's
_LEAST_TEXTURE_SPREAD: Final = 0.1
_CODING_LEFT: Final = 0.7  # share of the coding noise that averaging leaves: its blocks are as wide
_TINT: Final = 0.08  # standard deviations a soft shadow may seem to leave its curve for each unit of L* it loses
_RIM_PX: Final = 7  # left out of the average around known foreground
_BAY_PX: Final = 41  # on the half-size mask: mouths of bays up to about this wide
_LEAST_AREA_PX: Final = 150
_GRAIN_SIDE_PX: Final = 300  # longer side on which grain is looked for
_LEAST_SIDE_PX: Final = 64  # a smaller photograph shows no grain
_GRAIN_SIGMA_PX: Final = 6.0  # on the shrunken image: wider than year rings are apart
_KEEN_SD: Final = (0.3, 0.15, 0.15)  # added to the spread where only large areas are judged
_SOME_COLOUR: Final = 3.0  # range of a* or b* over a photograph that has colour
_GRAIN_NEAR: Final = 2.5  # standard deviations
_GRAIN_SWING: Final = 0.75  # units of L*: wood swings by more than 1, cloth and paper by less than 0.6
_LEAST_DIFFERENCE: Final = 1.6  # L*a*b* units between an enclosed area and the backdrop around


def has_grain(lab: NDArray[np.float32], level: NDArray[np.float64]) -> bool:
    """Whether the backdrop's lightness swings within a few millimetres, as that of wood does.

    Weave averages out over such lengths; shadows, folds and uneven light change over longer ones. Swings are looked
    for only among what has the backdrop's colour.

    Parameters
    ----------
    lab
        (h, w, 3) L*a*b* of flattened light.
    level
        (3,) linear light of the backdrop.
    """
    if min(lab.shape[:2]) < _LEAST_SIDE_PX:
        return False
    shrink = max(1.0, max(lab.shape[:2]) / _GRAIN_SIDE_PX)
    size = (round(lab.shape[1] / shrink), round(lab.shape[0] / shrink))
    shrunk = cv2.GaussianBlur(cv2.resize(lab, size, interpolation=cv2.INTER_AREA), (0, 0), 0.5 * _SIGMA_PX)
    small: NDArray[np.float32] = np.asarray(shrunk, dtype=np.float32)
    colour = grained_colour(small, level, AVERAGED_GRAIN_SD, is_local=False)
    near, _, _ = distances(small, colour, colour.sd_image(size))
    inside = (near < _GRAIN_NEAR).astype(np.float32)
    lightness = np.ascontiguousarray(small[..., 0])
    weight = cv2.GaussianBlur(inside, (0, 0), _GRAIN_SIGMA_PX)
    mean = cv2.GaussianBlur(lightness * inside, (0, 0), _GRAIN_SIGMA_PX) / np.maximum(weight, np.float32(1e-3))
    swing = np.abs(lightness - mean)[inside > 0]
    if swing.size == 0 or 1.4826 * float(np.median(swing)) < _GRAIN_SWING:
        return False
    # In a photograph without colour nothing differs across the grain, and lightness is better judged place by place.
    return bool(np.ptp(small[..., 1:], axis=(0, 1)).max() > _SOME_COLOUR)


def faint_regions(
    lab: NDArray[np.float32],
    mask: NDArray[np.bool_],
    level: NDArray[np.float64],
    coding: NDArray[np.float32],
    *,
    is_grained: bool = False,
) -> NDArray[np.bool_]:
    """Areas off the shadow curve by a little, once colour is averaged over what is not foreground yet.

    Parameters
    ----------
    lab
        (h, w, 3) L*a*b* of flattened light.
    mask
        (h, w) bool, foreground already found.
    level
        (3,) linear light of the backdrop.
    coding
        (rows, columns, 3) what 8-bit and JPEG coding do to its colour.
    is_grained
        Whether the backdrop has a grain.

    Returns
    -------
    ndarray
        (h, w) bool.
    """
    height, width = mask.shape
    size = (max(1, width // _SHRINK), max(1, height // _SHRINK))
    near_known = cv2.dilate(mask.astype(np.uint8), np.ones((_RIM_PX, _RIM_PX), dtype=np.uint8))
    open_share = (1.0 - near_known).astype(np.float32)
    unknown = np.asarray(cv2.resize(open_share, size, interpolation=cv2.INTER_AREA), dtype=np.float32)
    shrunk = np.asarray(cv2.resize(lab, size, interpolation=cv2.INTER_AREA), dtype=np.float32)
    small = _average_of_unknown(shrunk, unknown)
    if is_grained:
        colour = grained_colour(small, level, AVERAGED_GRAIN_SD)
    else:
        colour = backdrop_colour(small, level, _CODING_LEFT * coding, is_averaged=True)
    _, off_curve, darker = distances(small, colour, colour.sd_image(size))
    off_curve[unknown < 0.5] = 0.0
    if not is_grained:
        tinted = np.where(darker, np.maximum(small[..., 0] - colour.centre[0], -20.0) * _TINT, 0.0)
        off_curve = np.maximum(off_curve + tinted, 0.0).astype(np.float32)
    off = np.asarray(cv2.resize(off_curve, (width, height), interpolation=cv2.INTER_LINEAR), dtype=np.float32)
    if not is_grained:  # the even parts of a board are smoother than its grain, and board all the same
        smooth = _smoother_than_cloth(lab, near_known > 0)
        off = np.maximum(off, np.where(smooth, np.float32(2.0 * _HIGH), np.float32(0.0)))
    fresh = cv2.morphologyEx((off > _HIGH).astype(np.uint8), cv2.MORPH_OPEN, np.ones((5, 5), dtype=np.uint8))
    seeds = _of_size(fresh > 0, _LEAST_AREA_PX) | mask
    if not is_grained:
        return (_weak_in_bays(off > _LOW, seeds) | seeds) & ~mask
    keen = grained_colour(small, level, _KEEN_SD)
    _, keen_off, _ = distances(small, keen, keen.sd_image(size))
    keen_off[unknown < 0.5] = 0.0
    weak = cv2.resize(keen_off, (width, height), interpolation=cv2.INTER_LINEAR) > _LOW
    found = _weak_in_bays(weak, seeds) | seeds
    known = cv2.resize(found.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    settled = settle_weak_areas(small, keen, keen_off, known).astype(np.uint8)
    found = found | (cv2.resize(settled, (width, height), interpolation=cv2.INTER_LINEAR) > 0)
    return found & ~mask


def _smoother_than_cloth(lab: NDArray[np.float32], known: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Areas without the weave that the backdrop has; none where the backdrop is plain itself.

    Texture is the local standard deviation of lightness about its local mean.
    """
    lightness = np.ascontiguousarray(lab[..., 0])
    fine = lightness - cv2.GaussianBlur(lightness, (0, 0), _TEXTURE_SIGMA_PX)
    variance = np.maximum(cv2.GaussianBlur(fine * fine, (0, 0), _TEXTURE_SIGMA_PX), np.float32(1e-4))
    sample = 0.5 * np.log(variance[::7, ::7][~known[::7, ::7]])
    if sample.size < 100:
        return np.zeros(known.shape, dtype=bool)
    usual = float(np.median(sample))
    spread = max(1.4826 * float(np.median(np.abs(sample - usual))), _LEAST_TEXTURE_SPREAD)
    if usual < np.log(_WEAVE_SD):
        return np.zeros(known.shape, dtype=bool)
    smooth = (0.5 * np.log(variance) < usual - max(_SMOOTHER, 4.0 * spread)).astype(np.uint8)
    # The window sees the edge of a sherd before its middle reaches it.
    opened = cv2.morphologyEx(smooth, cv2.MORPH_OPEN, np.ones((5, 5), dtype=np.uint8))
    width = 2 * int(1.5 * _TEXTURE_SIGMA_PX) + 1
    found: NDArray[np.bool_] = _of_size(opened > 0, _LEAST_AREA_PX)
    return cv2.dilate(found.astype(np.uint8), np.ones((width, width), dtype=np.uint8)) > 0


def _average_of_unknown(small: NDArray[np.float32], unknown: NDArray[np.float32]) -> NDArray[np.float32]:
    """Average over areas without what is known already: strong foreground must not smear into its surroundings."""
    weight = unknown + np.float32(1e-3)
    total = cv2.GaussianBlur(small * weight[..., None], (0, 0), _SIGMA_PX)
    mean = total / cv2.GaussianBlur(weight, (0, 0), _SIGMA_PX)[..., None]
    return np.asarray(mean, dtype=np.float32)


def _weak_in_bays(weak: NDArray[np.bool_], seeds: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Weakly different areas inside the bays of an outline: a bite is likelier to be missed clay than backdrop."""
    square = np.ones((5, 5), dtype=np.uint8)
    if not cv2.morphologyEx(weak.astype(np.uint8), cv2.MORPH_OPEN, square).any():
        return np.zeros(weak.shape, dtype=bool)
    size = (max(1, seeds.shape[1] // 2), max(1, seeds.shape[0] // 2))
    half = cv2.resize(seeds.astype(np.uint8), size, interpolation=cv2.INTER_AREA)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (_BAY_PX, _BAY_PX))
    padded = cv2.copyMakeBorder(half, _BAY_PX, _BAY_PX, _BAY_PX, _BAY_PX, cv2.BORDER_CONSTANT, value=0)
    closed = cv2.morphologyEx(padded, cv2.MORPH_CLOSE, kernel)[_BAY_PX:-_BAY_PX, _BAY_PX:-_BAY_PX]
    bays = cv2.resize(closed, (seeds.shape[1], seeds.shape[0]), interpolation=cv2.INTER_NEAREST) > 0
    filled = cv2.morphologyEx((weak & bays).astype(np.uint8), cv2.MORPH_OPEN, square)
    # The rim around the known part was left out of the average: bridge it where something lies beyond.
    kernel = np.ones((9, 9), dtype=np.uint8)
    bridged = cv2.morphologyEx(((filled > 0) | seeds).astype(np.uint8), cv2.MORPH_CLOSE, kernel)
    return (bridged > 0) & (cv2.dilate(filled, kernel) > 0)


def enclosed_regions(
    lab: NDArray[np.float32], mask: NDArray[np.bool_], barrier: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Areas that look like backdrop but that the open backdrop cannot flow into.

    Parameters
    ----------
    lab
        (h, w, 3) L*a*b* of flattened light.
    mask
        (h, w) bool, foreground already found.
    barrier
        (h, w) bool, everything that is not lit backdrop, shadows too.

    Returns
    -------
    ndarray
        (h, w) bool; a bay of backdrop between sherds, of just the backdrop's colour, is not among them.
    """
    open_ground = (~(barrier | mask)).astype(np.uint8)
    wide = cv2.erode(open_ground, np.ones((5, 5), dtype=np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(wide, connectivity=4)
    if count < 3:
        return np.zeros(mask.shape, dtype=bool)
    areas = stats[:, cv2.CC_STAT_AREA].astype(np.float64)
    areas[0] = 0.0
    outside = int(np.argmax(areas))
    centre = np.median(lab.reshape(-1, 3)[np.flatnonzero(labels == outside)[::17]], axis=0)
    found = np.zeros(mask.shape, dtype=np.uint8)
    for label in range(1, count):
        left, top, width, height = stats[label, :4].tolist()
        if label == outside or areas[label] < 12 or _at_frame(mask.shape, left, top, width, height):
            continue
        window = np.s_[top : top + height, left : left + width]
        inside = labels[window] == label
        difference = float(np.linalg.norm(np.median(lab[window][inside], axis=0) - centre))
        if difference > _LEAST_DIFFERENCE:
            found[window] |= inside.astype(np.uint8)
    grown: NDArray[np.bool_] = cv2.dilate(found, np.ones((7, 7), dtype=np.uint8)) > 0
    return grown & (open_ground > 0) | (found > 0)


def _at_frame(shape: tuple[int, ...], left: int, top: int, width: int, height: int) -> bool:
    return left <= 3 or top <= 3 or left + width >= shape[1] - 3 or top + height >= shape[0] - 3


def _of_size(mask: NDArray[np.bool_], least_px: int) -> NDArray[np.bool_]:
    """Components of at least so many px."""
    if not mask.any():
        return mask
    _, labels = cv2.connectedComponents(mask.astype(np.uint8), connectivity=4)
    is_wide = np.bincount(labels.ravel()) >= least_px
    is_wide[0] = False
    wide: NDArray[np.bool_] = is_wide[labels]
    return wide
