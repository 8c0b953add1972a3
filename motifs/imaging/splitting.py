"""Touching sherds: split at a narrow neck, or marked for a look where the neck is wide."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import cv2
import numpy as np
from skimage.morphology import h_maxima
from skimage.segmentation import watershed

if TYPE_CHECKING:
    from numpy.typing import NDArray

MAY_BE_TWO: Final = "may be two sherds"

_CLEAR_NECK: Final = 0.50  # neck width over the narrower part's width: split
_DOUBTFUL_NECK: Final = 0.70  # only mark
_MIN_SOLIDITY: Final = 0.93  # a piece this near to its convex hull is one sherd


def split_touching(part: NDArray[np.bool_]) -> list[tuple[NDArray[np.bool_], str | None]]:
    """Split a piece where sherds touch.

    Parameters
    ----------
    part
        (h, w) bool, one connected piece.

    Returns
    -------
    list
        (mask, doubt) for each sherd; one entry with the piece itself where nothing suggests two.
    """
    if _solidity(part) > _MIN_SOLIDITY:
        return [(part, None)]
    padded = np.pad(part, 1).astype(np.uint8)
    depth = np.asarray(cv2.distanceTransform(padded, cv2.DIST_L2, 5), dtype=np.float32)[1:-1, 1:-1]
    lobes = _lobes(depth, part)
    count = int(lobes.max())
    if count < 2:
        return [(part, None)]
    ratio, first, second = _narrowest_neck(lobes, depth, count)
    if ratio > _DOUBTFUL_NECK:
        return [(part, None)]
    if ratio > _CLEAR_NECK:
        return [(part, MAY_BE_TWO)]
    side = _sides(lobes, count, first, second)
    halves = [part & side, part & ~side]
    return [found for half in halves for found in split_touching(_largest(half))]


def _solidity(part: NDArray[np.bool_]) -> float:
    contours, _ = cv2.findContours(part.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outer = max(contours, key=cv2.contourArea)
    return float(cv2.contourArea(outer)) / max(float(cv2.contourArea(cv2.convexHull(outer))), 1.0)


def _lobes(depth: NDArray[np.float32], part: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Watershed of the distance to the edge, one basin for each maximum that stands out."""
    rise = max(1.0, 0.12 * float(depth.max()))
    peaks = h_maxima(depth, rise)  # type: ignore[no-untyped-call]
    _, markers = cv2.connectedComponents(peaks.astype(np.uint8), connectivity=8)
    basins: NDArray[np.int32] = watershed(-depth, markers, mask=part)  # type: ignore[no-untyped-call]
    return basins


def _narrowest_neck(lobes: NDArray[np.int32], depth: NDArray[np.float32], count: int) -> tuple[float, int, int]:
    """Least ratio of neck to the narrower of two neighbouring lobes, and which two."""
    depths = [0.0] + [float(depth[lobes == label].max()) for label in range(1, count + 1)]
    best = (np.inf, 0, 0)
    for first in range(1, count + 1):
        near = cv2.dilate((lobes == first).astype(np.uint8), np.ones((3, 3), dtype=np.uint8)) > 0
        for second in range(first + 1, count + 1):
            border = near & (lobes == second)
            if border.any():
                ratio = float(depth[border].max()) / min(depths[first], depths[second])
                best = min(best, (ratio, first, second))
    return best


def _sides(lobes: NDArray[np.int32], count: int, first: int, second: int) -> NDArray[np.bool_]:
    """Everything that stays with the first lobe once its border with the second is cut."""
    linked = {first}
    kernel = np.ones((3, 3), dtype=np.uint8)
    frontier = [first]
    while frontier:
        near = cv2.dilate((lobes == frontier.pop()).astype(np.uint8), kernel) > 0
        for label in set(np.unique(lobes[near]).tolist()) - linked - {0, second}:
            linked.add(label)
            frontier.append(label)
    return np.isin(lobes, list(linked))


def _largest(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    if count <= 2:
        return mask
    largest: NDArray[np.bool_] = labels == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    return largest
