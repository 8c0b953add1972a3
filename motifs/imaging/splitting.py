"""Touching sherds: split at a narrow neck, at a wider one where a contact is seen along it, or marked for a look.

Where two sherds touch there is a gap in shadow between them, or two surfaces meet: along the cut lightness dips, or
colour steps. A waist in one sherd has neither.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import cv2
import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components, minimum_spanning_tree
from skimage.morphology import h_maxima
from skimage.segmentation import watershed

if TYPE_CHECKING:
    from numpy.typing import NDArray

MAY_BE_TWO: Final = "may be two sherds"

_CLEAR_NECK: Final = 0.47  # neck width over the narrower part's width: split
_DOUBTFUL_NECK: Final = 0.70  # split only where a contact is seen, else mark
_SEEN: Final = 0.6  # share of the cut along which a contact shows
_DIP: Final = 4.0  # units of L*
_STEP: Final = 9.0  # L*a*b* units between both sides
_SIDE_PX: Final = 13  # window over which a side is averaged
_MIN_SOLIDITY: Final = 0.93  # a piece this near to its convex hull is one sherd


def split_touching(
    part: NDArray[np.bool_], lab: NDArray[np.float32] | None = None
) -> list[tuple[NDArray[np.bool_], str | None]]:
    """Split a piece where sherds touch.

    Parameters
    ----------
    part
        (h, w) bool, one connected piece.
    lab
        (h, w, 3) L*a*b* of the same pixels; without it only the shape tells.

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
    ratio, side = _narrowest_cut(lobes, depth, count)
    if ratio > _DOUBTFUL_NECK:
        return [(part, None)]
    halves = [part & side, part & ~side]
    if ratio > _CLEAR_NECK and (lab is None or _contact_share(lab, *halves) < _SEEN):
        return [(part, MAY_BE_TWO)]
    return [found for half in halves for found in split_touching(_largest(half), lab)]


def _contact_share(lab: NDArray[np.float32], first: NDArray[np.bool_], second: NDArray[np.bool_]) -> float:
    """Share of the border of two sides along which lightness dips or colour steps, 0..1."""
    kernel = np.ones((3, 3), dtype=np.uint8)
    border = cv2.dilate(first.astype(np.uint8), kernel) * second.astype(np.uint8) > 0
    near = cv2.dilate(border.astype(np.uint8), np.ones((5, 5), dtype=np.uint8)) > 0
    ahead, behind = (_mean_of(lab, side & ~near)[border] for side in (first, second))
    lightness = cv2.erode(np.ascontiguousarray(lab[..., 0]), kernel)[border]
    dips = np.minimum(ahead[:, 0], behind[:, 0]) - lightness > _DIP
    steps = np.linalg.norm(ahead - behind, axis=1) > _STEP
    return float((dips | steps).mean()) if border.any() else 1.0


def _mean_of(lab: NDArray[np.float32], side: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Mean colour around each pixel over one side only, (h, w, 3)."""
    weight = side.astype(np.float32)
    window = (_SIDE_PX, _SIDE_PX)
    total = cv2.blur(lab * weight[..., None], window)
    mean = total / np.maximum(cv2.blur(weight, window), np.float32(1e-3))[..., None]
    return np.asarray(mean, dtype=np.float32)


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


def _narrowest_cut(lobes: NDArray[np.int32], depth: NDArray[np.float32], count: int) -> tuple[float, NDArray[np.bool_]]:
    """Least ratio of a neck to the narrower of its two sides, and one side, (h, w) bool.

    The lobes and the depths of their borders make a graph. Cutting an edge of its maximum spanning tree leaves two
    sides whose deepest border is that edge (the cut property), so that a short shared border in a corner is no neck.
    """
    borders = _border_depths(lobes, depth, count)
    deepest = float(depth.max())
    rows, columns = np.nonzero(borders)
    # The least spanning tree of the shortfall is the greatest of the depth.
    shortfall = coo_array((1.0 + deepest - borders[rows, columns], (rows, columns)), shape=borders.shape)
    tree = minimum_spanning_tree(shortfall.tocsr()).tocoo()
    peak = np.bincount(lobes.ravel(), minlength=count + 1) * 0.0
    np.maximum.at(peak, lobes.ravel(), depth.ravel().astype(np.float64))
    best, chosen = np.inf, np.zeros(count, dtype=bool)
    for cut in range(tree.nnz):
        kept = np.arange(tree.nnz) != cut
        rest = coo_array((tree.data[kept], (tree.row[kept], tree.col[kept])), shape=borders.shape)
        _, group = connected_components(rest, directed=False)
        side = group == group[tree.row[cut]]
        ratio = float(borders[tree.row[cut], tree.col[cut]]) / min(peak[1:][side].max(), peak[1:][~side].max())
        if ratio < best:
            best, chosen = ratio, side
    return best, np.concatenate([[False], chosen])[lobes]


def _border_depths(lobes: NDArray[np.int32], depth: NDArray[np.float32], count: int) -> NDArray[np.float64]:
    """Deepest point on the border of each pair of lobes, (count, count), above the diagonal; 0 for no border."""
    found = np.zeros((count, count), dtype=np.float64)
    for here, there in ((np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1], np.s_[1:])):
        first, second = lobes[here], lobes[there]
        meets = (first != second) & (first > 0) & (second > 0)
        low = np.minimum(first, second)[meets] - 1
        high = np.maximum(first, second)[meets] - 1
        np.maximum.at(found, (low, high), np.minimum(depth[here], depth[there])[meets].astype(np.float64))
    return found


def _largest(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    if count <= 2:
        return mask
    largest: NDArray[np.bool_] = labels == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    return largest
