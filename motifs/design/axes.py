"""Where the axes and centres of a design lie in its picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

from motifs.design.plane_moves import is_mirror, order_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from motifs.design.band_moves import Fits
    from motifs.design.bands import BandReading
    from motifs.design.groups import BandMoves
    from motifs.design.lattices import PlaneReading
    from motifs.design.plane_moves import Turn, TurnFit

    Plane = NDArray[np.float64]

What: TypeAlias = Literal["repeat", "mirror", "glide", "turn"]

PointPx: TypeAlias = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Element:
    """An axis or a centre. points_px: two ends of a line, or one centre; order: of the turn, 2, 3, 4 or 6, else 1."""

    what: What
    points_px: tuple[PointPx, ...]
    order: int = 1


def band_elements(band: BandReading, fits: Fits, has: BandMoves) -> tuple[Element, ...]:
    """Return the axes and centres of a band that the group has, repeat by repeat, and the marks of the repeat."""
    ny, nx = band.fold.cell.shape
    repeats = int(np.ceil(band.repeats)) + 1
    top, bottom = _rows_of_pattern(band)

    def at(column: float, row: float) -> PointPx:
        along, across = np.radians(band.axis_deg), np.radians(band.axis_deg + 90)
        x = (column + 0.5) / nx * band.repeat_px
        y = row * band.row_px
        return (
            float(band.origin_px[0] + x * np.cos(along) + y * np.cos(across)),
            float(band.origin_px[1] + x * np.sin(along) + y * np.sin(across)),
        )

    found: list[Element] = []
    across, along, turn, glide = (fits[name] for name in ("across", "along", "turn", "glide"))
    halves = range(2 * repeats)
    if has.across and across is not None:
        first = ((nx - 1 + across.shift[0]) / 2) % (nx / 2)
        found += [Element("mirror", (at(first + k * nx / 2, top), at(first + k * nx / 2, bottom))) for k in halves]
    for name, fit, is_there in (("mirror", along, has.along), ("glide", glide, has.glide)):
        if is_there and fit is not None:
            row = (ny - 1 + fit.shift[1]) / 2
            ends = (at(-0.5, row), at(repeats * nx - 0.5, row))
            found.append(Element("mirror" if name == "mirror" else "glide", ends))
    if has.turn and turn is not None:
        first, row = ((nx - 1 + turn.shift[0]) / 2) % (nx / 2), (ny - 1 + turn.shift[1]) / 2
        found += [Element("turn", (at(first + k * nx / 2, row),), 2) for k in halves]
    found.append(Element("repeat", (at(-0.5, bottom), at(nx - 0.5, bottom))))
    return tuple(found)


def _rows_of_pattern(band: BandReading) -> tuple[float, float]:
    """First and last row of the cell that hold the middle nine tenths of its energy."""
    cell, count = band.fold.cell, band.fold.count
    level = np.median(cell[count > 0])
    energy = np.cumsum((((cell - level) ** 2) * (count > 0)).sum(axis=1))
    low, high = np.searchsorted(energy, np.array([0.03, 0.97]) * energy[-1])
    return float(low) - 1, float(high) + 1


def plane_elements(plane: PlaneReading, fits: Mapping[Turn, TurnFit], turns: tuple[Turn, ...]) -> tuple[Element, ...]:
    """Return the axes and centres in the cells round the middle of the picture; higher turns hide lower ones."""
    n = plane.fold.cell.shape[0]
    found: list[Element] = []
    for turn in turns:
        fit = fits.get(turn)
        if fit is None or fit.any_place is None:
            continue
        matrix = np.array(turn, np.float64).reshape(2, 2)
        moved = -matrix @ np.array(fit.any_place.shift) / n
        if is_mirror(turn):
            found += _lines(plane, matrix, moved, is_glide=fit.any_place is fit.glide)
        else:
            found += _centres(plane, matrix, moved, order_of(turn))
    origin = np.array(plane.origin_px)
    for shift in plane.basis_px:
        found.append(Element("repeat", (_point(origin), _point(origin + shift))))
    return _highest_turns(found)


def _point(place: Plane) -> PointPx:
    return float(place[0]), float(place[1])


def _centres(plane: PlaneReading, matrix: Plane, moved: Plane, order: int) -> list[Element]:
    """Centres x = W x + t + whole shifts, within one cell of the origin."""
    solve = np.linalg.inv(np.eye(2) - matrix)
    out = []
    for i in range(-3, 4):
        for j in range(-3, 4):
            place = solve @ (moved + np.array([i, j]))
            if (np.abs(place) <= 1.01).all():
                out.append(Element("turn", (_point(place @ plane.basis_px + np.array(plane.origin_px)),), order))
    return out


def _lines(plane: PlaneReading, matrix: Plane, moved: Plane, *, is_glide: bool) -> list[Element]:
    """Lines of a mirror or glide: through t / 2, along what the matrix keeps, and their copies by whole shifts."""
    values, vectors = np.linalg.eig(matrix)
    along = np.real(vectors[:, int(np.argmax(np.real(values)))]) @ plane.basis_px
    along = along / np.linalg.norm(along)
    across = np.array([-along[1], along[0]])
    reach = float(np.linalg.norm(plane.basis_px, axis=1).max()) * 1.3
    out: list[Element] = []
    taken: list[float] = []
    for i in range(-2, 3):
        for j in range(-2, 3):
            offset = float(((moved + np.array([i, j])) / 2) @ plane.basis_px @ across)
            if abs(offset) <= reach and all(abs(offset - other) > 0.04 * reach for other in taken):
                taken.append(offset)
                middle = np.array(plane.origin_px) + offset * across
                ends = (_point(middle - reach * along), _point(middle + reach * along))
                out.append(Element("glide" if is_glide else "mirror", ends))
    return out


def _highest_turns(found: list[Element]) -> tuple[Element, ...]:
    """Of centres at one place keep the one of the highest order."""
    kept: list[Element] = []
    for one in sorted(found, key=lambda element: -element.order):
        is_new = one.what != "turn" or all(
            other.what != "turn" or np.hypot(*np.subtract(one.points_px[0], other.points_px[0])) > 3.0 for other in kept
        )
        if is_new:
            kept.append(one)
    return tuple(kept)
