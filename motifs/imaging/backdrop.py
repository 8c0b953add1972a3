"""The backdrop: which part of a photograph it is, and how the light falls on it.

The light is taken as a smooth surface: the logarithm of linear light over the backdrop is a low-order
polynomial of the position, one for each channel. A product of lamp, lens falloff and backdrop colour becomes a
sum there, so a colour cast is a constant and a 2:1 falloff a gentle slope. The polynomial is fitted by
iteratively reweighted least squares with Tukey's biweight (Beaton & Tukey 1974), so that sherds, shadows and
labels inside the fit area weigh nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import cv2
import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from motifs.imaging.colour import fractional_to_linear

if TYPE_CHECKING:
    from numpy.typing import NDArray

_TILES_ACROSS: Final = 150
_DARKEST: Final = 0.0012  # linear light under which an 8-bit photograph holds no colour any more
_ORDER: Final = 4
_SHADOW_DISTRUST: Final = 1.8
_MAX_SAMPLES: Final = 3000
_TUKEY: Final = 4.685  # Tukey's biweight at 95 % efficiency


@dataclass(frozen=True, slots=True)
class Surface:
    """Smooth light over the backdrop.

    coefficients: (terms, 3) of the polynomial of log linear light in positions scaled to -1..1 by the
    half-diagonal. size_px: (width, height) of the photograph it was fitted on.
    """

    coefficients: NDArray[np.float64]
    size_px: tuple[int, int]

    def at(self, x_px: NDArray[Any], y_px: NDArray[Any]) -> NDArray[np.float32]:
        """Linear light of the backdrop, (..., 3), at pixel positions of that photograph."""
        terms = _terms(x_px, y_px, self.size_px)
        return np.exp(terms @ self.coefficients).astype(np.float32)

    def grid(self, columns: int, rows: int) -> NDArray[np.float32]:
        """Light at the cell centres of a (rows, columns) grid over the whole photograph, (rows, columns, 3)."""
        width, height = self.size_px
        x = (np.arange(columns) + 0.5) * width / columns - 0.5
        y = (np.arange(rows) + 0.5) * height / rows - 0.5
        xx, yy = np.meshgrid(x, y)
        return self.at(xx, yy)

    def middle(self) -> NDArray[np.float64]:
        """Median light over the photograph, (3,)."""
        return np.median(self.grid(12, 9).reshape(-1, 3), axis=0).astype(np.float64)

    def image(self) -> NDArray[np.float32]:
        """Light of the backdrop at every pixel, (H, W, 3)."""
        width, height = self.size_px
        coarse = self.grid(max(2, min(width, 96)), max(2, min(height, 72)))
        return np.asarray(cv2.resize(coarse, (width, height), interpolation=cv2.INTER_LINEAR), dtype=np.float32)


def _terms(x_px: NDArray[Any], y_px: NDArray[Any], size_px: tuple[int, int]) -> NDArray[np.float64]:
    half = 0.5 * float(np.hypot(*size_px))
    x = (np.asarray(x_px, dtype=np.float64) - 0.5 * (size_px[0] - 1)) / half
    y = (np.asarray(y_px, dtype=np.float64) - 0.5 * (size_px[1] - 1)) / half
    return np.stack([x**i * y**j for i in range(_ORDER + 1) for j in range(_ORDER + 1 - i)], axis=-1)


def _ridge() -> NDArray[np.float64]:
    """Small penalties that grow with the order: an unseen corner is continued flat rather than wild."""
    orders = [i + j for i in range(_ORDER + 1) for j in range(_ORDER + 1 - i)]
    return np.array([0.0 if order == 0 else 1e-5 * 8.0 ** (order - 1) for order in orders])


def fit_surface(rgb: NDArray[np.uint8]) -> Surface:
    """Find the backdrop of a photograph and fit the light that falls on it.

    Parameters
    ----------
    rgb
        (H, W, 3) uint8 sRGB, small enough to be handled whole (the working image).

    Returns
    -------
    Surface
        Of the same pixel grid.
    """
    height, width = rgb.shape[:2]
    logs, x, y = _tile_logs(rgb)
    seed = _backdrop_tiles(logs)
    flat_logs, flat_x, flat_y = logs.reshape(-1, 3), x.ravel(), y.ravel()
    terms = _terms(flat_x, flat_y, (width, height))
    coefficients = _fit(terms, flat_logs, seed.ravel(), rounds=4)
    residual = np.abs(flat_logs - terms @ coefficients).max(axis=1)
    spread = 1.4826 * float(np.median(residual[seed.ravel()])) + 0.01
    # Islands of backdrop between sherds join once the surface is known.
    coefficients = _fit(terms, flat_logs, residual < max(4.0 * spread, 0.06), rounds=6)
    return Surface(coefficients=coefficients, size_px=(width, height))


def _tile_logs(rgb: NDArray[np.uint8]) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Median log light of square tiles, (rows, columns, 3), and the tile centres in px."""
    height, width = rgb.shape[:2]
    side = max(2, round(max(width, height) / _TILES_ACROSS))
    side = min(side, height, width)
    rows, columns = height // side, width // side
    tiles = rgb[: rows * side, : columns * side].reshape(rows, side, columns, side, 3)
    medians = np.median(tiles.transpose(0, 2, 1, 3, 4).reshape(rows, columns, side * side, 3), axis=2)
    logs = np.log(np.maximum(fractional_to_linear(medians), _DARKEST)).astype(np.float64)
    x, y = np.meshgrid((np.arange(columns) + 0.5) * side - 0.5, (np.arange(rows) + 0.5) * side - 0.5)
    return logs, x, y


