"""What is printed where on the photo mat, in mm from the upper left corner of the page: one source for printing and reading.

Markers stand along all four edges, so that covered ones do not matter. Grey patches come twice, in opposite order, so that
uneven light and a covering hand are noticed. The field in the middle is plain paper but for small crosses.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

from motifs.errors import UnknownName

if TYPE_CHECKING:
    from numpy.typing import NDArray

MARKER_MM: Final = 12.0
"""Side of a marker's black square; six modules."""

MARKER_MODULES: Final = 6
DICTIONARY: Final = cv2.aruco.DICT_4X4_100
BAR_MM: Final = 100.0
BAR_BLOCKS: Final = 10

PATCHES_SRGB: Final = (235, 205, 170, 130, 90, 50)
"""Grey levels of the patches; steps of about 12 to 15 in L*."""

CROSS_MM: Final = 4.0
LINE_MM: Final = 0.3
FAINT_SRGB: Final = 170

_EDGE: Final = 12.0  # from the page's edge to the middle of a marker: within what common printers reach
_STRIP: Final = 23.0
_FOOT: Final = 36.0
_QR_MM: Final = 25.0
_CELL_MM: Final = 62.0


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle: left, top, width, height in mm."""

    x: float
    y: float
    width: float
    height: float

    def corners(self) -> NDArray[np.float64]:
        """Corners, (4, 2) float64 mm, clockwise from the upper left."""
        right, bottom = self.x + self.width, self.y + self.height
        return np.array([(self.x, self.y), (right, self.y), (right, bottom), (self.x, bottom)], dtype=np.float64)

    def grown(self, by_mm: float) -> Box:
        """The same rectangle with a margin."""
        return Box(self.x - by_mm, self.y - by_mm, self.width + 2 * by_mm, self.height + 2 * by_mm)


@dataclass(frozen=True, slots=True)
class Marker:
    """One marker: number in the dictionary and its black square."""

    number: int
    box: Box


@dataclass(frozen=True, slots=True)
class Patch:
    """One grey patch and its sRGB level."""

    level: int
    box: Box


@dataclass(frozen=True, slots=True)
class Words:
    """A line of text: left end of the baseline, size of the letters in mm, the text; box is what it may cover."""

    x: float
    y: float
    size: float
    text: str
    box: Box


@dataclass(frozen=True, slots=True)
class MatDesign:
    """One size of mat, landscape.

    Lengths in mm. field: where sherds lie. columns, rows: edges of its cells. code: place of the square code.
    """

    name: str
    width: float
    height: float
    markers: tuple[Marker, ...]
    patches: tuple[Patch, ...]
    bar: Box
    code: Box
    field: Box
    columns: tuple[float, ...]
    rows: tuple[float, ...]

    def crosses(self) -> list[tuple[float, float]]:
        """Middles of the crosses where cells meet, mm."""
        return [(x, y) for y in self.rows for x in self.columns]

    def cell_names(self) -> list[Words]:
        """A letter and a figure in the upper left corner of each cell."""
        names = []
        for row, y in enumerate(self.rows[:-1]):
            for column, x in enumerate(self.columns[:-1]):
                box = Box(x + 1.2, y + 1.0, 6.0, 3.6)
                names.append(Words(x + 1.6, y + 3.8, 2.4, f"{chr(ord('A') + row)}{column + 1}", box))
        return names

    def bar_blocks(self) -> list[Box]:
        """The black blocks of the bar."""
        step = self.bar.width / BAR_BLOCKS
        return [Box(self.bar.x + k * step, self.bar.y, step, self.bar.height) for k in range(0, BAR_BLOCKS, 2)]

    def words_zone(self) -> Box:
        """Where the lines of text in the foot stand."""
        return Box(self.code.x + self.code.width + 3.0, self.height - _FOOT + 2.0, self.width * 0.7, 15.0)


def mat_design(name: str) -> MatDesign:
    """Return the mat of a paper size, "A4" or "A3" (ISO 216), landscape.

    Raises
    ------
    UnknownName
        There is no mat of that size.
    """
    for design in MATS:
        if design.name == name.strip().upper():
            return design
    raise UnknownName(f"there is no mat of size '{name}'; the sizes are {', '.join(design.name for design in MATS)}")


def marker_squares(number: int) -> NDArray[np.bool_]:
    """Modules of a marker, (6, 6) bool, True dark."""
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    image = cv2.aruco.generateImageMarker(dictionary, number, MARKER_MODULES)
    return np.asarray(np.equal(image, 0), dtype=np.bool_)


def _marker(number: int, x: float, y: float) -> Marker:
    return Marker(number, Box(x - MARKER_MM / 2, y - MARKER_MM / 2, MARKER_MM, MARKER_MM))


def _build(name: str, width: float, height: float, first: int, across: int, down: int) -> MatDesign:
    top = np.linspace(_EDGE, width - _EDGE, across)
    sides = np.linspace(_EDGE, height - _EDGE, down)[1:-1]
    bar_left = 66.0
    foot = (_EDGE, 56.0, bar_left + BAR_MM + 9.0, width - 44.0 if width < 350 else width - 110.0, width - _EDGE)
    places = [(x, _EDGE) for x in top] + [(x, y) for y in sides for x in (_EDGE, width - _EDGE)]
    places += [(x, height - _EDGE) for x in foot]
    field = Box(_STRIP, _STRIP, width - 2 * _STRIP, height - _STRIP - _FOOT)
    columns = np.linspace(field.x, field.x + field.width, max(2, round(field.width / _CELL_MM) + 1))
    rows = np.linspace(field.y, field.y + field.height, max(2, round(field.height / _CELL_MM * 1.2) + 1))
    return MatDesign(
        name=name,
        width=width,
        height=height,
        markers=tuple(_marker(first + k, float(x), float(y)) for k, (x, y) in enumerate(places)),
        patches=(
            *_patches(float(top[1]) + 9.3, 9.0, 6.0, PATCHES_SRGB),
            *_patches(bar_left + BAR_MM + 18.0, height - 16.5, 8.0, PATCHES_SRGB[::-1]),
        ),
        bar=Box(bar_left, height - 16.5, BAR_MM, 6.0),
        code=Box(21.0, height - 6.0 - _QR_MM, _QR_MM, _QR_MM),
        field=field,
        columns=tuple(columns.tolist()),
        rows=tuple(rows.tolist()),
    )


def _patches(x: float, y: float, side: float, levels: tuple[int, ...]) -> tuple[Patch, ...]:
    return tuple(Patch(level, Box(x + k * side, y, side, side)) for k, level in enumerate(levels))


MATS: Final = (_build("A4", 297.0, 210.0, 0, 6, 4), _build("A3", 420.0, 297.0, 40, 8, 5))
