"""Outlines and strokes that a hand drew: checked, cleared of a hand's small slips, split along a stroke.

Everything is in px of the oriented photograph. What cannot be meant is refused in one line; nothing is guessed beyond the
overshoot of a hand that closes a line.
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from shapely import make_valid, set_precision
from shapely.geometry import LineString, Polygon
from shapely.ops import polygonize, unary_union
from shapely.validation import explain_validity

from motifs.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from shapely.geometry.base import BaseGeometry

LEAST_ACROSS_PX: Final = 6.0
"""A drawn piece narrower than this is taken for a slip of the hand; common practice, no source."""

SLIP_SHARE: Final = 0.03
"""Loops that a hand leaves where it closes a line may hold this share of the area; more is a line that crosses itself."""

REACH_SHARE: Final = 0.06
"""A stroke that stops short of the edge by this share of the sherd's size is carried on to it."""

THINNING_PX: Final = 0.25
"""Points that a line passes this close are left out: below what a hand or a screen resolves."""

GRID_PX: Final = 0.01
"""Corners of a drawn outline lie on this grid."""


def drawn_outline(points: ArrayLike, size_px: tuple[int, int], of: str) -> NDArray[np.float32]:
    """Make an outline of what a person drew.

    Parameters
    ----------
    points
        (N, 2) x, y of the line, closed or not.
    size_px
        Width and height of the photograph.
    of
        What the outline is of, for the message: "'B-03-001'", "a new sherd".

    Returns
    -------
    ndarray
        (M, 2) float32, M >= 3, a simple polygon within the photograph, its last point not repeating the first.

    Raises
    ------
    InputError
        Not points, fewer than three, beyond the photograph, crossing itself, or too small to be a sherd.
    """
    line = _checked_line(points, size_px, f"the outline of {of}")
    if len(line) < 3:
        raise InputError(f"the outline of {of} needs at least three points (x, y), not {len(line)}; draw it again")
    # On the grid that the catalogue keeps, so that rounding cannot make an outline cross itself later.
    polygon = _largest(set_precision(_without_slips(Polygon(line), of).simplify(THINNING_PX), GRID_PX))
    across_px = _across_px(polygon)
    if across_px < LEAST_ACROSS_PX:
        raise InputError(
            f"the outline of {of} is {across_px:.1f} px across, too small for a sherd; draw around the whole sherd"
        )
    return _corners(polygon)


def split_by_stroke(
    outline_px: ArrayLike, stroke_px: ArrayLike, size_px: tuple[int, int], of: str
) -> tuple[NDArray[np.float32], ...]:
    """Cut an outline along a stroke.

    Slivers narrower than LEAST_ACROSS_PX, which a trembling stroke leaves along itself, stay with the piece beside them. An
    end that stops just short of the edge is carried on in its direction.

    Parameters
    ----------
    outline_px
        (N, 2) polygon, N >= 3.
    stroke_px
        (M, 2) points of the stroke, M >= 2; it has to cross the sherd from edge to edge, once or more often.
    size_px, of
        As for `drawn_outline`.

    Returns
    -------
    tuple of ndarray
        Two or more (K, 2) float32 outlines without common area, the largest first.

    Raises
    ------
    InputError
        The stroke is none, leaves the photograph, or cuts nothing off.
    """
    stroke = _checked_line(stroke_px, size_px, f"the stroke over {of}")
    if len(stroke) < 2:
        raise InputError(f"the stroke over {of} needs at least two points (x, y), not {len(stroke)}; draw it again")
    whole = _largest(make_valid(Polygon(np.asarray(outline_px, dtype=np.float64))))
    edges = unary_union([whole.exterior, LineString(_carried_on(stroke, whole))])
    pieces = [piece for piece in polygonize(edges) if whole.contains(piece.representative_point())]
    pieces = _slivers_joined(pieces)
    if len(pieces) < 2:
        raise InputError(
            f"the stroke does not cut {of} in two; begin beside the sherd, cross it, and end beside it on the other side"
        )
    pieces.sort(key=lambda piece: -float(piece.area))
    return tuple(_corners(piece) for piece in pieces)


def overlap_share(a_px: ArrayLike, b_px: ArrayLike) -> float:
    """Common area of two outlines over the area of the smaller one, 0..1; 0 where one has no area."""
    a, b = (make_valid(Polygon(np.asarray(outline, dtype=np.float64))) for outline in (a_px, b_px))
    smaller = min(a.area, b.area)
    return float(a.intersection(b).area / smaller) if smaller > 0 else 0.0


def rim_up_deg(body_px: ArrayLike, rim_px: ArrayLike) -> float:
    """How far a photograph has to be turned clockwise for an arrow from body to rim to point up.

    Parameters
    ----------
    body_px, rim_px
        (2,) x, y of the arrow's foot and head, y downwards.

    Returns
    -------
    float
        Degrees, 0 to below 360.

    Raises
    ------
    InputError
        The arrow has no length.
    """
    right, down = np.asarray(rim_px, dtype=np.float64) - np.asarray(body_px, dtype=np.float64)
    if not math.hypot(right, down) >= 1.0:
        raise InputError("the arrow to the rim has no length; draw it from the middle of the sherd to its rim")
    return math.degrees(math.atan2(-right, -down)) % 360.0


