"""The 24-patch colour card: found by its grid of flat squares, told by its colours, read patch by patch.

Flat squares of one size that stand in a lattice are proposals. A lattice is laid over the 6 by 4 places of the card in
every way that fits; the card is the one under which the colours, after the best linear mixing, are those published.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

from motifs.imaging.card_fit import REFERENCE_LINEAR, mixing_residual
from motifs.imaging.colour import to_linear
from motifs.imaging.plane import through

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

COLUMNS, ROWS = 6, 4

_LEAST_SQUARES: Final = 11
_MOST_SQUARES: Final = 900
_RANGES: Final = (24, 14, 40)  # of levels within 3 by 3 px: less is the inside of a patch
_SEARCH_SIDE_PX: Final = 700
_SIDES_PX: Final = (5.0, 110.0)
_LEAST_FILL: Final = 0.8
_MOST_ASPECT: Final = 1.5
_MOST_RESIDUAL_DE: Final = 9.0
_CLIPPED: Final = 250


@dataclass(frozen=True, slots=True)
class ColourCard:
    """A card that was read.

    corners_px: (4, 2) around its patches, clockwise from that of the first patch, px of the photograph. places_px: (24, 2)
    middles. light: (24, 3) linear light of the patches. is_usable: (24,) bool, unclipped and evenly lit.
    """

    corners_px: NDArray[np.float64]
    places_px: NDArray[np.float64]
    light: NDArray[np.float64]
    is_usable: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Squares:
    centres: NDArray[np.float64]  # (N, 2)
    sides: NDArray[np.float64]  # (N,)


def find_card(working: NDArray[np.uint8], zoom: tuple[float, float]) -> ColourCard | None:
    """Find a 24-patch colour card.

    Parameters
    ----------
    working
        (h, w, 3) uint8, a smaller copy of the photograph.
    zoom
        Px of the photograph a px of `working`, across and down.

    Returns
    -------
    ColourCard or None
        The one whose colours fit best; None when nothing has the grid and the colours of one.
    """
    shrink = min(1.0, _SEARCH_SIDE_PX / max(working.shape[:2]))
    small = cv2.resize(working, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    back = np.array([working.shape[1] / small.shape[1], working.shape[0] / small.shape[0]])
    ranges = np.asarray(cv2.morphologyEx(small, cv2.MORPH_GRADIENT, np.ones((3, 3), dtype=np.uint8)))
    ranges = np.maximum(np.maximum(ranges[..., 0], ranges[..., 1]), ranges[..., 2])
    for limit in _RANGES:
        squares = _flat_squares(ranges < limit, back)
        if not _LEAST_SQUARES <= len(squares.sides) <= _MOST_SQUARES:
            continue
        ways = [way for lattice in _lattices(squares) for way in _ways(lattice, squares)]
        best = min(ways, key=lambda way: _residual(working, way), default=None)
        if best is not None and _residual(working, best) < _MOST_RESIDUAL_DE:
            return _read(working, best, np.array(zoom))
    return None


def _flat_squares(flat: NDArray[np.bool_], back: NDArray[np.float64]) -> _Squares:
    """Flat regions with the shape of a square, seen a little at a slant; `back` px of the working image a px."""
    _, labels, stats, centres = cv2.connectedComponentsWithStats(flat.astype(np.uint8), connectivity=4)
    width, height, area = stats[:, 2], stats[:, 3], stats[:, 4]
    small = (np.minimum(width, height) >= _SIDES_PX[0]) & (np.maximum(width, height) <= 1.5 * _SIDES_PX[1])
    chosen = np.flatnonzero(small & (area > 0.35 * width * height))
    found = []
    for label in chosen[chosen > 0].tolist()[: 3 * _MOST_SQUARES]:
        left, top = int(stats[label, 0]), int(stats[label, 1])
        part = labels[top : top + int(height[label]), left : left + int(width[label])] == label
        contours, _ = cv2.findContours(part.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
        outer = max(contours, key=cv2.contourArea)
        _, (long, short), _ = cv2.minAreaRect(outer)
        long, short = max(long, short) + 1.0, min(long, short) + 1.0
        if short >= _SIDES_PX[0] and long <= _MOST_ASPECT * short and float(area[label]) >= _LEAST_FILL * long * short:
            found.append((*((centres[label] + 0.5) * back - 0.5), float(np.sqrt(long * short) * back[0])))
    listed = np.array(found, dtype=np.float64).reshape(-1, 3)
    return _Squares(listed[:, :2], listed[:, 2])


def _lattices(squares: _Squares) -> Iterator[dict[int, tuple[int, int]]]:
    """Squares that stand in one lattice: column and row, from an arbitrary zero, by the square's place in the list."""
    taken: set[int] = set()
    for seed in np.argsort(-squares.sides).tolist():
        if seed in taken:
            continue
        lattice = _grown(squares, seed)
        if len(lattice) >= _LEAST_SQUARES:
            taken.update(lattice)
            yield lattice


