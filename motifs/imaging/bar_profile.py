"""Reading alternating blocks along a row, at full resolution."""

from __future__ import annotations

import statistics
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

from motifs.imaging.quantiles import median, percentiles

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.imaging.bar_blobs import Row

MIN_BLOCKS: Final = 4
"""Fewer blocks in a row are no bar."""

_GREY: Final = np.array([0.299, 0.587, 0.114], dtype=np.float32)
_SAMPLES_PER_BLOCK: Final = 48
_STRIP: Final = 0.6  # share of the block's height that is averaged
_MAX_BLOCKS: Final = 44
_MIN_CONTRAST: Final = 0.22  # of sRGB 0..1 between black and white blocks
_LEAST_DEPTH: Final = 0.4  # of white's sRGB level that black is darker
_LEVEL_TOLERANCE: Final = 0.27  # of that contrast
_CORNER: Final = 0.4  # of a block, from its middle; a dot's corner is its ground
_PITCH_TOLERANCE: Final = 0.035  # of a block, scatter of the boundaries about the even pitch


def profile(rgb: NDArray[np.uint8], row: Row) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float64]]:
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
    grey = sampled @ _GREY / 255.0
    return grey.mean(axis=0), grey.std(axis=0), offsets


def levels_of(grey: NDArray[np.float32], offsets: NDArray[np.float64], row: Row) -> tuple[float, float] | None:
    """Grey of even blocks (those of the blobs) and of odd ones; None when they hardly differ."""
    even: list[float] = []
    odd: list[float] = []
    for block in range(1 - row.count, row.count):
        near = grey[_within(offsets, block, 0.25)]
        if near.size:
            (odd if block % 2 else even).append(median(near))
    if not even or not odd:
        return None
    levels = statistics.median(even), statistics.median(odd)
    contrast = abs(levels[0] - levels[1])
    return levels if contrast >= max(_MIN_CONTRAST, _LEAST_DEPTH * max(levels)) else None


def extent(
    grey: NDArray[np.float32],
    spread: NDArray[np.float32],
    offsets: NDArray[np.float64],
    levels: tuple[float, float],
) -> tuple[int, int]:
    """First and last block (indices relative to the middle one, even = the blobs' polarity) that fit the pattern."""
    contrast = abs(levels[0] - levels[1])

    def fits(index: int) -> bool:
        near = _within(offsets, index, 0.28)
        if near.stop - near.start < 0.5 * _SAMPLES_PER_BLOCK * 0.56:
            return False
        expected = levels[0] if index % 2 == 0 else levels[1]
        steady = float(spread[near].mean()) < _LEVEL_TOLERANCE * contrast
        return steady and float(percentiles(np.abs(grey[near] - expected), (85,))[0]) < _LEVEL_TOLERANCE * contrast

    if not fits(0):
        return 0, -1
    first = last = 0
    while fits(first - 1):
        first -= 1
    while fits(last + 1):
        last += 1
    return first, last


def seen_ends(
    grey: NDArray[np.float32],
    offsets: NDArray[np.float64],
    levels: tuple[float, float],
    ends: tuple[int, int],
) -> tuple[int, int]:
    """First and last block without an end block that nothing closes: it may be the backdrop."""
    first, last = ends
    if not _has_end(grey, offsets, levels, first, -1):
        first += 1
    if not _has_end(grey, offsets, levels, last, 1):
        last -= 1
    return first, last


def _within(offsets: NDArray[np.float64], place: float, reach: float) -> slice:
    """Which of the rising offsets lie nearer to a place than `reach`."""
    first = int(np.searchsorted(offsets, place - reach, side="right"))
    return slice(first, max(first, int(np.searchsorted(offsets, place + reach, side="left"))))


def _has_end(
    grey: NDArray[np.float32],
    offsets: NDArray[np.float64],
    levels: tuple[float, float],
    end: int,
    step: int,
) -> bool:
    """Whether an end block is closed by an edge or an outline where it should end."""
    zone = np.abs(offsets - (end + 0.5 * step)) < 0.15
    if not zone.any():
        return False
    within = grey[np.abs(offsets - (end + 0.34 * step)) < 0.07]
    beyond = grey[np.abs(offsets - (end + 0.68 * step)) < 0.06]
    if not within.size:
        return False
    inside = float(np.median(within))
    contrast = abs(levels[0] - levels[1])
    outline = inside - float(grey[zone].min())
    edge = abs(inside - float(np.median(beyond))) if beyond.size else 0.0
    return max(outline, edge) > 0.1 * contrast


