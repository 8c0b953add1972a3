"""Colour of the backdrop, how far it scatters, and how far other colours lie from it and from its shadows.

A shadow is backdrop with less light: it lies on the curve from the backdrop's colour towards black.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import cv2
import numpy as np

from motifs.imaging.colour import fractional_to_linear, linear_to_lab, to_srgb8
from motifs.imaging.grain import concentrated, principal_axes
from motifs.imaging.quantiles import percentiles

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.imaging.backdrop import Surface

CODING_SIGMA_PX: Final = 0.8
"""Smoothing, in px, of the image that colours are first compared on."""

BLACK_LIGHTNESS: Final = 25.0
"""L* of a backdrop below which being darker says nothing: clay is never darker than black cloth."""

_DEEPEST_SHADOW: Final = 0.15  # least share of light left in a shadow
_SHADOW_TINT: Final = 0.023  # chroma sd a shadow gains for each unit of L* it loses: sky light is bluer than the lamp
_WIDE: Final = 1.0 / 1.2816  # from the 80th percentile of absolute residuals to a standard deviation
_SD_GRID: Final = (9, 12)
_SIGNALS: Final = (  # RGB change for one level of Y, Cb, Cr (ITU-T T.871), and how many levels are taken
    ((1.0, 1.0, 1.0), 0.7),
    ((0.0, -0.344, 1.772), 0.8),
    ((1.402, -0.714, 0.0), 0.8),
)
_MIN_SD: Final = (0.9, 0.6, 0.6)  # of L*, a*, b*
_AVERAGED_MIN_SD: Final = (0.7, 0.45, 0.45)  # the same after averaging over areas
_MOST_SAMPLES: Final = 6000
_GRAIN_SD: Final = (0.5, 0.3, 0.3)  # added in quadrature to what a grained backdrop scatters by itself
AVERAGED_GRAIN_SD: Final = (0.3, 0.3, 0.3)
"""The same after averaging over areas: a chroma step of JPEG shifts a whole block."""


@dataclass(frozen=True, slots=True)
class BackdropColour:
    """Colour of the flattened backdrop.

    centre: (3,) L*a*b*. sd_grid: (rows, columns, 3) float32 robust standard deviations after smoothing, on a coarse
    grid over the photograph, because noise grows where the light is poor. level: (3,) linear light the
    flattened image is normalised to. axes: (3, 3), for a backdrop with grain or weave, the unit axes (rows, the widest
    first) of L*a*b* along which the standard deviations are given; None where they are those of L*, a* and b*.
    """

    centre: NDArray[np.float64]
    sd_grid: NDArray[np.float32]
    level: NDArray[np.float64]
    axes: NDArray[np.float64] | None = None

    def sd_image(self, size_px: tuple[int, int]) -> NDArray[np.float32]:
        """Standard deviations at every pixel of a (width, height) image, (h, w, 3)."""
        return np.asarray(cv2.resize(self.sd_grid, size_px, interpolation=cv2.INTER_LINEAR), dtype=np.float32)

    def sd_at(self, points: NDArray[np.float64], size_px: tuple[int, int]) -> NDArray[np.float32]:
        """Standard deviations at (N, 2) points of a (width, height) image, (N, 3), from the nearest cell."""
        rows, columns = self.sd_grid.shape[:2]
        column = np.clip(points[:, 0] * columns / size_px[0], 0, columns - 1).astype(int)
        row = np.clip(points[:, 1] * rows / size_px[1], 0, rows - 1).astype(int)
        spread: NDArray[np.float32] = self.sd_grid[row, column]
        return spread


def distances(
    lab: NDArray[np.float32], colour: BackdropColour, sd: NDArray[np.float32]
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.bool_]]:
    """How far pixels lie from the backdrop and from the curve of its shadows, in standard deviations.

    Parameters
    ----------
    lab
        (h, w, 3) L*a*b* of flattened light.
    colour
        Of the backdrop.
    sd
        Its standard deviations, broadcast against `lab`.

    Returns
    -------
    tuple
        (h, w) float32 distance to the backdrop's colour; (h, w) float32 distance to the shadow curve; (h, w)
        bool, darker than the backdrop.
    """
    if colour.axes is not None:
        return _grained_distances(lab, colour.centre, colour.axes.astype(np.float32), sd)
    middle = colour.centre.astype(np.float32)
    lightness, a, b = lab[..., 0], lab[..., 1], lab[..., 2]
    sd_lightness, sd_a, sd_b = sd[..., 0], sd[..., 1], sd[..., 2]
    step = (lightness - middle[0]) / sd_lightness
    near = np.sqrt(step**2 + ((a - middle[1]) / sd_a) ** 2 + ((b - middle[2]) / sd_b) ** 2)
    # L* + 16 is proportional to the cube root of light (CIE 15), and a*, b* scale with it along the curve.
    share = np.clip((lightness + 16.0) / (middle[0] + 16.0), 0.0, 1.0)
    tint = np.float32(_SHADOW_TINT) * np.maximum(middle[0] - lightness, 0.0)
    too_dark = np.maximum(np.float32(_DEEPEST_SHADOW ** (1.0 / 3.0)) - share, 0.0) * (middle[0] + 16.0) / sd_lightness
    if middle[0] < BLACK_LIGHTNESS:
        too_dark = np.zeros_like(too_dark)  # nothing is darker than black cloth, save its shadow
    off = np.sqrt(
        ((a - middle[1] * share) / (sd_a + tint)) ** 2
        + ((b - middle[2] * share) / (sd_b + tint)) ** 2
        + too_dark**2
        + np.maximum(step, 0.0) ** 2
    )
    return near, off, step < 0.0


def _grained_distances(
    lab: NDArray[np.float32], centre: NDArray[np.float64], axes: NDArray[np.float32], sd: NDArray[np.float32]
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.bool_]]:
    """`distances` where the spread has axes of its own: the shadow curve is a straight line there."""
    middle = centre.astype(np.float32)
    residual = ((lab - middle) @ axes.T) / sd
    near = np.sqrt(np.square(residual).sum(axis=-1))
    # With L* + 16, a* and b* all proportional to the cube root of light, shadows lie on a ray (CIE 15).
    ray = (axes @ -np.array([middle[0] + 16.0, middle[1], middle[2]], dtype=np.float32)) / sd
    deepest = np.float32(1.0 - _DEEPEST_SHADOW ** (1.0 / 3.0))
    lost = np.clip((residual * ray).sum(axis=-1) / np.maximum(np.square(ray).sum(axis=-1), 1e-9), 0.0, deepest)
    left_over = residual - lost[..., None] * ray
    tint = np.float32(_SHADOW_TINT) * (lost * (middle[0] + 16.0))[..., None] / sd
    off = np.sqrt((np.square(left_over) / (1.0 + np.square(tint))).sum(axis=-1))
    return near, off, lab[..., 0] < middle[0]


def coding_sd(surface: Surface, level: NDArray[np.float64]) -> NDArray[np.float32]:
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
        change = (
            linear_to_lab(level * fractional_to_linear(moved) / np.maximum(fractional_to_linear(encoded), 1e-4)) - still
        )
        spread += change**2
    return np.sqrt(spread)


def backdrop_colour(
    lab: NDArray[np.float32],
    level: NDArray[np.float64],
    coding: NDArray[np.float32],
    *,
    is_averaged: bool = False,
) -> BackdropColour:
    """Robust centre and spread of the flattened backdrop, refined from all pixels near the surface's colour.

    Parameters
    ----------
    lab
        (h, w, 3) L*a*b* of flattened light.
    level
        (3,) linear light of the backdrop, where the search starts.
    coding
        (rows, columns, 3) least spread from coding alone.
    is_averaged
        Whether `lab` was averaged over areas rather than smoothed over single pixels.
    """
    least = _AVERAGED_MIN_SD if is_averaged else _MIN_SD
    centre = linear_to_lab(level[None])[0].astype(np.float64)
    sample = lab[::5, ::5].reshape(-1, 3).astype(np.float64)
    sd = np.array([3.0, 2.0, 2.0])
    for _ in range(4):
        inside = (np.abs(sample - centre) < 3.0 * sd).all(axis=1)
        if inside.sum() < 50:
            break
        centre = percentiles(sample[inside], (50,))[0]
        sd = np.maximum(_spread(sample[inside] - centre), least)
    return BackdropColour(centre=centre, sd_grid=_local_sd(lab, centre, np.maximum(sd, coding)), level=level)


def grained_colour(
    lab: NDArray[np.float32],
    level: NDArray[np.float64],
    least: tuple[float, float, float] = _GRAIN_SD,
    *,
    is_local: bool = True,
) -> BackdropColour:
    """Robust centre and covariance of a backdrop whose colour varies along a line.

    Parameters
    ----------
    lab
        (h, w, 3) L*a*b* of flattened light.
    level
        (3,) linear light the flattened image is normalised to.
    least
        Standard deviations of L*, a* and b* that are added in quadrature.
    is_local
        Whether the spread along the grain is measured place by place; else it is one for the whole photograph.
    """
    sample = lab[1::3, 1::3].reshape(-1, 3).astype(np.float64)
    sample = sample[:: max(1, len(sample) // _MOST_SAMPLES)] if len(sample) else lab.reshape(-1, 3).astype(np.float64)
    centre, covariance = concentrated(sample, np.array(least))
    axes, sd = principal_axes(covariance)
    grid = np.broadcast_to(sd.astype(np.float32), (*_SD_GRID, 3)).copy()
    if not is_local:
        return BackdropColour(centre=centre, sd_grid=grid, level=level, axes=axes)
    # Where the light fits badly only lightness goes astray; across the grain a sherd must not widen the spread.
    turned = (lab - centre.astype(np.float32)) @ axes.T.astype(np.float32)
    grid[..., 0] = _local_sd(turned, np.zeros(3), sd)[..., 0]
    return BackdropColour(centre=centre, sd_grid=grid, level=level, axes=axes)


def _spread(residual: NDArray[np.floating[Any]]) -> NDArray[np.float64]:
    """Standard deviations, (3,), of (N, 3) residuals; of L* the smaller of both sides, as shadows widen one."""
    spread: NDArray[np.float64] = _WIDE * percentiles(np.abs(residual), (80,))[0]
    lightness = residual[:, 0]
    lighter, darker = lightness[lightness >= 0], -lightness[lightness < 0]
    if min(len(lighter), len(darker)) > 0.2 * len(lightness):
        spread[0] = _WIDE * min(float(percentiles(lighter, (80,))[0]), float(percentiles(darker, (80,))[0]))
    return spread


def _local_sd(lab: NDArray[np.float32], centre: NDArray[np.float64], least: NDArray[np.float64]) -> NDArray[np.float32]:
    """Spread of backdrop-like pixels in each cell of a coarse grid, never below the least it must have."""
    rows, columns = _SD_GRID
    grid = np.broadcast_to(least.astype(np.float32), (rows, columns, 3)).copy()
    residual = lab[::3, ::3] - centre.astype(np.float32)
    height, width = residual.shape[:2]
    limit = np.asarray(cv2.resize(4.0 * grid, (width, height)), dtype=np.float32)
    inside = np.asarray((np.abs(residual) < limit).all(axis=2), dtype=np.bool_)
    for row in range(rows):
        for column in range(columns):
            cell = np.s_[
                row * height // rows : (row + 1) * height // rows,
                column * width // columns : (column + 1) * width // columns,
            ]
            chosen = residual[cell][inside[cell]]
            if len(chosen) >= 60:
                grid[row, column] = np.maximum(grid[row, column], _spread(chosen))
    return np.asarray(cv2.blur(grid, (3, 3), borderType=cv2.BORDER_REPLICATE), dtype=np.float32)