def _grown(squares: _Squares, seed: int) -> dict[int, tuple[int, int]]:
    """Follow the lattice from one square: steps to its nearest neighbour and at right angles to that."""
    alike = np.flatnonzero(np.abs(np.log(squares.sides / squares.sides[seed])) < 0.4)
    if len(alike) < _LEAST_SQUARES:
        return {}
    centres = squares.centres[alike]
    shift = centres - squares.centres[seed]
    far = np.hypot(*shift.T)
    near = (far > 0.9 * squares.sides[seed]) & (far < 2.0 * squares.sides[seed])
    if not near.any():
        return {}
    first = shift[np.flatnonzero(near)[np.argmin(far[near])]]
    steps = {seed: (first, np.array([-first[1], first[0]]))}
    places = {seed: (0, 0)}
    waiting = deque([seed])
    while waiting and len(places) <= 4 * COLUMNS * ROWS:
        at = waiting.popleft()
        along, across = steps[at]
        ahead = np.array([along, -along, across, -across])
        off = np.square(centres[None] - squares.centres[at] - ahead[:, None]) @ np.ones(2)
        found = off.argmin(axis=1)
        within = off.min(axis=1) <= 0.25**2 * (np.square(ahead) @ np.ones(2))
        for place, (column, row) in enumerate(((1, 0), (-1, 0), (0, 1), (0, -1))):
            nearest = int(alike[found[place]])
            if not within[place] or nearest in places:
                continue
            places[nearest] = (places[at][0] + column, places[at][1] + row)
            moved = squares.centres[nearest] - squares.centres[at]
            steps[nearest] = (moved * column, across) if column else (along, moved * row)
            waiting.append(nearest)
    return places


def _ways(lattice: dict[int, tuple[int, int]], squares: _Squares) -> Iterator[NDArray[np.float64]]:
    """Homographies, (3, 3), from places of the card (column, row of middles) to px, one for each way it may lie."""
    members = list(lattice)
    seen = squares.centres[members]
    at = np.array([lattice[member] for member in members])
    for quarter in range(4):
        turned = at @ np.linalg.matrix_power(np.array([[0, 1], [-1, 0]]), quarter)
        turned = turned - turned.min(axis=0)
        spare = np.array([COLUMNS, ROWS]) - 1 - turned.max(axis=0)
        if (spare < 0).any():
            continue
        for column in range(int(spare[0]) + 1):
            for row in range(int(spare[1]) + 1):
                placed = (turned + np.array([column, row])).astype(np.float64)
                way, _ = cv2.findHomography(placed, seen, cv2.RANSAC, 0.2 * float(np.median(squares.sides[members])))
                if np.shape(way) == (3, 3):
                    yield np.asarray(way, dtype=np.float64)


def _middles() -> NDArray[np.float64]:
    return np.array([(column, row) for row in range(ROWS) for column in range(COLUMNS)], dtype=np.float64)


def _patches(working: NDArray[np.uint8], way: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Median linear light, (24, 3), of the middles of the patches, and whether they can be used, (24,)."""
    spread = np.linspace(-0.22, 0.22, 7)
    offsets = np.stack(np.meshgrid(spread, spread), axis=-1).reshape(-1, 2)
    at = np.rint(through(way, _middles()[:, None] + offsets)).astype(int)
    inside = np.asarray(((at >= 0) & (at < (working.shape[1], working.shape[0]))).all(axis=(1, 2)))
    at = np.clip(at, 0, np.array([working.shape[1], working.shape[0]]) - 1)
    pixels = working[at[..., 1], at[..., 0]]
    clipped = (pixels >= _CLIPPED).any(axis=2).mean(axis=1) > 0.05
    light = np.median(to_linear(pixels).astype(np.float64), axis=1)
    even = np.percentile(np.abs(pixels - np.median(pixels, axis=1, keepdims=True)).max(axis=2), 80, axis=1) < 30
    return light, np.asarray(inside & ~clipped & even)


def _residual(working: NDArray[np.uint8], way: NDArray[np.float64]) -> float:
    """Median CIEDE2000 of the patches after the best linear mixing; infinite where too few can be used."""
    light, usable = _patches(working, way)
    if usable.sum() < _LEAST_SQUARES:
        return float("inf")
    return mixing_residual(light[usable], REFERENCE_LINEAR[usable])


def _read(working: NDArray[np.uint8], way: NDArray[np.float64], zoom: NDArray[np.float64]) -> ColourCard:
    light, usable = _patches(working, way)
    edge = 0.55
    box = np.array(
        [(-edge, -edge), (COLUMNS - 1 + edge, -edge), (COLUMNS - 1 + edge, ROWS - 1 + edge), (-edge, ROWS - 1 + edge)]
    )
    corners, places = ((through(way, points) + 0.5) * zoom - 0.5 for points in (box, _middles()))
    return ColourCard(corners_px=corners, places_px=places, light=light, is_usable=usable)
