"""The figures at the ends of a scale bar: with five blocks they alone tell 5 cm from 10 cm.

Beside each end, on either side of the bar, what differs from the card or backdrop is cut out tightly and recognised, both
ways up. The recogniser loads only where there is something to read.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

from motifs.imaging.label_reading import read_line
from motifs.imaging.quantiles import median

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

LENGTHS_MM: Final = {"5": 50.0, "50": 50.0, "10": 100.0, "100": 100.0}
"""Lengths in mm by the figure at the end of a bar, which counts cm or mm."""

_LEAST_CONFIDENCE: Final = 0.6
_LEAST_WINDOW_PX: Final = 64  # height a window beside the bar has at least
_LINE_PX: Final = 48  # height at which a line is recognised
_GAP: Final = 0.015  # of a block, between the bar and a window
_UPPER: Final = 0.6  # part of a window in which a figure begins
_LEAST_INK: Final = 22.0  # grey levels that a figure differs from what it stands on
_LEAST_HEIGHT_PX: Final = 6  # of a figure in a window
_MOST_SHARE: Final = 0.35  # of a window: more is a sherd or the edge of the card
_UNITS: Final = ("cm", "mm", "c", "m")


def length_by_figures(
    rgb: NDArray[np.uint8], corners_px: NDArray[np.float32], block_px: float, hidden_ends: int = 0
) -> float | None:
    """Length of a bar in mm as the figures at its ends say.

    Parameters
    ----------
    rgb
        (H, W, 3) uint8, the photograph.
    corners_px
        (4, 2) around the blocks, along the bar first.
    block_px
        Length of one block.
    hidden_ends
        How many more end blocks the backdrop may hide.

    Returns
    -------
    float or None
        50 or 100; None where no figure is read, or both are.
    """
    found = set()
    for window in _windows(rgb, corners_px.astype(np.float64), block_px, hidden_ends):
        figure = _ink(window)
        if figure is None:
            continue
        for turned in (figure, np.ascontiguousarray(figure[::-1, ::-1])):
            text, confidence = read_line(turned)
            if confidence >= _LEAST_CONFIDENCE:
                found.add(LENGTHS_MM.get(_plain(text)))
    lengths = found - {None}
    return lengths.pop() if len(lengths) == 1 else None


def _plain(text: str) -> str:
    """A figure without its unit."""
    plain = text.strip().lower().replace(" ", "")
    for unit in _UNITS:
        plain = plain.removesuffix(unit)
    return plain


def _windows(
    rgb: NDArray[np.uint8], corners: NDArray[np.float64], block_px: float, hidden_ends: int
) -> Iterator[NDArray[np.uint8]]:
    """Cut-outs beside both ends on both sides of the bar, (h, w, 3), with the bar above them."""
    along = (corners[1] - corners[0]) / np.hypot(*(corners[1] - corners[0]))
    half = (0.55 + hidden_ends) * block_px
    for first, second, outward in ((corners[0], corners[1], -1.0), (corners[3], corners[2], 1.0)):
        across = outward * np.array([-along[1], along[0]])
        for end in (first, second):
            yield _cut(rgb, end + (_GAP * block_px) * across, along * outward, across, (half, 0.75 * block_px))


def _cut(
    rgb: NDArray[np.uint8],
    middle: NDArray[np.float64],
    rightward: NDArray[np.float64],
    downward: NDArray[np.float64],
    reach_px: tuple[float, float],
) -> NDArray[np.uint8]:
    """A level window: half its width to either side of a place, and so far down from it."""
    half, depth = reach_px
    height = max(_LEAST_WINDOW_PX, round(depth))
    seen = np.array(
        [middle - half * rightward, middle + half * rightward, middle - half * rightward + depth * downward]
    )
    width = max(2, round(2 * half * height / depth))
    goal = np.array([[0, 0], [width, 0], [0, height]], dtype=np.float32)
    move = cv2.getAffineTransform(seen.astype(np.float32), goal)
    return np.asarray(
        cv2.warpAffine(rgb, move, (width, height), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    )


def _ink(window: NDArray[np.uint8]) -> NDArray[np.uint8] | None:
    """What is written in a window, cut out tightly; None where nothing is, or where it is no writing."""
    grey = cv2.cvtColor(window, cv2.COLOR_RGB2GRAY).astype(np.float32)
    differs = np.abs(grey - median(grey.ravel())) > _LEAST_INK
    count, labels, stats, _ = cv2.connectedComponentsWithStats(differs.astype(np.uint8), connectivity=8)
    left, top, width, height = (stats[:, column] for column in range(4))
    whole = (left > 0) & (left + width < window.shape[1]) & (top > 0) & (top + height < window.shape[0])
    whole &= (height >= _LEAST_HEIGHT_PX) & (top < _UPPER * len(window))
    # Specks beside a figure are lower than its signs.
    tallest = int(height[1:][whole[1:]].max(initial=0))
    chosen = [label for label in range(1, count) if whole[label] and 2 * height[label] > tallest]
    ink = np.isin(labels, chosen)
    if not chosen or ink.mean() > _MOST_SHARE:
        return None
    rows, columns = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
    margin = 2 + round(0.2 * float(np.ptp(rows)))
    line = window[
        max(0, rows[0] - margin) : rows[-1] + margin + 1, max(0, columns[0] - margin) : columns[-1] + margin + 1
    ]
    enlarged = max(1.0, _LINE_PX / len(line))
    return np.asarray(cv2.resize(line, None, fx=enlarged, fy=enlarged, interpolation=cv2.INTER_CUBIC), dtype=np.uint8)
