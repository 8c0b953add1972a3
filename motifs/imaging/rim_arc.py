"""A circle along the stretch of an outline that is rim: its diameter, its share of the whole rim, and how sure both are.

Right only where the photograph looks along the axis of the vessel, as at a rim that lies on the table; a rim seen from its
side shows no circle.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import least_squares

from motifs.imaging.outline import as_outline

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

STEP_MM: Final = 0.5
LEAST_POINTS: Final = 12


@dataclass(frozen=True, slots=True)
class RimArc:
    """A circle fitted along a stretch of rim.

    diameter_mm and its standard uncertainty; fraction: share of the whole rim between the ends of the stretch, 0..1, and
    its standard uncertainty; chord_mm, sagitta_mm: of the fitted arc; residual_mm: root mean square from the circle.
    """

    diameter_mm: float
    diameter_sd_mm: float
    fraction: float
    fraction_sd: float
    chord_mm: float
    sagitta_mm: float
    residual_mm: float


def stretch_between(outline_mm: ArrayLike, start_mm: ArrayLike, end_mm: ArrayLike) -> NDArray[np.float64]:
    """The shorter way along an outline between the two places nearest to the points given, every 0.5 mm.

    Parameters
    ----------
    outline_mm
        (N, 2) closed polygon, N >= 3.
    start_mm, end_mm
        (2,) points near the outline.

    Returns
    -------
    ndarray
        (n, 2) float64, n >= 2.
    """
    corners = as_outline(outline_mm).astype(np.float64)
    closed = np.vstack([corners, corners[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    fine = np.linspace(0, along[-1], max(16, round(along[-1] / STEP_MM)), endpoint=False)
    points = np.column_stack([np.interp(fine, along, closed[:, axis]) for axis in (0, 1)])
    first, last = (int(np.hypot(*(points - np.asarray(at, float)).T).argmin()) for at in (start_mm, end_mm))
    low, high = min(first, last), max(first, last)
    inner, outer = points[low : high + 1], np.vstack([points[high:], points[: low + 1]])
    return inner if len(inner) <= len(outer) else outer


def fit_rim_arc(points_mm: ArrayLike, *, scale_relative_sd: float = 0.0) -> RimArc | None:
    """Fit a circle along a stretch of rim, by least distances (Chernov & Lesort 2005, who keep flat arcs stable).

    Neighbouring deviations of a worn edge go together; the uncertainty is widened by how far they do.

    Parameters
    ----------
    points_mm
        (n, 2), along the rim in order.
    scale_relative_sd
        Standard uncertainty of the photograph's scale, relative.

    Returns
    -------
    RimArc or None
        None under 12 points, or where the stretch is straight within its uncertainty.
    """
    points = np.asarray(points_mm, dtype=np.float64)
    if len(points) < LEAST_POINTS:
        return None
    chord = float(np.hypot(*(points[-1] - points[0])))
    if chord <= 0:
        return None
    flat = _upright(points)
    fitted = least_squares(_distances, _start(flat), args=(flat,), x_scale="jac", method="lm")
    residual = _distances(fitted.x, flat)
    covariance = _covariance(fitted.jac, residual)
    curve, curve_sd = abs(float(fitted.x[0])), float(np.sqrt(covariance[0, 0]))
    if curve <= 2.0 * curve_sd:
        return None
    diameter = 1.0 / curve
    diameter = max(diameter, chord)
    relative_sd = float(np.hypot(curve_sd / curve, scale_relative_sd))
    fraction = _fraction(flat, diameter, chord)
    sagitta = diameter / 2 * (1 - np.cos(np.pi * fraction))
    rms = float(np.sqrt((residual**2).mean()))
    # A stretch of given length is a smaller share of a larger rim, in proportion; the scale drops out of a share.
    fraction_sd = fraction * curve_sd / curve
    return RimArc(diameter, relative_sd * diameter, fraction, fraction_sd, chord, float(sagitta), rms)


def _upright(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Turn a stretch so that its chord lies along x, about its middle."""
    chord = points[-1] - points[0]
    x_axis = chord / np.hypot(*chord)
    frame = np.column_stack([x_axis, [-x_axis[1], x_axis[0]]])
    return np.asarray((points - points.mean(axis=0)) @ frame, np.float64)


def _start(flat: NDArray[np.float64]) -> NDArray[np.float64]:
    """Curvature, offset and direction of a parabola through the points, to start from."""
    bend, slope, height = np.polyfit(flat[:, 0], flat[:, 1], 2)
    return np.array([bend, height, np.arctan2(1.0, -slope)])


def _distances(circle: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Signed distances from A (x2 + y2) + B x + C y + D = 0, with B2 + C2 - 4 A D = 1; circle is (-A, -D, direction of B, C)."""
    a, d, turn = -circle[0], -circle[1], circle[2]
    gradient = np.sqrt(max(1 + 4 * a * d, 1e-9))
    x, y = points.T
    power = a * (x**2 + y**2) + gradient * (np.cos(turn) * x + np.sin(turn) * y) + d
    return np.asarray(2 * power / (1 + np.sqrt(np.maximum(1 + 4 * a * power, 0.0))), np.float64)


def _covariance(jacobian: NDArray[np.float64], residual: NDArray[np.float64]) -> NDArray[np.float64]:
    """Of the three parameters, widened by the length over which residuals go together."""
    n = len(residual)
    variance = float((residual**2).sum()) / max(n - 3, 1) + 1e-8
    centred = residual - residual.mean()
    lags = np.correlate(centred, centred, "full")[n - 1 :] / max(float(centred @ centred), 1e-12)
    below = np.flatnonzero(lags <= 0)
    together = 1 + 2 * float(lags[1 : below[0] if below.size else n].sum())
    return np.asarray(np.linalg.pinv(jacobian.T @ jacobian) * variance * max(together, 1.0), np.float64)


def _fraction(flat: NDArray[np.float64], diameter: float, chord: float) -> float:
    """Share of the rim between the ends; past half way round, the arc rises higher than the radius."""
    share = float(np.arcsin(min(chord / diameter, 1.0)) / np.pi)
    return 1.0 - share if float(np.ptp(flat[:, 1])) > diameter / 2 else share