def fit_pitch(
    grey: NDArray[np.float32],
    offsets: NDArray[np.float64],
    levels: tuple[float, float],
    ends: tuple[int, int],
) -> tuple[float, float, float] | None:
    """Phase and pitch of the boundaries in blocks, and the pitch's standard error; None when uneven."""
    middle = 0.5 * (levels[0] + levels[1])
    indices, places = [], []
    for index in range(*ends):
        place = _crossing(grey, offsets, index + 0.5, middle)
        if place is not None:
            indices.append(index + 0.5)
            places.append(place)
    if len(indices) < MIN_BLOCKS - 1:
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


def _crossing(grey: NDArray[np.float32], offsets: NDArray[np.float64], near: float, middle: float) -> float | None:
    """Where the grey crosses the middle level, closest to a place (blocks)."""
    window = np.flatnonzero(np.abs(offsets - near) < 0.4)
    if window.size < 4:
        return None
    above = grey[window] > middle
    steps = np.flatnonzero(above[1:] != above[:-1])
    if steps.size == 0:
        return None
    low = window[steps]
    share = (middle - grey[low]) / (grey[low + 1] - grey[low])
    places = offsets[low] + share * (offsets[low + 1] - offsets[low])
    return float(places[np.argmin(np.abs(places - near))])


def alternation(
    rgb: NDArray[np.uint8], row: Row, levels: tuple[float, float], ends: tuple[int, int], across: float
) -> float:
    """How much the blocks alternate on a line beside the row's middle.

    Parameters
    ----------
    rgb
        (H, W, 3) uint8.
    row, levels, ends
        The row, the grey of its even and odd blocks, its first and last block.
    across
        Distance of the line from the row's middle, in row heights.

    Returns
    -------
    float
        About 1 where the line repeats the row, -1 where it has the opposite pattern, 0 where it does not alternate.
    """
    line = replace(row.shifted(across * row.height_px), height_px=0.3 * row.height_px)
    grey, _, offsets = profile(rgb, line)
    values, signs = [], []
    for block in range(ends[0], ends[1] + 1):
        near = grey[_within(offsets, block, 0.25)]
        if near.size:
            values.append(median(near))
            signs.append(1.0 if block % 2 == 0 else -1.0)
    if len(values) < 2:
        return 0.0
    sign, value = np.array(signs), np.array(values)
    slope = float(((sign - sign.mean()) * value).sum() / max(float(((sign - sign.mean()) ** 2).sum()), 1e-9))
    return 2.0 * slope / (levels[0] - levels[1])


def corner_share(rgb: NDArray[np.uint8], row: Row, levels: tuple[float, float], ends: tuple[int, int]) -> float:
    """How far the corners of blocks have their block's own grey: about 1 for squares, 0 for a row of painted dots.

    The median over the corners, of even or of odd blocks, whichever have less; 0.5 is half way to the other grey.
    """
    blocks = np.arange(ends[0], ends[1] + 1)
    along = (blocks[:, None] + _CORNER * np.array([-1, 1, -1, 1])) * row.block_px
    across = _CORNER * row.height_px * np.array([-1, -1, 1, 1])
    x = row.centre[0] + along * row.axis[0] - across * row.axis[1]
    y = row.centre[1] + along * row.axis[1] + across * row.axis[0]
    seen = cv2.remap(rgb, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR).astype(np.float32)
    is_odd = blocks % 2 == 1
    own = np.where(is_odd, levels[1], levels[0])[:, None]
    other = np.where(is_odd, levels[0], levels[1])[:, None]
    share = (seen @ _GREY / 255.0 - other) / (own - other)
    return min(float(np.median(share[is_odd])), float(np.median(share[~is_odd])))


def evenness(rgb: NDArray[np.uint8], row: Row, ends: tuple[int, int], across: float, contrast: float) -> float:
    """Share of a line beside the row, along its whole length, that lies close to the line's median grey."""
    line = replace(row.shifted(across * row.height_px), height_px=0.2 * row.height_px)
    grey, _, offsets = profile(rgb, line)
    beside = grey[(offsets > ends[0] - 0.4) & (offsets < ends[1] + 0.4)]
    if beside.size < _SAMPLES_PER_BLOCK:
        return 1.0
    return float((np.abs(beside - median(beside)) < 0.12 * contrast).mean())


def grain(rgb: NDArray[np.uint8], row: Row, ends: tuple[int, int]) -> float:
    """Median standard deviation of grey (0..1) inside the middles of the blocks."""
    across = np.linspace(-0.25, 0.25, 12) * row.height_px
    blocks = np.arange(ends[0], ends[1] + 1)
    along = ((blocks[:, None] + np.linspace(-0.25, 0.25, 12)) * row.block_px).ravel()
    x = row.centre[0] + along[None] * row.axis[0] - across[:, None] * row.axis[1]
    y = row.centre[1] + along[None] * row.axis[1] + across[:, None] * row.axis[0]
    pixels = cv2.remap(rgb, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR).astype(np.float32)
    spreads = (pixels @ _GREY).reshape(12, len(blocks), 12).std(axis=(0, 2))
    return median(spreads) / 255.0
