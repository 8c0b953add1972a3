"""Colours of a 24-patch card: what they should be, and the fit that brings a camera's colours there.

The reference is the set of mean values published for cards made since November 2014 (CIE xyY under D50, as kept in
colour-science 0.4.7, "ColorChecker24 - After November 2014"), adapted to D65 by the Bradford transform and taken to
linear sRGB (IEC 61966-2-1). It is copied here so that a whole colour library need not be loaded at every intake; a test
computes it anew.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import least_squares
from skimage.color import xyz2lab
from skimage.color.colorconv import xyz_from_rgb as rgb_primaries

from motifs.imaging.colour import delta_e, linear_to_lab
from motifs.imaging.light import apply_fit
from motifs.records import ColourFit

if TYPE_CHECKING:
    from numpy.typing import NDArray

REFERENCE_LINEAR: Final = np.array(
    [
        (0.1737, 0.0788, 0.0529),
        (0.5598, 0.2774, 0.2109),
        (0.1042, 0.1889, 0.3289),
        (0.1057, 0.1508, 0.0508),
        (0.2274, 0.2124, 0.4264),
        (0.1153, 0.5074, 0.4111),
        (0.7459, 0.2021, 0.0299),
        (0.0587, 0.1012, 0.3877),
        (0.5601, 0.0802, 0.1146),
        (0.1092, 0.0420, 0.1381),
        (0.3328, 0.4974, 0.0426),
        (0.7710, 0.3579, 0.0204),
        (0.0210, 0.0475, 0.2841),
        (0.0461, 0.2920, 0.0615),
        (0.4462, 0.0364, 0.0406),
        (0.8417, 0.5744, 0.0047),
        (0.5223, 0.0778, 0.2893),
        (-0.0439, 0.2337, 0.3772),
        (0.8795, 0.8850, 0.8342),
        (0.5845, 0.5922, 0.5845),
        (0.3577, 0.3671, 0.3653),
        (0.1901, 0.1909, 0.1898),
        (0.0859, 0.0887, 0.0898),
        (0.0314, 0.0315, 0.0323),
    ]
)
"""Linear sRGB, (24, 3), row by row from the dark skin patch to the black one; cyan lies outside sRGB (red below 0)."""

WHITE_PATCH: Final = 18
GREY_PATCHES: Final = tuple(range(18, 24))

_TONE_SD: Final = 0.5
_MIX_SD: Final = 0.5
_OFFSET_SD: Final = 0.02
_SOFT_DE: Final = 2.0
_PULL: Final = 0.05


def mixing_residual(light: NDArray[np.float64], reference: NDArray[np.float64]) -> float:
    """Median CIEDE2000 between a reference, (n, 3), and light, (n, 3), after the best 3 by 3 mixing of its channels."""
    # Weighted by how bright a patch is, so that dark ones, where the eye is keener, count too.
    weight = 1.0 / (0.05 + reference.mean(axis=1, keepdims=True))
    matrix = np.linalg.lstsq(light * weight, reference * weight, rcond=None)[0]
    return float(np.median(delta_e(linear_to_lab(light @ matrix), linear_to_lab(reference))))


def fit_colours(light: NDArray[np.float64], reference: NDArray[np.float64]) -> tuple[ColourFit, float]:
    """Fit tones and mixing so that light becomes the reference.

    Three exponents, a 3 by 3 matrix and an offset are found by robust least squares in CIE L*a*b*, with a weak pull
    towards leaving colours as they are.

    Parameters
    ----------
    light
        (n, 3) linear light of the patches after the light field was divided out, n at least 8.
    reference
        (n, 3) linear sRGB they should have.

    Returns
    -------
    tuple
        The fit, and the median CIEDE2000 of the patches after it.
    """
    target = _fine_lab(reference)

    def off(unknowns: NDArray[np.float64]) -> NDArray[np.float64]:
        lab = _fine_lab(_lifted(unknowns, light))
        pull = np.concatenate(
            [
                np.log(np.maximum(unknowns[:3], 1e-3)) / _TONE_SD,
                (unknowns[3:12] - np.eye(3).ravel()) / _MIX_SD,
                unknowns[12:] / _OFFSET_SD,
            ]
        )
        return np.concatenate([((lab - target) / _SOFT_DE).ravel(), _PULL * pull])

    start = np.concatenate([np.ones(3), np.eye(3).ravel(), np.zeros(3)])
    low = np.concatenate([np.full(3, 0.3), np.full(9, -3.0), np.full(3, -0.1)])
    high = np.concatenate([np.full(3, 3.0), np.full(9, 4.0), np.full(3, 0.1)])
    solved = least_squares(off, start, bounds=(low, high), loss="soft_l1")
    fit = _fit_of(solved.x)
    after = linear_to_lab(apply_fit(fit, light))
    return fit, float(np.median(delta_e(after, linear_to_lab(reference))))


def _fine_lab(linear: NDArray[np.float64]) -> NDArray[np.float64]:
    """L*a*b* (D65) in double precision, with a slope below black, so that a fit can feel its way there."""
    xyz = linear @ rgb_primaries.T
    return np.asarray(xyz2lab(xyz), dtype=np.float64)


def _lifted(unknowns: NDArray[np.float64], light: NDArray[np.float64]) -> NDArray[np.float64]:
    raised = np.maximum(light, 1e-6) ** unknowns[:3]
    return np.asarray(raised @ unknowns[3:12].reshape(3, 3).T + unknowns[12:], dtype=np.float64)


def _fit_of(unknowns: NDArray[np.float64]) -> ColourFit:
    values = unknowns.tolist()
    return ColourFit(exponent=tuple(values[:3]), matrix=tuple(values[3:12]), offset=tuple(values[12:]))
