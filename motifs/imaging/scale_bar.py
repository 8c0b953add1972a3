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
from motifs.imaging.colour import to_linear
from motifs.records import Scale

if TYPE_CHECKING:
    from numpy.typing import NDArray

STANDARD_LENGTHS_MM: Final = (50.0, 100.0)
"""Lengths of the usual bars (common practice)."""

_SAMPLES_PER_BLOCK: Final = 48
_STRIP: Final = 0.5  # share of the block's height that is averaged
_MIN_BLOCKS: Final = 4
_MAX_BLOCKS: Final = 44
_MIN_CONTRAST: Final = 0.22  # of sRGB 0..1 between black and white blocks
_LEVEL_TOLERANCE: Final = 0.27  # of that contrast
_PITCH_TOLERANCE: Final = 0.035  # of a block, scatter of the boundaries about the even pitch
_FLOOR_RELATIVE_SD: Final = 0.0015  # print and lens: what a perfect fit still does not know
_CLIPPED: Final = 250


@dataclass(frozen=True, slots=True)
class ScaleBar:
    """A bar that was read.

    corners_px: (4, 2) float32 around its blocks. block_px and block_sd_px: pitch of one block and its
    standard error. blocks: how many were seen; hidden_ends: how many more white end blocks the backdrop may
    hide. white: linear light (3,) of the white blocks where unclipped, else None; white_at_px: (x, y).
    """

    corners_px: NDArray[np.float32]
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
        The bar with the most blocks; None when nothing alternates like one.
    """
    zoom = rgb.shape[1] / working.shape[1]
    best: ScaleBar | None = None
    for row in propose_rows(working):
        bar = _read_row(rgb, row.scaled(zoom))
        if bar is not None and (best is None or bar.blocks > best.blocks):
            best = bar
            if bar.blocks >= 10:
                break
    return best


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
    usual = [mm for mm in (1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0) for n in counts if abs(bar_mm / n - mm) < 1e-6]
    if usual:
        return usual[-1], None
    nearest = min((1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0), key=lambda mm: abs(np.log(bar_mm / counts[0] / mm)))
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
        profile, across_spread, offsets = _profile(rgb, row)
        levels = _levels(profile, offsets, row)
        if levels is None:
            return None
        first, last = _extent(profile, across_spread, offsets, levels)
        if last - first + 1 < _MIN_BLOCKS:
            return None
        ends = _seen_ends(profile, offsets, levels, (first, last))
        # The outer edge of an end block may be that of a printed frame: used only where there is little else.
        fitted = ends if ends[1] - ends[0] >= 4 else (first, last)
        fit = _fit_pitch(profile, offsets, levels, fitted)
        if fit is None:
            return None
        start, pitch, pitch_sd = fit
        hidden = (last - first) - (ends[1] - ends[0])
        row = row.refined(start, pitch)
    if levels is None:
        return None
    return _as_bar(rgb, row, levels, ends, hidden, pitch_sd * row.block_px)


def _profile(rgb: NDArray[np.uint8], row: Row) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float64]]:
    """Mean and spread of sRGB grey (0..1) across the strip, at offsets in blocks along the axis."""
    offsets = np.arange(-_MAX_BLOCKS // 2, _MAX_BLOCKS // 2, 1.0 / _SAMPLES_PER_BLOCK)
    across = np.linspace(-0.5, 0.5, 9) * _STRIP * row.height_px
    x = row.centre[0] + offsets[None] * row.block_px * row.axis[0] - across[:, None] * row.axis[1]
    y = row.centre[1] + offsets[None] * row.block_px * row.axis[1] + across[:, None] * row.axis[0]
    inside = (x.min(0) > 0) & (y.min(0) > 0) & (x.max(0) < rgb.shape[1] - 1) & (y.max(0) < rgb.shape[0] - 1)
    offsets = offsets[inside]
    if offsets.size == 0:
        empty = np.zeros(0, dtype=np.float32)
        return empty, empty, offsets
    sampled = cv2.remap(rgb, x[:, inside].astype(np.float32), y[:, inside].astype(np.float32), cv2.INTER_LINEAR).astype(
        np.float32
    )
    grey = sampled @ np.array([0.299, 0.587, 0.114], dtype=np.float32) / 255.0
    return grey.mean(axis=0), grey.std(axis=0), offsets


def _levels(profile: NDArray[np.float32], offsets: NDArray[np.float64], row: Row) -> tuple[float, float] | None:
    """Grey of even blocks (those of the blobs) and of odd ones; None when they hardly differ."""
    even: list[float] = []
    odd: list[float] = []
    for block in range(1 - row.count, row.count):
        near = np.abs(offsets - block) < 0.25
        if near.any():
            (odd if block % 2 else even).append(float(np.median(profile[near])))
    if not even or not odd:
        return None
    levels = float(np.median(even)), float(np.median(odd))
    return levels if abs(levels[0] - levels[1]) >= _MIN_CONTRAST else None


def _extent(
    profile: NDArray[np.float32],
    spread: NDArray[np.float32],
    offsets: NDArray[np.float64],
    levels: tuple[float, float],
) -> tuple[int, int]:
    """First and last block (indices relative to the middle one, even = the blobs' polarity) that fit the pattern."""
    contrast = abs(levels[0] - levels[1])

    def fits(index: int) -> bool:
        near = np.abs(offsets - index) < 0.28
        if near.sum() < 0.5 * _SAMPLES_PER_BLOCK * 0.56:
            return False
        expected = levels[0] if index % 2 == 0 else levels[1]
        steady = float(spread[near].mean()) < _LEVEL_TOLERANCE * contrast
        return steady and float(np.abs(profile[near] - expected).mean()) < _LEVEL_TOLERANCE * contrast

    if not fits(0):
        return 0, -1
    first = last = 0
    while fits(first - 1):
        first -= 1
    while fits(last + 1):
        last += 1
    return first, last


def _fit_pitch(
    profile: NDArray[np.float32],
    offsets: NDArray[np.float64],
    levels: tuple[float, float],
    ends: tuple[int, int],
) -> tuple[float, float, float] | None:
    """Phase and pitch of the boundaries in blocks, and the pitch's standard error; None when uneven."""
    middle = 0.5 * (levels[0] + levels[1])
    indices, places = [], []
    for index in range(*ends):
        place = _crossing(profile, offsets, index + 0.5, middle)
        if place is not None:
            indices.append(index + 0.5)
            places.append(place)
    if len(indices) < _MIN_BLOCKS - 1:
        return None
    at, found = np.array(indices), np.array(places)
    parity = np.where(np.floor(at).astype(int) % 2 == 0, 1.0, -1.0)
    design = np.stack([np.ones_like(at), at, parity], axis=1)
    solution, *_ = np.linalg.lstsq(design, found, rcond=None)
    residual = found - design @ solution
    scatter = float(np.sqrt((residual**2).sum() / max(1, len(at) - 3)))
    spare = len(at) - 3
    if scatter > _PITCH_TOLERANCE or abs(solution[1] - 1.0) > 0.2:
        return None
    # With nothing to spare the scatter is unknown: a hundredth of a block is taken.
    deviation = max(scatter, 0.002 if spare > 0 else 0.01) / float(np.sqrt(((at - at.mean()) ** 2).sum()))
    return float(solution[0]), float(solution[1]), deviation


def _crossing(profile: NDArray[np.float32], offsets: NDArray[np.float64], near: float, middle: float) -> float | None:
    """Where the profile crosses the middle level, closest to a place (blocks)."""
    window = np.flatnonzero(np.abs(offsets - near) < 0.4)
    if window.size < 4:
        return None
    above = profile[window] > middle
    steps = np.flatnonzero(above[1:] != above[:-1])
    if steps.size == 0:
        return None
    low = window[steps]
    share = (middle - profile[low]) / (profile[low + 1] - profile[low])
    places = offsets[low] + share * (offsets[low + 1] - offsets[low])
    return float(places[np.argmin(np.abs(places - near))])


def _seen_ends(
    profile: NDArray[np.float32],
    offsets: NDArray[np.float64],
    levels: tuple[float, float],
    ends: tuple[int, int],
) -> tuple[int, int]:
    """First and last block without an end block that nothing closes: it may be the backdrop."""
    first, last = ends
    if not _has_end(profile, offsets, levels, first, -1):
        first += 1
    if not _has_end(profile, offsets, levels, last, 1):
        last -= 1
    return first, last


def _as_bar(
    rgb: NDArray[np.uint8],
    row: Row,
    levels: tuple[float, float],
    ends: tuple[int, int],
    hidden: int,
    block_sd_px: float,
) -> ScaleBar:
    first, last = ends
    white_parity = 0 if levels[0] > levels[1] else 1
    centres = np.arange(first, last + 1)
    white, at = _white_light(rgb, row, centres[centres % 2 == white_parity])
    return ScaleBar(
        corners_px=_whole_bar(rgb, row, levels, (first, last)),
        block_px=row.block_px,
        block_sd_px=block_sd_px,
        blocks=last - first + 1,
        hidden_ends=hidden,
        white=white,
        white_at_px=at,
    )


def _whole_bar(
    rgb: NDArray[np.uint8], row: Row, levels: tuple[float, float], ends: tuple[int, int]
) -> NDArray[np.float32]:
    """Corners around the row and the row of a checker above or below it, if there is one."""
    first, last = ends
    blocks = np.arange(first, last + 1)
    expected = np.where(blocks % 2 == 0, levels[1], levels[0])  # the neighbour row is the other way round
    low, high = -0.5, 0.5
    for side in (-1.0, 1.0):
        beside = row.shifted(side * row.height_px)
        profile, _, offsets = _profile(rgb, beside)
        seen = [profile[np.abs(offsets - block) < 0.2] for block in blocks]
        if any(part.size == 0 for part in seen):
            continue
        gap = np.abs(np.array([np.median(part) for part in seen]) - expected)
        if float(np.mean(gap < _LEVEL_TOLERANCE * abs(levels[0] - levels[1]))) > 0.8:
            low, high = (low - 1.0, high) if side < 0 else (low, high + 1.0)
    middle = 0.5 * (low + high) * row.height_px
    whole = replace(row.shifted(middle), height_px=(high - low) * row.height_px)
    return whole.corners(first - 0.5, last + 0.5)


def _has_end(
    profile: NDArray[np.float32],
    offsets: NDArray[np.float64],
    levels: tuple[float, float],
    end: int,
    step: int,
) -> bool:
    """Whether an end block is closed by an edge or an outline where it should end."""
    zone = np.abs(offsets - (end + 0.5 * step)) < 0.15
    if not zone.any():
        return False
    inside = float(np.median(profile[np.abs(offsets - end) < 0.25]))
    beyond = profile[np.abs(offsets - (end + 0.75 * step)) < 0.1]
    contrast = abs(levels[0] - levels[1])
    outline = inside - float(profile[zone].min())
    edge = abs(inside - float(np.median(beyond))) if beyond.size else 0.0
    return max(outline, edge) > 0.1 * contrast


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
