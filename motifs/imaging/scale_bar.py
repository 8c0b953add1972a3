"""The checkered scale bar: found anywhere, at any angle, and read to a fraction of a pixel.

Square blobs of one polarity that stand in a row two blocks apart are proposals. A proposal is read at full
resolution along its axis: blocks must alternate between two steady levels at an even pitch. The pitch is fitted
through all block boundaries at once, with a term for ink spread (blooming moves every second boundary the other
way), so that neither blur nor exposure shifts the scale.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import cv2
import numpy as np

from motifs.imaging.bar_blobs import Row, propose_rows
from motifs.imaging.bar_profile import (
    MIN_BLOCKS,
    alternation,
    corner_share,
    evenness,
    extent,
    fit_pitch,
    grain,
    levels_of,
    profile,
    seen_ends,
)
from motifs.imaging.colour import to_linear
from motifs.records import Scale

if TYPE_CHECKING:
    from numpy.typing import NDArray

STANDARD_LENGTHS_MM: Final = (50.0, 100.0)
"""Lengths of the usual bars (common practice)."""

_SAME_PATTERN: Final = 0.6  # of the row's own alternation: a row beside it that alternates the other way
_LEAST_ASPECT: Final = 0.2
_MOST_ASPECT: Final = 2.2
_USUAL_COUNTS: Final = (5, 10, 20)
_BLOCKS_MM: Final = (1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0)
_EVEN_SIDE: Final = 0.65  # share of the line beside a bar that has one level: its card or the backdrop
_SQUARE_CORNERS: Final = 0.6  # of the step from the other grey to a block's own
_GRAIN_STEP: Final = 0.006
_FLOOR_RELATIVE_SD: Final = 0.003  # print, lens and a slight tilt: what a perfect fit still does not know
_MOST_CAST: Final = 4.0  # strongest over weakest channel of white paper: 3.9 under a 3500 K lamp taken for daylight
_CLIPPED: Final = 250


@dataclass(frozen=True, slots=True)
class ScaleBar:
    """A bar that was read.

    corners_px: (4, 2) float32 around its blocks. block_px and block_sd_px: pitch of one block and its
    standard error. grain: scatter inside the blocks over the contrast between them. blocks: how many were seen; hidden_ends: how many more white end blocks the backdrop may
    hide. white: linear light (3,) of the white blocks where unclipped, else None; white_at_px: (x, y).
    """

    corners_px: NDArray[np.float32]
    grain: float
    block_px: float
    block_sd_px: float
    blocks: int
    hidden_ends: int
    white: NDArray[np.float64] | None
    white_at_px: tuple[float, float]


def find_bar(rgb: NDArray[np.uint8], working: NDArray[np.uint8]) -> ScaleBar | None:
    """Find the checkered scale bar on a photograph.

    Parameters
    ----------
    rgb
        (H, W, 3) uint8, the whole photograph.
    working
        (h, w, 3) uint8, the same photograph made smaller for the search.

    Returns
    -------
    ScaleBar or None
        The one with a usual number of blocks, evenly printed, and the most of them; None when nothing alternates like one.
    """
    zoom = rgb.shape[1] / working.shape[1]
    found = []
    for row in propose_rows(working):
        bar = _read_row(rgb, row.scaled(zoom))
        if bar is not None and (_has_usual_count(bar) or _is_white(bar)):
            found.append(bar)
    return max(found, key=_likeness, default=None)


def _is_white(bar: ScaleBar) -> bool:
    """Whether the light blocks can be white under some lamp; painted clay is more coloured than any lamp makes paper."""
    return bar.white is None or float(bar.white.max()) < _MOST_CAST * float(bar.white.min())


def _likeness(bar: ScaleBar) -> tuple[bool, float, int]:
    """Print is even where paint is grainy; among equals the longer row."""
    return _has_usual_count(bar), -round(bar.grain / _GRAIN_STEP), bar.blocks


def _has_usual_count(bar: ScaleBar) -> bool:
    return any(bar.blocks <= count <= bar.blocks + bar.hidden_ends for count in _USUAL_COUNTS)


def needs_figures(bar: ScaleBar) -> bool:
    """Whether the number of blocks leaves two usual designs: five are 5 cm or 10 cm, and alike in shape."""
    counts = range(bar.blocks, bar.blocks + bar.hidden_ends + 1)
    return 5 in counts and 10 not in counts


def scale_of_bar(bar: ScaleBar, bar_mm: float | None) -> tuple[Scale, str | None]:
    """Turn the pitch into a scale.

    The number of blocks decides what one block is: 5 or 10 blocks (and any other number up to 12) are 1 cm
    each, more than 12 are 5 mm, the usual designs (common practice). A bar length that is given wins: the
    block is then that length over the number of blocks.

    Returns
    -------
    tuple
        The scale and a warning, or None where there is no doubt.
    """
    counts = range(bar.blocks, bar.blocks + bar.hidden_ends + 1)
    if bar_mm is not None:
        block_mm, warning = _block_of_length(counts, bar_mm)
    else:
        block_mm, warning = _block_of_count(counts)
    relative_sd = float(np.hypot(bar.block_sd_px / bar.block_px, _FLOOR_RELATIVE_SD))
    return Scale(px_per_mm=bar.block_px / block_mm, source="bar", relative_sd=relative_sd), warning


def _block_of_length(counts: range, bar_mm: float) -> tuple[float, str | None]:
    whole = [n for n in sorted(counts, key=lambda n: n not in _USUAL_COUNTS) if bar_mm / n in _BLOCKS_MM]
    if whole:
        return bar_mm / whole[0], None
    # Part of the bar may be covered: the next usual number of blocks, else the nearest usual block.
    covered = [bar_mm / n for n in _USUAL_COUNTS if n > counts[0] and bar_mm / n in _BLOCKS_MM]
    nearest = min(covered or _BLOCKS_MM, key=lambda mm: abs(np.log(bar_mm / counts[0] / mm)))
    return nearest, (
        f"the scale bar shows {counts[0]} blocks, which does not divide {bar_mm:g} mm evenly; "
        f"blocks of {nearest:g} mm were taken, check the scale"
    )


def _block_of_count(counts: range) -> tuple[float, str | None]:
    if any(n in (5, 10) for n in counts):
        return 10.0, None
    if 20 in counts:
        return 5.0, None
    block_mm = 10.0 if counts[0] <= 12 else 5.0
    return block_mm, (
        f"the scale bar shows {counts[0]} blocks, neither 5, 10 nor 20; blocks of {block_mm:g} mm were taken, "
        "give the bar's length if it is another"
    )


def _read_row(rgb: NDArray[np.uint8], row: Row) -> ScaleBar | None:
    """Read one proposal at full resolution; None when it is no bar."""
    levels: tuple[float, float] | None = None
    ends, hidden, pitch_sd = (0, -1), 0, 0.0
    for _ in range(2):
        grey, spread, offsets = profile(rgb, row)
        levels = levels_of(grey, offsets, row)
        if levels is None:
            return None
        first, last = extent(grey, spread, offsets, levels)
        if last - first + 1 < MIN_BLOCKS:
            return None
        ends = seen_ends(grey, offsets, levels, (first, last))
        # The outer edge of an end block may be that of a printed frame: used only where there is little else.
        fitted = ends if ends[1] - ends[0] >= 4 else (first, last)
        fit = fit_pitch(grey, offsets, levels, fitted)
        if fit is None:
            return None
        start, pitch, pitch_sd = fit
        hidden = (last - first) - (ends[1] - ends[0])
        row = row.refined(start, pitch)
    if levels is None or corner_share(rgb, row, levels, ends) < _SQUARE_CORNERS:
        return None
    sides = _rows_of_bar(rgb, row, levels, ends)
    if sides is None or not _LEAST_ASPECT <= row.height_px / row.block_px <= _MOST_ASPECT:
        return None
    return _as_bar(rgb, row, levels, ends, sides, hidden, pitch_sd * row.block_px)


def _as_bar(
    rgb: NDArray[np.uint8],
    row: Row,
    levels: tuple[float, float],
    ends: tuple[int, int],
    sides: tuple[float, float],
    hidden: int,
    block_sd_px: float,
) -> ScaleBar:
    first, last = ends
    low, high = sides
    whole = replace(row.shifted(0.5 * (low + high) * row.height_px), height_px=(high - low) * row.height_px)
    white_parity = 0 if levels[0] > levels[1] else 1
    centres = np.arange(first, last + 1)
    white, at = _white_light(rgb, row, centres[centres % 2 == white_parity])
    return ScaleBar(
        corners_px=whole.corners(first - 0.5, last + 0.5),
        grain=grain(rgb, row, (first, last)) / abs(levels[0] - levels[1]),
        block_px=row.block_px,
        block_sd_px=block_sd_px,
        blocks=last - first + 1,
        hidden_ends=hidden,
        white=white,
        white_at_px=at,
    )


def _rows_of_bar(
    rgb: NDArray[np.uint8], row: Row, levels: tuple[float, float], ends: tuple[int, int]
) -> tuple[float, float] | None:
    """Lower and upper side of the bar in row heights from the row's middle; None where it goes on and on.

    A bar has one row, or two of a checker. A painted band or checkerboard has more, or its stripes run on.
    """
    here = alternation(rgb, row, levels, ends, 0.0)
    below, above = (alternation(rgb, row, levels, ends, side) for side in (-1.0, 1.0))
    low, high = -0.5, 0.5
    if below < -_SAME_PATTERN * here:
        low -= 1.0
    if above < -_SAME_PATTERN * here:
        high += 1.0
    beyond = [alternation(rgb, row, levels, ends, side) for side in (low - 0.4, high + 0.4)]
    if high - low > 2.5 or max(abs(value) for value in beyond) > 0.45 * here:
        return None
    contrast = abs(levels[0] - levels[1])
    if min(evenness(rgb, row, ends, side, contrast) for side in (low - 0.4, high + 0.4)) < _EVEN_SIDE:
        return None
    return low, high


def _white_light(
    rgb: NDArray[np.uint8], row: Row, blocks: NDArray[np.intp]
) -> tuple[NDArray[np.float64] | None, tuple[float, float]]:
    """Linear light of the white blocks' middles, and where; None when clipped or unseen."""
    if blocks.size == 0:
        return None, (float(row.centre[0]), float(row.centre[1]))
    along = (blocks[:, None] + np.linspace(-0.22, 0.22, 9)[None]).ravel() * row.block_px
    across = np.linspace(-0.25, 0.25, 9) * row.height_px
    x = (row.centre[0] + along[None] * row.axis[0] - across[:, None] * row.axis[1]).astype(np.float32)
    y = (row.centre[1] + along[None] * row.axis[1] + across[:, None] * row.axis[0]).astype(np.float32)
    pixels = np.asarray(cv2.remap(rgb, x, y, cv2.INTER_LINEAR), dtype=np.uint8).reshape(-1, 3)
    at = (float(x.mean()), float(y.mean()))
    if float((pixels >= _CLIPPED).any(axis=1).mean()) > 0.02:
        return None, at
    light: NDArray[Any] = np.median(to_linear(pixels).astype(np.float64), axis=0)
    return light, at
