"""Foreground that hardly differs from the backdrop: pale slip on white, tan clay on tan.

Single pixels do not tell there; areas do. Averaging over a few millimetres leaves little noise, so that a small
steady difference stands out, and a bright area that the backdrop cannot flow into is part of what encloses it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

from motifs.imaging.backdrop_colour import backdrop_colour, distances

if TYPE_CHECKING:
    from numpy.typing import NDArray

_SHRINK: Final = 2
_SIGMA_PX: Final = 1.8  # on the shrunken image
_HIGH: Final = 5.0  # standard deviations of the averaged backdrop
_HALO_PX: Final = 11  # averaging smears strong foreground about this far
_LEAST_AREA_PX: Final = 150
_LEAST_DIFFERENCE: Final = 1.6  # L*a*b* units between an enclosed area and the backdrop around


def faint_regions(
    lab: NDArray[np.float32], mask: NDArray[np.bool_], level: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Areas off the shadow curve by a little, away from the smear of what is already known.

    Parameters
    ----------
    lab
        (h, w, 3) L*a*b* of flattened light.
    mask
        (h, w) bool, foreground already found.
    level
        (3,) linear light of the backdrop.

    Returns
    -------
    ndarray
        (h, w) bool.
    """
    height, width = mask.shape
    size = (max(1, width // _SHRINK), max(1, height // _SHRINK))
    small = cv2.GaussianBlur(cv2.resize(lab, size, interpolation=cv2.INTER_AREA), (0, 0), _SIGMA_PX)
    colour = backdrop_colour(np.asarray(small, dtype=np.float32), level, None)
    _, off_curve, _ = distances(np.asarray(small, dtype=np.float32), colour.centre, colour.sd_image(size))
    off = cv2.resize(off_curve, (width, height), interpolation=cv2.INTER_LINEAR) > _HIGH
    known = cv2.dilate(mask.astype(np.uint8), np.ones((_HALO_PX, _HALO_PX), dtype=np.uint8)) > 0
    fresh = cv2.morphologyEx((off & ~known).astype(np.uint8), cv2.MORPH_OPEN, np.ones((5, 5), dtype=np.uint8))
    wide = _of_size(fresh, _LEAST_AREA_PX)
    # Back through the halo to what it hangs on.
    reach = cv2.dilate(wide.astype(np.uint8), np.ones((_HALO_PX + 2, _HALO_PX + 2), dtype=np.uint8)) > 0
    return wide | (reach & off & known)


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
    centre = np.median(lab[labels == outside][::17], axis=0)
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


def _of_size(mask: NDArray[np.uint8], least_px: int) -> NDArray[np.bool_]:
    """Components of at least so many px."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
    is_wide = stats[:, cv2.CC_STAT_AREA] >= least_px
    is_wide[0] = False
    wide: NDArray[np.bool_] = is_wide[labels]
    return wide
