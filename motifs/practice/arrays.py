"""Array types of the renderer and smooth random fields."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Sequence

FloatArray = NDArray[np.float64]
Map = NDArray[np.float32]
ByteMap = NDArray[np.uint8]


def as_map(array: Any) -> Map:
    """Return an array as contiguous float32, whatever a library call typed it as."""
    return np.ascontiguousarray(array, dtype=np.float32)


def resized(array: NDArray[Any], shape: tuple[int, int], how: int = cv2.INTER_LINEAR) -> Map:
    """Resample an array to (rows, columns) and return it as float32."""
    return as_map(cv2.resize(array, (shape[1], shape[0]), interpolation=how))


def blurred(array: NDArray[Any], sigma_px: float, sigma_y_px: float | None = None) -> Map:
    """Gaussian blur that repeats the first and last columns' neighbours; sigma 0 returns the array itself."""
    if sigma_px < 0.15 and (sigma_y_px is None or sigma_y_px < 0.15):
        return as_map(array)
    sigma_y = sigma_px if sigma_y_px is None else sigma_y_px
    return as_map(cv2.GaussianBlur(array, (0, 0), sigmaX=max(sigma_px, 0.01), sigmaY=max(sigma_y, 0.01)))


def smooth_noise(
    rng: np.random.Generator, shape: tuple[int, int], cell_px: float, cell_y_px: float | None = None
) -> Map:
    """Smooth random field of about zero mean and unit variance that closes on itself in x.

    Parameters
    ----------
    rng : Generator
    shape : (rows, columns)
    cell_px, cell_y_px : size of one lump in x and y, in px

    Returns
    -------
    (rows, columns) float32
    """
    rows, columns = shape
    nx = max(round(columns / max(cell_px, 1.0)), 2)
    ny = max(int(np.ceil(rows / max(cell_y_px or cell_px, 1.0))), 1)
    grid = rng.standard_normal((ny + 3, nx)).astype(np.float32)
    grid = np.concatenate([grid[:, -2:], grid, grid[:, :2]], axis=1)
    step_x, step_y = columns / nx, max(cell_y_px or cell_px, 1.0)
    wide = cv2.warpAffine(
        grid,
        np.array([[1.0 / step_x, 0.0, 1.5], [0.0, 1.0 / step_y, 1.0]]),
        (columns, rows),
        flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return as_map(wide) * np.float32(1.25)


def layered_noise(
    rng: np.random.Generator, shape: tuple[int, int], cells_px: Sequence[float], falloff: float = 0.6
) -> Map:
    """Sum of smooth fields from coarse to fine, of about unit variance. Returns (rows, columns) float32."""
    total = np.zeros(shape, np.float32)
    weight, power = 1.0, 0.0
    for cell in cells_px:
        total += np.float32(weight) * smooth_noise(rng, shape, cell)
        power += weight * weight
        weight *= falloff
    return as_map(total / np.float32(np.sqrt(power)))


def soft_step(field: Map, edge: float, width: float) -> Map:
    """Smooth step from 0 to 1 as a field passes an edge, over the given width."""
    t = np.clip((field - np.float32(edge)) / np.float32(max(width, 1e-6)) + np.float32(0.5), 0.0, 1.0)
    return as_map(t * t * (3.0 - 2.0 * t))
