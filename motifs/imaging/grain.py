"""Backdrops with grain or weave: their colour varies, but along one line, and next to nothing across it.

Light and dark wood, the crown and the valley of a thread, planks of one table: they differ in lightness and, tied
to it, a little in chroma. A spread for each of L*, a* and b* hides a sherd of another hue in that; the whole covariance does
not (Mahalanobis 1936). It is estimated from the half of the pixels that scatters least, by concentration steps
(Rousseeuw & Van Driessen 1999), so that sherds on up to half of the photograph do not count.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from motifs.imaging.quantiles import median, percentiles

if TYPE_CHECKING:
    from numpy.typing import NDArray

_HALF: Final = 0.5
_CHI2_MEDIAN: Final = 2.366  # of three degrees of freedom: what the median squared distance should be
_STEPS: Final = 12
_STARTS_SPREAD: Final = 1.4826  # from the median absolute deviation to a standard deviation


def concentrated(
    sample: NDArray[np.float64], least: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Robust centre and covariance of what most of a sample is.

    Parameters
    ----------
    sample
        (N, 3) colours, N >= 8; more than half of them of the backdrop.
    least
        (3,) standard deviations that are added in quadrature: noise that is always there.

    Returns
    -------
    tuple
        (3,) centre and (3, 3) covariance, consistent for a normal distribution.
    """
    floor = np.diag(np.square(least))
    centre = np.median(sample, axis=0)
    deviation = _STARTS_SPREAD * np.median(np.abs(sample - centre), axis=0)
    covariance = np.diag(np.square(deviation)) + floor
    for _ in range(_STEPS):
        squared = squared_distance(sample - centre, covariance)
        inner = sample[squared <= percentiles(squared, (100.0 * _HALF,))[0]]
        centre = inner.mean(axis=0)
        covariance = np.cov(inner.T) + 1e-2 * floor
        usual = median(squared_distance(sample - centre, covariance))
        covariance *= max(usual / _CHI2_MEDIAN, 1e-3)
    return centre, covariance + floor


def squared_distance(residual: NDArray[np.float64], covariance: NDArray[np.float64]) -> NDArray[np.float64]:
    """Squared Mahalanobis distances, (N,), of (N, 3) residuals."""
    white = residual @ np.linalg.inv(np.linalg.cholesky(covariance)).T
    total: NDArray[np.float64] = np.square(white) @ np.ones(white.shape[1])
    return total


def principal_axes(covariance: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Unit axes as rows, (3, 3), from the widest on, and the standard deviations along them, (3,)."""
    variance, vectors = np.linalg.eigh(covariance)
    return np.ascontiguousarray(vectors.T[::-1]), np.sqrt(variance[::-1])
