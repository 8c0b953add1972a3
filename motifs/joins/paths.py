"""An outline as an evenly stepped path: smoothed a little, counter-clockwise in its own axes, with its direction at every step.

Points are complex numbers x + iy in mm. With y down the inside lies to the left of the path in these axes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

Path = "NDArray[np.complex128]"

STEP_MM: Final = 0.5
"""Step of the path; outlines of photographs of 5 to 20 px a mm carry nothing finer that two sides of a break share."""

SMOOTH_MM: Final = 0.25
_FINE_MM: Final = 0.1
DIRECTION_SMOOTH_MM: Final = 0.4


@dataclass(frozen=True, slots=True)
class EdgePath:
    """points: (n,) complex128, mm. direction: (n,) float64, unwrapped angle in radians of the way on. perimeter_mm.

    is_reversed: the outline as given ran the other way. given_mm: (n,) where along the given outline each point lies (mm).
    """

    points: NDArray[np.complex128]
    direction: NDArray[np.float64]
    perimeter_mm: float
    is_reversed: bool

    @property
    def step_mm(self) -> float:
        """Exact step, within a few per cent of STEP_MM."""
        return self.perimeter_mm / len(self.points)


def edge_path(outline_mm: ArrayLike) -> EdgePath:
    """Resample an outline.

    Parameters
    ----------
    outline_mm : (N, 2) closed polygon, N >= 3, finite, not all in one place.

    Raises
    ------
    ValueError
        The points are no polygon.
    """
    polygon = np.asarray(outline_mm, dtype=np.float64)
    if polygon.ndim != 2 or polygon.shape[1] != 2 or len(polygon) < 3 or not np.isfinite(polygon).all():
        raise ValueError(f"an outline is (N, 2) with N >= 3 and finite, not {polygon.shape}")
    corners = polygon[:, 0] + 1j * polygon[:, 1]
    area = 0.5 * float(np.sum((corners.conj() * np.roll(corners, -1)).imag))
    is_reversed = area < 0
    if is_reversed:
        corners = corners[np.r_[0, len(corners) - 1 : 0 : -1]]
    points, perimeter = _evenly(corners)
    return EdgePath(points, _direction(points, perimeter / len(points)), perimeter, is_reversed)


def _evenly(corners: NDArray[np.complex128]) -> tuple[NDArray[np.complex128], float]:
    closed = np.append(corners, corners[0])
    along = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(closed)))])
    perimeter = float(along[-1])
    if perimeter <= 0:
        raise ValueError("an outline has a length above 0")
    count = max(round(perimeter / _FINE_MM), 64)
    fine = _interpolated(along, closed, np.arange(count) * (perimeter / count))
    fine = smoothed(fine, perimeter / count, SMOOTH_MM)
    number = max(round(perimeter / STEP_MM), 16)
    places = np.arange(number) * (count / number)
    return _interpolated(np.arange(count + 1.0), np.append(fine, fine[0]), places), perimeter


def _interpolated(
    along: NDArray[np.float64], values: NDArray[np.complex128], places: NDArray[np.floating]
) -> NDArray[np.complex128]:
    return np.asarray(np.interp(places, along, values.real) + 1j * np.interp(places, along, values.imag))


def smoothed(closed: NDArray[np.complex128], step_mm: float, sigma_mm: float) -> NDArray[np.complex128]:
    """Smooth a closed path of even steps by a Gaussian of standard deviation sigma_mm."""
    turns = np.fft.fftfreq(len(closed), step_mm)
    return np.asarray(np.fft.ifft(np.fft.fft(closed) * np.exp(-0.5 * (2 * np.pi * turns * sigma_mm) ** 2)))


def _direction(points: NDArray[np.complex128], step_mm: float) -> NDArray[np.float64]:
    turns = np.fft.fftfreq(len(points), step_mm)
    soft = np.exp(-0.5 * (2 * np.pi * turns * DIRECTION_SMOOTH_MM) ** 2)
    way = np.fft.ifft(np.fft.fft(points) * soft * 2j * np.pi * turns)
    return np.asarray(np.unwrap(np.angle(way)))


def joined_up(paths: Sequence[EdgePath]) -> tuple[NDArray[np.complex128], NDArray[np.intp], NDArray[np.intp]]:
    """All points in one array, where each path starts in it, and how many points each has."""
    sizes = np.array([len(path.points) for path in paths], dtype=np.intp)
    starts = np.concatenate([[0], np.cumsum(sizes)])[:-1].astype(np.intp)
    points = np.concatenate([path.points for path in paths]) if paths else np.zeros(0, np.complex128)
    return points, starts, sizes
