"""Which way the lines of a decoration run, and how high the band is that framing lines enclose."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

_BLOCK_MM: Final = 5.0
_LARGEST_SD_DEG: Final = 15.0
_BIN_MM: Final = 0.25
_FRAME_SHARE: Final = 0.75
"""A framing line is ink along at least this share of what is seen of it."""
_FRAME_MAX_MM: Final = 4.0
_LEAST_SEEN_MM: Final = 8.0
_LEAST_BAND_MM: Final = 3.0
_FILL: Final = (0.06, 0.75)
"""Share of ink of what lies between two framing lines: below it is bare, above it is solid; neither is a band."""


@dataclass(frozen=True, slots=True)
class LineDirection:
    """Dominant direction of lines.

    direction_deg: 0 to below 180, axial, anticlockwise from the picture's horizontal; direction_sd_deg: its standard
    uncertainty; strength: 0 (lines run every way alike) to 1 (all parallel).
    """

    direction_deg: float
    direction_sd_deg: float
    strength: float


@dataclass(frozen=True, slots=True)
class BandHeight:
    """Height of a band between the middles of its framing lines.

    direction_deg: how the band runs, 0 to below 180, anticlockwise from the picture's horizontal. bands: how many were seen.
    """

    height_mm: float
    height_sd_mm: float
    direction_deg: float
    bands: int


def line_direction(
    coverage: NDArray[np.floating[Any]], inner: NDArray[np.bool_], px_per_mm: float
) -> LineDirection | None:
    """Find the dominant direction from the structure tensor (Bigün & Granlund 1987) of the ink.

    Parameters
    ----------
    coverage
        (h, w) float, share of ink in each pixel, 0..1.
    inner
        (h, w) bool, the face.
    px_per_mm
        Resolution of both.

    Returns
    -------
    LineDirection or None
        None without ink, or where the direction is uncertain by more than 15 degrees.
    """
    vector, weight = _block_vectors(coverage, inner, px_per_mm)
    total, weights = vector.sum(), float(weight.sum())
    if weights <= 0 or abs(total) <= 0:
        return None
    across = np.imag(vector * np.conj(total) / abs(total))
    sd_deg = float(np.degrees(0.5 * np.sqrt((across**2).sum()) / abs(total)))
    if sd_deg > _LARGEST_SD_DEG:
        return None
    # A line lies across its gradient; the picture's y runs down.
    direction = (90.0 - np.degrees(np.angle(total)) / 2.0) % 180.0
    return LineDirection(float(direction), max(sd_deg, 0.2), float(abs(total) / weights))


def _block_vectors(
    coverage: NDArray[np.floating[Any]], inner: NDArray[np.bool_], px_per_mm: float
) -> tuple[NDArray[np.complex128], NDArray[np.float64]]:
    """Doubled-angle gradient vectors and gradient energy, summed over blocks of 5 mm."""
    smooth = cv2.GaussianBlur(np.asarray(coverage, np.float32), (0, 0), max(0.6, 0.15 * px_per_mm))
    gx, gy = cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1)
    # The face's own border is no line: ink ends there because the face does.
    clear = cv2.erode(inner.astype(np.uint8), np.ones((7, 7), np.uint8), borderValue=0) > 0
    rows, columns = np.nonzero(clear)
    if not rows.size:
        return np.zeros(0, np.complex128), np.zeros(0)
    side = max(2, round(_BLOCK_MM * px_per_mm))
    block = (rows // side) * (coverage.shape[1] // side + 1) + columns // side
    gradient = gx[clear].astype(np.float64) + 1j * gy[clear].astype(np.float64)
    doubled, energy = gradient**2, np.abs(gradient) ** 2
    sums = np.bincount(block, doubled.real) + 1j * np.bincount(block, doubled.imag)
    return np.asarray(sums, np.complex128), np.asarray(np.bincount(block, energy), np.float64)


def band_height(coverage: NDArray[np.floating[Any]], inner: NDArray[np.bool_], px_per_mm: float) -> BandHeight | None:
    """Find the height of a band between two straight framing lines.

    The ink is summed along lines of every direction; framing lines are narrow and inked along most of their length, and
    between two of them lies decoration, neither bare nor solid. Parameters as for `line_direction`.

    Returns
    -------
    BandHeight or None
        None where no two framing lines with decoration between them are seen.
    """
    seen, rough = _Seen.of(coverage, inner, px_per_mm, every=1), _Seen.of(coverage, inner, px_per_mm, every=2)
    coarse = max(np.arange(0.0, 180.0, 2.0), key=lambda turn: _framed(*rough.profile(turn, 2 * _BIN_MM)))
    turn = max(coarse + np.arange(-2.0, 2.1, 0.5), key=lambda turn: _framed(*seen.profile(turn)))
    share, length_mm = seen.profile(turn)
    heights = []
    for (low, low_end), (high, high_end) in pairwise(_frames(share, length_mm)):
        between = share[low_end:high]
        height = ((high + high_end) - (low + low_end)) / 2 * _BIN_MM
        if between.size and height >= _LEAST_BAND_MM and _FILL[0] <= between.mean() <= _FILL[1]:
            heights.append(height)
    if not heights:
        return None
    spread = float(np.std(heights) / np.sqrt(len(heights))) if len(heights) > 1 else 0.0
    return BandHeight(float(np.median(heights)), float(np.hypot(spread, _BIN_MM)), float(turn % 180.0), len(heights))


@dataclass(frozen=True, slots=True)
class _Seen:
    """Pixels of a face: where they lie (mm) and how far they are ink."""

    x_mm: NDArray[np.float64]
    y_mm: NDArray[np.float64]
    ink: NDArray[np.float64]
    px_per_mm: float

    @classmethod
    def of(
        cls, coverage: NDArray[np.floating[Any]], inner: NDArray[np.bool_], px_per_mm: float, *, every: int
    ) -> _Seen:
        """Take every so many-th pixel of rows and columns."""
        rows, columns = np.nonzero(inner[::every, ::every])
        fine = px_per_mm / every
        ink = np.asarray(coverage[::every, ::every], np.float64)[rows, columns]
        return cls(columns / fine, rows / fine, ink, fine)

    def profile(self, direction_deg: float, bin_mm: float = _BIN_MM) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Share of ink along lines of that direction, and how many mm of each is seen, in bins across."""
        if not self.ink.size:
            return np.zeros(1), np.zeros(1)
        angle = np.radians(direction_deg)
        across = self.x_mm * np.sin(angle) + self.y_mm * np.cos(angle)
        place = ((across - across.min()) / bin_mm).astype(np.intp)
        count = np.bincount(place).astype(np.float64)
        return np.bincount(place, self.ink) / np.maximum(count, 1), count / self.px_per_mm**2 / bin_mm


def _framed(share: NDArray[np.float64], length_mm: NDArray[np.float64]) -> float:
    """How much is seen of lines that are ink throughout: most where the profile runs along the framing lines."""
    return float((length_mm * np.maximum(share - 0.5, 0.0) ** 2)[length_mm >= _LEAST_SEEN_MM].sum())


def _frames(share: NDArray[np.float64], seen: NDArray[np.float64]) -> list[tuple[int, int]]:
    """Runs of bins, [start, end), that are a framing line."""
    inked = (share >= _FRAME_SHARE) & (seen >= _LEAST_SEEN_MM)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inked, [False]]).astype(int)))
    runs = list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))
    return [(start, end) for start, end in runs if (end - start) * _BIN_MM <= _FRAME_MAX_MM]