def _checked_line(points: ArrayLike, size_px: tuple[int, int], what: str) -> NDArray[np.float64]:
    """Points as (N, 2) on the grid, without repetitions, all within the photograph (pixel centres lie at whole numbers)."""
    try:
        line = np.asarray(points, dtype=np.float64)
    except (TypeError, ValueError):
        line = np.full((1, 2), np.nan)
    if line.size == 0:
        line = line.reshape(0, 2)
    if line.ndim != 2 or line.shape[1] != 2 or not np.isfinite(line).all():
        raise InputError(f"{what} is not a list of points (x, y) in px of the photograph; draw it again")
    width, height = size_px
    beyond = ((line < -0.5) | (line > np.array([width, height]) - 0.5)).any(axis=1)
    if beyond.any():
        x, y = line[int(np.argmax(beyond))]
        raise InputError(
            f"{what} leaves the photograph of {width} x {height} px at ({x:.0f}, {y:.0f}); keep to the photograph"
        )
    line = line.round(2)
    fresh = np.ones(len(line), dtype=bool)
    fresh[1:] = np.abs(np.diff(line, axis=0)).max(axis=1) > 0
    line = line[fresh]
    return line[:-1] if len(line) > 3 and np.array_equal(line[0], line[-1]) else line


def _without_slips(polygon: Polygon, of: str) -> Polygon:
    """The outer edge of what was drawn, where all but slips of it is one face."""
    if polygon.is_valid:
        return polygon
    faces = list(polygonize(unary_union(LineString(polygon.exterior.coords))))
    whole = _largest(unary_union(faces)) if faces else Polygon()
    largest = max((float(face.area) for face in faces), default=0.0)
    if largest < (1.0 - SLIP_SHARE) * sum(float(face.area) for face in faces) or not largest:
        near = re.search(r"\[(\S+) (\S+)\]", explain_validity(polygon))
        where = f" near ({float(near[1]):.0f}, {float(near[2]):.0f})" if near and faces else ""
        raise InputError(f"the outline of {of} crosses itself{where}; draw it again in one round")
    return Polygon(whole.exterior)


def _largest(shape: BaseGeometry) -> Polygon:
    """The largest polygon of a shape; an empty one where there is none."""
    parts = [part for part in getattr(shape, "geoms", [shape]) if isinstance(part, Polygon)]
    nested = [_largest(part) for part in getattr(shape, "geoms", []) if hasattr(part, "geoms")]
    return max([*parts, *nested], key=lambda part: float(part.area), default=Polygon())


def _across_px(polygon: Polygon) -> float:
    """Width of a piece: the narrow side of the smallest box around it, or 4 A / P (a disc's diameter) where that is less."""
    if polygon.is_empty or polygon.length == 0:
        return 0.0
    box = polygon.minimum_rotated_rectangle
    if not isinstance(box, Polygon):
        return 0.0
    corners = np.asarray(box.exterior.coords)
    sides = np.hypot(*np.diff(corners[:3], axis=0).T)
    return float(min(sides.min(), 4.0 * polygon.area / polygon.length))


def _carried_on(stroke: NDArray[np.float64], whole: Polygon) -> NDArray[np.float64]:
    """The stroke with each end that lies inside, close to the edge, carried on in its own direction."""
    reach_px = REACH_SHARE * math.sqrt(whole.area)
    ends = [_beyond(stroke, whole, reach_px), stroke, _beyond(stroke[::-1], whole, reach_px)]
    return np.vstack([part for part in ends if part is not None])


def _beyond(stroke: NDArray[np.float64], whole: Polygon, reach_px: float) -> NDArray[np.float64] | None:
    """One more point before the first, if that one lies inside and the edge is within reach ahead of it."""
    first = stroke[0]
    far = stroke[np.hypot(*(stroke - first).T) >= min(reach_px, 3.0)]
    if len(far) == 0:
        return None
    ahead = (first - far[0]) / np.hypot(*(first - far[0]))
    probe = LineString([first, first + reach_px * ahead])
    is_inside = whole.contains(LineString([first, first + 1e-3 * ahead]))
    return np.array([first + 1.05 * reach_px * ahead]) if is_inside and probe.crosses(whole.exterior) else None


def _slivers_joined(pieces: list[Polygon]) -> list[Polygon]:
    """Every piece too narrow to be one is given to the neighbour with which it shares the longest edge."""
    while len(pieces) > 1:
        narrow = min(pieces, key=_across_px)
        if _across_px(narrow) >= LEAST_ACROSS_PX:
            break
        rest = [piece for piece in pieces if piece is not narrow]
        beside = max(rest, key=lambda piece: float(piece.intersection(narrow).length))
        joined = _largest(unary_union([beside, narrow]))
        pieces = [joined if piece is beside else piece for piece in rest]
    return pieces


def _corners(polygon: Any) -> NDArray[np.float32]:
    """The outer edge without the repeated last point."""
    return np.asarray(polygon.exterior.coords[:-1], dtype=np.float32)