def _backdrop_tiles(logs: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Mark the tiles of the backdrop: the largest smoothly connected area, frame contact counting extra."""
    rows, columns = logs.shape[:2]
    index = np.arange(rows * columns).reshape(rows, columns)
    across = np.abs(np.diff(logs, axis=1)).max(axis=2)
    down = np.abs(np.diff(logs, axis=0)).max(axis=2)
    steps = np.concatenate([across.ravel(), down.ravel()])
    tolerance = max(0.06, 3.0 * float(np.median(steps))) if steps.size else 0.06
    first = np.concatenate([index[:, :-1][across < tolerance], index[:-1][down < tolerance]])
    second = np.concatenate([index[:, 1:][across < tolerance], index[1:][down < tolerance]])
    graph = coo_array((np.ones(first.size, dtype=np.int8), (first, second)), shape=(index.size, index.size))
    _, labels = connected_components(graph, directed=False)
    frame = np.concatenate([index[0], index[-1], index[:, 0], index[:, -1]])
    weight = np.bincount(labels) + 3 * np.bincount(labels[frame], minlength=labels.max() + 1)
    is_backdrop: NDArray[np.bool_] = labels == int(np.argmax(weight))
    return is_backdrop.reshape(rows, columns)


def _fit(
    terms: NDArray[np.float64], logs: NDArray[np.float64], inside: NDArray[np.bool_], rounds: int
) -> NDArray[np.float64]:
    """Robust polynomial fit over the marked samples; all channels share one weight."""
    chosen = np.flatnonzero(inside)
    chosen = chosen[:: max(1, len(chosen) // _MAX_SAMPLES)]
    design, values = terms[chosen], logs[chosen]
    weights: NDArray[Any] = np.ones(len(values))
    penalty = np.diag(_ridge()) * len(values)
    coefficients: NDArray[Any] = np.zeros((terms.shape[1], 3))
    for _ in range(rounds):
        weighted = design * weights[:, None]
        system = weighted.T @ design + penalty + 1e-12 * np.eye(terms.shape[1])
        coefficients = np.linalg.solve(system, weighted.T @ values)
        signed = values - design @ coefficients
        residual = np.abs(signed).max(axis=1)
        scale = max(1.4826 * float(np.median(residual)), 0.004)
        # Shadows only darken: what lies under the surface is trusted less.
        residual = np.where(signed.mean(axis=1) < 0, _SHADOW_DISTRUST * residual, residual)
        weights = np.square(np.clip(1.0 - np.square(residual / (_TUKEY * scale)), 0.0, None))
        weights = np.maximum(weights, 1e-6)
    return coefficients
