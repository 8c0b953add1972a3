"""White and exposure from the photo mat: its bare paper first, its grey patches where the paper is clipped, and as a check."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from motifs.imaging.colour import delta_e, linear_to_lab, to_linear
from motifs.imaging.mat_clearing import PAPER
from motifs.imaging.plane import plane_px

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.imaging.mat_clearing import PaperLight
    from motifs.imaging.mat_design import Patch
    from motifs.imaging.mat_reading import MatReading

_CLIPPED: Final = 250
_LIKE_ITSELF: Final = 0.2  # of the square root of the paper's light: farther off, something lies on the patch
_LEAST_PATCHES: Final = 3


@dataclass(frozen=True, slots=True)
class MatWhite:
    """What white paper sends to the camera.

    light: (3,) linear light of white paper in the middle of the mat. middle_px: (x, y) of that. residual_de: median
    CIEDE2000 of the grey patches from what they should be under that light; None when fewer than three were seen.
    patches: how many were seen. exponent: of their tones, 1 where the camera and the printer kept to sRGB.
    """

    light: NDArray[np.float64]
    middle_px: tuple[float, float]
    residual_de: float | None
    patches: int
    exponent: float


def mat_white(
    fine: NDArray[np.uint8], mat: MatReading, light: PaperLight, zoom: tuple[float, float]
) -> MatWhite | None:
    """Read white paper and grey patches.

    Parameters
    ----------
    fine, mat, light, zoom
        As in `mat_clearing`.

    Returns
    -------
    MatWhite or None
        None where the paper is clipped and no patch can stand in for it.
    """
    middle = np.array([mat.design.width / 2, mat.design.height / 2])
    paper = light.at(middle)
    relative, expected = _patches_over_paper(fine, mat, light, zoom)
    is_clipped = bool((paper > float(to_linear(np.array([_CLIPPED], dtype=np.uint8))[0])).any())
    if is_clipped and len(expected) < _LEAST_PATCHES:
        return None
    # Under clipped paper the patches, grey and unclipped, tell what the paper would have been.
    white = paper * np.median(relative / expected[:, None], axis=0) if is_clipped else paper
    if float(white.min()) <= 0.0:  # no light of one primary: no white
        return None
    x, y = plane_px(mat.plane, middle).tolist()
    residual, exponent = _residual(relative * paper / white, expected)
    return MatWhite(np.asarray(white, dtype=np.float64), (float(x), float(y)), residual, len(expected), exponent)


def _patches_over_paper(
    fine: NDArray[np.uint8], mat: MatReading, light: PaperLight, zoom: tuple[float, float]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Light of the patches over that of the paper beside them, (n, 3), and what it should be, (n,)."""
    found, expected = [], []
    for patch in mat.design.patches:
        own = _patch_light(fine, mat, patch, zoom)
        if own is None:
            continue
        box = patch.box
        relative = own / light.at(np.array([box.x + box.width / 2, box.y + box.height / 2]))
        should = float(to_linear(np.array([patch.level], dtype=np.uint8))[0])
        if np.abs(np.sqrt(relative.mean()) - np.sqrt(should)) < _LIKE_ITSELF:
            found.append(relative)
            expected.append(should)
    return np.array(found).reshape(-1, 3), np.array(expected)


def _patch_light(
    fine: NDArray[np.uint8], mat: MatReading, patch: Patch, zoom: tuple[float, float]
) -> NDArray[np.float64] | None:
    """Median linear light, (3,), of the middle of a patch; None where it is out of the frame, clipped or uneven."""
    box = patch.box
    x, y = np.meshgrid(box.x + box.width * np.linspace(0.3, 0.7, 7), box.y + box.height * np.linspace(0.3, 0.7, 7))
    at = np.rint((plane_px(mat.plane, np.stack([x.ravel(), y.ravel()], axis=1)) + 0.5) / zoom - 0.5).astype(int)
    if (at < 0).any() or (at >= (fine.shape[1], fine.shape[0])).any():
        return None
    pixels = fine[at[:, 1], at[:, 0]]
    uneven = np.ptp(np.percentile(pixels.astype(np.float64).mean(axis=1), (10, 90))) > 25.0
    if uneven or float((pixels >= _CLIPPED).mean()) > 0.05:
        return None
    return np.median(to_linear(pixels).astype(np.float64), axis=0)


def _residual(relative: NDArray[np.float64], expected: NDArray[np.float64]) -> tuple[float | None, float]:
    if len(expected) < _LEAST_PATCHES:
        return None, 1.0
    true = np.repeat(expected[:, None], 3, axis=1)
    off = delta_e(linear_to_lab(relative * PAPER), linear_to_lab(true * PAPER))
    slope = np.polyfit(np.log(expected), np.log(np.maximum(relative.mean(axis=1), 1e-3)), 1)[0]
    return float(np.median(off)), float(slope)
