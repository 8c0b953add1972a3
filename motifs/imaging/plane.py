"""The plane of the sherds in a photograph: px to mm and back, with a slant and a lens that bends straight lines."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import cv2
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

    from motifs.records import Plane, Scale

_STEP_MM: Final = 0.5
_ROUNDS: Final = 12  # fixed-point steps; a lens of 10 % at the corner settles to 1e-9 in fewer


def outline_in_mm(outline_px: ArrayLike, scale: Scale) -> NDArray[np.float64]:
    """Points of a photograph in mm of the plane that its scale holds in.

    Parameters
    ----------
    outline_px
        (..., 2) x and y in px of the oriented photograph.
    scale
        Of the photograph; without a plane the points are divided by ``px_per_mm``.

    Returns
    -------
    ndarray
        (..., 2) float64 mm, x to the right and y down; the zero is the photograph's or the mat's upper left corner.
    """
    points = np.asarray(outline_px, dtype=np.float64)
    return points / scale.px_per_mm if scale.plane is None else plane_mm(scale.plane, points)


def plane_mm(plane: Plane, points_px: ArrayLike) -> NDArray[np.float64]:
    """Take points, (..., 2) px of the oriented photograph, to mm in the plane."""
    return through(homography(plane), straightened(plane, points_px))


def plane_px(plane: Plane, points_mm: ArrayLike) -> NDArray[np.float64]:
    """Take points, (..., 2) mm in the plane, to px of the oriented photograph."""
    return bent(plane, through(np.asarray(np.linalg.inv(homography(plane)), dtype=np.float64), points_mm))


def homography(plane: Plane) -> NDArray[np.float64]:
    """The plane's (3, 3) float64 homography, straightened px to mm."""
    return np.asarray(plane.to_mm, dtype=np.float64).reshape(3, 3)


def local_px_per_mm(plane: Plane, points_mm: ArrayLike) -> NDArray[np.float64]:
    """Resolution at points of the plane, (...,): the square root of how many square px one square mm covers."""
    at = np.asarray(points_mm, dtype=np.float64)
    right, down = np.array([_STEP_MM, 0.0]), np.array([0.0, _STEP_MM])
    along = plane_px(plane, at + right) - plane_px(plane, at - right)
    across = plane_px(plane, at + down) - plane_px(plane, at - down)
    area: NDArray[Any] = np.abs(along[..., 0] * across[..., 1] - along[..., 1] * across[..., 0])
    return np.asarray(np.sqrt(area) / (2.0 * _STEP_MM), dtype=np.float64)


def through(matrix: NDArray[np.float64], points: ArrayLike) -> NDArray[np.float64]:
    """Take points, (..., 2), through a (3, 3) homography."""
    at = np.asarray(points, dtype=np.float64)
    lifted = at @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(lifted[..., :2] / lifted[..., 2:], dtype=np.float64)


def straightened(plane: Plane, points_px: ArrayLike) -> NDArray[np.float64]:
    """Undo the lens: (..., 2) px as a lens without distortion would have put them."""
    centre = np.array(plane.centre_px)
    away = (np.asarray(points_px, dtype=np.float64) - centre) / plane.radius_px
    return np.asarray(centre + away * plane.radius_px * _stretch(plane, away), dtype=np.float64)


def bent(plane: Plane, points_px: ArrayLike) -> NDArray[np.float64]:
    """Undo `straightened`, by fixed-point steps."""
    centre = np.array(plane.centre_px)
    straight = (np.asarray(points_px, dtype=np.float64) - centre) / plane.radius_px
    away = straight
    if plane.k1 or plane.k2:
        for _ in range(_ROUNDS):
            away = straight / _stretch(plane, away)
    return np.asarray(centre + away * plane.radius_px, dtype=np.float64)


def _stretch(plane: Plane, away: NDArray[np.float64]) -> NDArray[np.float64]:
    square = (away**2).sum(axis=-1, keepdims=True)
    return np.asarray(1.0 + plane.k1 * square + plane.k2 * square**2, dtype=np.float64)


def smooth_grid(
    way: Callable[[NDArray[np.float64]], NDArray[np.float64]], width: int, height: int, step: int = 8
) -> NDArray[np.float32]:
    """Evaluate a smooth way at every pixel centre of a grid: worked out at every `step`-th place, bilinear between.

    Parameters
    ----------
    way
        Takes (..., 2) places, x and y in px counted from the corner of the first pixel, to (..., 2).
    width, height
        Of the grid, px.

    Returns
    -------
    ndarray
        (height, width, 2) float32.
    """
    columns, rows = np.arange(0, width + step, step), np.arange(0, height + step, step)
    coarse = way(np.stack(np.meshgrid(columns + 0.5, rows + 0.5), axis=-1)).astype(np.float32)
    x, y = np.arange(width, dtype=np.float32) / step, np.arange(height, dtype=np.float32) / step
    xx, yy = np.meshgrid(x, y)
    return np.asarray(cv2.remap(coarse, xx, yy, cv2.INTER_LINEAR), dtype=np.float32)
