"""Colour of the bare ground and of the paints of a sherd's face: mean, spread within the sherd, one paint or two."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from motifs.imaging.colour import delta_e, linear_to_lab

if TYPE_CHECKING:
    from numpy.typing import NDArray

_MOST_PIXELS: Final = 2000
_LEAST_PIXELS: Final = 60
_APART_DE: Final = 10.0
"""Two paints differ by more than a value step of the soil chips (8 to 9 CIEDE2000) or they are one paint, thick and thin."""
_LEAST_SHARE: Final = 0.15
_APART_SPREADS: Final = 2.5

Lab = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class RegionColour:
    """Colour of one part of a face.

    lab: mean L*a*b* (D65); spread: standard deviation of each within the sherd, robust; spread_de: median CIEDE2000
    from the mean; share: 0..1 of the pixels given.
    """

    lab: Lab
    spread: Lab
    spread_de: float
    share: float


def region_colour(linear: NDArray[np.floating[Any]]) -> RegionColour | None:
    """Mean and spread of the pixels of one part of a face; None under 60 pixels.

    Parameters
    ----------
    linear
        (N, 3) linear sRGB. The mean is that of the middle 90 % in lightness, so that pits and glints do not count.
    """
    lab = _thinned_lab(linear)
    return None if len(lab) < _LEAST_PIXELS else _colour_of(lab, 1.0)


def paint_colours(linear: NDArray[np.floating[Any]]) -> tuple[RegionColour, ...]:
    """Colours of the ink, the most frequent first: one, or two where two clearly different paints were used.

    Two only if they lie more than 10 CIEDE2000 apart, clearly more than either spreads, and each covers 15 %.

    Parameters
    ----------
    linear
        (N, 3) linear sRGB of the ink; under 60 pixels there is no colour.
    """
    lab = _thinned_lab(linear)
    if len(lab) < _LEAST_PIXELS:
        return ()
    whole = _colour_of(lab, 1.0)
    label = _two_groups(lab)
    parts = [lab[~label], lab[label]]
    if min(len(part) for part in parts) < max(_LEAST_PIXELS, _LEAST_SHARE * len(lab)):
        return (whole,)
    two = sorted((_colour_of(part, len(part) / len(lab)) for part in parts), key=lambda colour: -colour.share)
    return tuple(two) if _are_apart(two[0], two[1]) else (whole,)


def _two_groups(lab: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Split colours in two (Lloyd's k-means, k = 2), started from both ends of their main axis: no chance in it."""
    along = (lab - lab.mean(axis=0)) @ np.linalg.eigh(np.cov(lab.T))[1][:, -1]
    second = along > np.median(along)
    for _ in range(20):
        if not second.any() or second.all():
            break
        centres = np.stack([lab[~second].mean(axis=0), lab[second].mean(axis=0)])
        distance = ((lab[:, None] - centres) ** 2).sum(axis=2)
        settled = np.array_equal(second, distance[:, 1] < distance[:, 0])
        second = distance[:, 1] < distance[:, 0]
        if settled:
            break
    return np.asarray(second, np.bool_)


def _are_apart(one: RegionColour, other: RegionColour) -> bool:
    apart = float(delta_e(np.array(one.lab), np.array(other.lab)))
    return apart > max(_APART_DE, _APART_SPREADS * (one.spread_de + other.spread_de) / 2)


def _thinned_lab(linear: NDArray[np.floating[Any]]) -> NDArray[np.float64]:
    pixels = np.asarray(linear).reshape(-1, 3)
    return linear_to_lab(pixels[:: max(1, len(pixels) // _MOST_PIXELS)]).astype(np.float64)


def _colour_of(lab: NDArray[np.float64], share: float) -> RegionColour:
    low, high = np.quantile(lab[:, 0], [0.05, 0.95])
    middle = lab[(lab[:, 0] >= low) & (lab[:, 0] <= high)]
    mean = middle.mean(axis=0)
    spread = 1.4826 * np.median(np.abs(lab - np.median(lab, axis=0)), axis=0)
    de = float(np.median(delta_e(lab, mean[None])))
    return RegionColour(_three(mean), _three(spread), de, share)


def _three(values: NDArray[np.float64]) -> Lab:
    first, second, third = (float(value) for value in values)
    return first, second, third
