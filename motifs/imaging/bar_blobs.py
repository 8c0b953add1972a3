"""Proposals for a scale bar: blobs of one polarity in a straight, evenly spaced row."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import cv2
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

_THRESHOLDS: Final = (40, 65, 95, 125, 160, 195, 220)
_MIN_SIDE_PX: Final = 4.0
_MIN_EXTENT: Final = 0.80  # blob area over the area of its smallest rectangle
_MAX_ASPECT: Final = 5.0
_MAX_BLOBS: Final = 400
_MAX_ROWS: Final = 32


@dataclass(frozen=True, slots=True)
class Row:
    """A straight row of alternating blocks.

    centre: (2,) px of a block of the blobs' polarity in the middle. axis: (2,) unit vector. block_px: length
    of one block along the axis. height_px: of the row. count: blobs seen.
    """

    centre: NDArray[np.float64]
    axis: NDArray[np.float64]
    block_px: float
    height_px: float
    count: int

    def scaled(self, zoom: float) -> Row:
        """Return the row on a photograph `zoom` times as large."""
        return replace(
            self,
            centre=(self.centre + 0.5) * zoom - 0.5,
            block_px=self.block_px * zoom,
            height_px=self.height_px * zoom,
        )

    def refined(self, start: float, pitch: float) -> Row:
        """Return the row with its phase moved by `start` blocks and its pitch multiplied."""
        return replace(self, centre=self.centre + start * self.block_px * self.axis, block_px=self.block_px * pitch)

    def shifted(self, across_px: float) -> Row:
        """Return the row moved sideways."""
        return replace(self, centre=self.centre + across_px * np.array([-self.axis[1], self.axis[0]]))

    def corners(self, first: float, last: float) -> NDArray[np.float32]:
        """Corners, (4, 2), of the rectangle between two offsets in blocks."""
        normal = np.array([-self.axis[1], self.axis[0]]) * 0.5 * self.height_px
        ends = [self.centre + offset * self.block_px * self.axis for offset in (first, last)]
        return np.array([ends[0] - normal, ends[1] - normal, ends[1] + normal, ends[0] + normal], dtype=np.float32)


@dataclass(frozen=True, slots=True)
class _Blobs:
    centres: NDArray[np.float64]  # (N, 2)
    axes: NDArray[np.float64]  # (N, 2) unit vector of the first side
    sides: NDArray[np.float64]  # (N, 2) lengths along and across that vector


def propose_rows(working: NDArray[np.uint8]) -> Iterator[Row]:
    """Yield rows of blobs, the longest in px first, over several thresholds and both polarities.

    Parameters
    ----------
    working
        (h, w, 3) uint8.
    """
    grey = cv2.cvtColor(working, cv2.COLOR_RGB2GRAY)
    rows: list[Row] = []
    for threshold in _THRESHOLDS:
        for mode in (cv2.THRESH_BINARY_INV, cv2.THRESH_BINARY):
            _, binary = cv2.threshold(grey, threshold, 255, mode)
            rows.extend(_rows_of(_blobs(np.asarray(binary, dtype=np.uint8))))
    rows.sort(key=lambda row: -row.count * row.block_px)
    seen: list[Row] = []
    for row in rows:
        if len(seen) >= _MAX_ROWS:
            return
        if not any(_same(row, other) for other in seen):
            seen.append(row)
            yield row


def _same(row: Row, other: Row) -> bool:
    near = float(np.hypot(*(row.centre - other.centre))) < 0.3 * other.block_px
    return near and abs(row.block_px / other.block_px - 1.0) < 0.1 and row.count <= other.count


def _blobs(binary: NDArray[np.uint8]) -> _Blobs:
    """Rectangular blobs of a binary image, after breaking the corner contacts of a two-row checker."""
    opened = cv2.erode(binary, np.ones((3, 3), dtype=np.uint8))
    contours, hierarchy = cv2.findContours(opened, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    found = []
    limit = 0.15 * max(binary.shape)
    for number, contour in enumerate(contours):
        is_hole = hierarchy[0][number][3] >= 0
        if is_hole or len(contour) < 4:
            continue
        _, _, box_width, box_height = cv2.boundingRect(contour)
        if not _MIN_SIDE_PX - 2 <= max(box_width, box_height) <= 1.5 * limit:
            continue
        centre, (width, height), angle = cv2.minAreaRect(contour)
        # Contours run through pixel centres: a blob is one pixel wider, and erosion took two more.
        width, height = width + 3.0, height + 3.0
        area = cv2.contourArea(contour) + 3.0 * (width + height) - 9.0
        short, long = min(width, height), max(width, height)
        if (
            short >= _MIN_SIDE_PX
            and long <= limit
            and long <= _MAX_ASPECT * short
            and area > _MIN_EXTENT * short * long
        ):
            found.append((*centre, np.deg2rad(angle), width, height))
    table = np.array(found[:_MAX_BLOBS], dtype=np.float64).reshape(-1, 5)
    axes = np.stack([np.cos(table[:, 2]), np.sin(table[:, 2])], axis=1)
    return _Blobs(centres=table[:, :2], axes=axes, sides=table[:, 3:])


def _rows_of(blobs: _Blobs) -> list[Row]:
    """Maximal chains of like blobs two sides apart along one of their axes."""
    rows = [_chain(blobs, start, other) for start, other in _neighbours(blobs)]
    return [row for row in rows if row is not None]


def _neighbours(blobs: _Blobs) -> list[tuple[int, int]]:
    """Pairs of like blobs, the second one step away from the first along either of its sides."""
    areas = blobs.sides.prod(axis=1)
    first, second = np.nonzero(np.abs(np.log(areas[:, None] / areas[None])) < 0.35)
    shift = blobs.centres[second] - blobs.centres[first]
    axis = blobs.axes[first]
    # Both ways: a square blob's own axis may point either way.
    along = np.abs((shift * axis).sum(axis=1))
    across = np.abs(shift[:, 1] * axis[:, 0] - shift[:, 0] * axis[:, 1])
    long, wide = blobs.sides[first].T
    forth = (along > 1.6 * long) & (along < 2.5 * long) & (across < 0.25 * wide + 0.5)
    aside = (across > 1.6 * wide) & (across < 2.5 * wide) & (along < 0.25 * long + 0.5)
    pairs = [
        (int(first[at]), turn, int(second[at]))
        for turn, good in ((0, forth), (1, aside))
        for at in np.flatnonzero(good)
    ]
    return [(start, other) for start, _, other in sorted(pairs)]


def _chain(blobs: _Blobs, start: int, second: int) -> Row | None:
    """Follow equal steps from a pair; None when the pair is not the start of the chain."""
    step = blobs.centres[second] - blobs.centres[start]
    tolerance = 0.12 * float(np.hypot(*step)) + 0.7
    if _at(blobs, blobs.centres[start] - step, tolerance) is not None:
        return None
    members = [start, second]
    while len(members) < 40:
        following = _at(blobs, blobs.centres[members[-1]] + step, tolerance)
        if following is None or following in members:
            break
        members.append(following)
        step = (blobs.centres[members[-1]] - blobs.centres[start]) / (len(members) - 1)
    centres = blobs.centres[members]
    axis = _direction(centres, step)
    # A near-square blob may list its sides in either order.
    first_is_along = np.abs(blobs.axes[members] @ axis) > 0.7
    heights = np.where(first_is_along, blobs.sides[members][:, 1], blobs.sides[members][:, 0])
    return Row(
        centre=centres[len(members) // 2],
        axis=axis,
        block_px=0.5 * float(np.hypot(*step)),
        height_px=float(np.median(heights)),
        count=len(members),
    )


def _at(blobs: _Blobs, place: NDArray[np.float64], tolerance: float) -> int | None:
    distances = np.hypot(*(blobs.centres - place).T)
    nearest = int(np.argmin(distances))
    return nearest if distances[nearest] < tolerance else None


def _direction(centres: NDArray[np.float64], step: NDArray[np.float64]) -> NDArray[np.float64]:
    middle = centres - centres.mean(axis=0)
    axis: NDArray[Any] = np.linalg.svd(middle, full_matrices=False)[2][0]
    return axis if axis @ step > 0 else -axis
