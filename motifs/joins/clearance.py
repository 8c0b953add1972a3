"""Which sherd can still slide into its place, and from where: tested in the developed plane.

A piece slides out along a direction when nothing of another piece lies ahead of any part of it; sliding in is the same run backwards.
For every direction this says which piece blocks which, at once for all pairs (directional blocking: Wilson & Latombe 1994, Artificial
Intelligence 71, 371-396, cited from memory). Edges of fractures are rough and a sherd can be rocked a little, so each piece is drawn in by
the play before it is moved.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

PLAY_MM: Final = 1.0
"""How far a sherd may be rocked; common practice, no source."""
DIRECTIONS: Final = 120
FEWER_DIRECTIONS: Final = 60
MANY_PIECES: Final = 120
BIN_MM: Final = 0.5
GRAZE_BINS: Final = 3
GRAZE_MM2: Final = 0.05
FAR_MM: Final = 2000.0
TOUCH_MM: Final = 1.5
"""Outlines nearer than this touch."""
LEAST_CONTACT_MM: Final = 4.0


@dataclass(frozen=True, slots=True)
class Blocking:
    """directions_deg: (d,), 0 to the right, 90 down. blocks: (d, n, n) bool, [k, p, q]: p moved along direction k runs into q.

    contact_mm: (n, n) float64, how long two pieces touch. middles_mm: (n, 2). areas_mm2: (n,).
    """

    directions_deg: NDArray[np.float64]
    blocks: NDArray[np.bool_]
    contact_mm: NDArray[np.float64]
    middles_mm: NDArray[np.float64]
    areas_mm2: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.areas_mm2)

    def ways_out(self, moving: Iterable[int], staying: Iterable[int]) -> NDArray[np.bool_]:
        """(d,) bool, directions in which pieces, moved as one, leave the others."""
        rows, columns = np.array(list(moving), np.intp), np.array(list(staying), np.intp)
        if not len(columns) or not len(rows):
            return np.ones(len(self.directions_deg), np.bool_)
        return ~np.asarray(self.blocks[:, rows][:, :, columns].any(axis=(1, 2)))

    def touches(self, piece: int, others: Iterable[int]) -> list[int]:
        """Those of the others that the piece touches, longest contact first."""
        found = [k for k in others if self.contact_mm[piece, k] >= LEAST_CONTACT_MM]
        return sorted(found, key=lambda k: (-self.contact_mm[piece, k], k))


def blocking_of(outlines: Sequence[NDArray[np.float64]], *, play_mm: float = PLAY_MM) -> Blocking:
    """Work out what blocks what.

    Parameters
    ----------
    outlines : (N, 2) each, mm, as they lie in the layout.
    play_mm : how far a piece may be rocked, 0 or more.

    Returns
    -------
    Blocking
        For every direction and pair of pieces.
    """
    shapes = [_polygon(outline) for outline in outlines]
    count = DIRECTIONS if len(shapes) <= MANY_PIECES else FEWER_DIRECTIONS
    directions = np.arange(count) * 360.0 / count
    drawn_in = [_drawn_in(shape, play_mm) for shape in shapes]
    whole, small = [_dense(shape) for shape in shapes], [_dense(shape) for shape in drawn_in]
    blocks = np.zeros((count, len(shapes), len(shapes)), np.bool_)
    contact = contact_lengths(shapes)
    for k, direction in enumerate(directions):
        angle = float(np.radians(direction))
        hits = _hits_along(whole, small, angle)
        blocks[k] = hits > 0
        # A graze in a bin or two may be the bin's doing: neighbours are looked at exactly.
        for p, q in np.argwhere((hits > 0) & (hits <= GRAZE_BINS) & (contact > 0)).tolist():
            blocks[k, p, q] = shapely.area(shapely.intersection(_swept(drawn_in[p], angle), shapes[q])) > GRAZE_MM2
    middles = np.array([[shape.centroid.x, shape.centroid.y] for shape in shapes]).reshape(-1, 2)
    areas = np.array([shape.area for shape in shapes])
    return Blocking(directions, blocks, contact, middles, areas)


def contact_lengths(shapes: Sequence[shapely.Geometry]) -> NDArray[np.float64]:
    """(n, n) float64 mm, how long every two pieces run within TOUCH_MM of each other."""
    contact = np.zeros((len(shapes), len(shapes)))
    if not len(shapes):
        return contact
    grown = shapely.buffer(np.array(shapes, object), TOUCH_MM)
    first, second = shapely.STRtree(list(shapes)).query(grown, predicate="intersects")
    for p, q in zip(first.tolist(), second.tolist(), strict=True):
        if p != q:
            shared = shapely.length(shapely.intersection(shapely.boundary(shapes[q]), grown[p]))
            contact[p, q] = max(shared - 2 * TOUCH_MM, 0.0)
    return np.asarray((contact + contact.T) / 2)


def _polygon(points: NDArray[np.float64]) -> shapely.Geometry:
    shape = shapely.polygons(points)
    return shape if shapely.is_valid(shape) else _largest(shapely.buffer(shape, 0.0))


def _largest(shape: shapely.Geometry) -> shapely.Geometry:
    parts = shapely.get_parts(shape)
    return parts[int(np.argmax(shapely.area(parts)))] if len(parts) else shape


def _drawn_in(shape: shapely.Geometry, play_mm: float) -> shapely.Geometry:
    """The piece less its play; a sliver keeps as much as it can."""
    for share in (1.0, 0.5, 0.25, 0.1):
        smaller = shapely.buffer(shape, -play_mm * share, join_style="mitre")
        if shapely.area(smaller) > 0:
            return _largest(smaller)
    return shape


def _dense(shape: shapely.Geometry) -> NDArray[np.float64]:
    """Points along the boundary, closer than a bin."""
    return np.asarray(shapely.get_coordinates(shapely.segmentize(shapely.boundary(shape), BIN_MM / 2)), np.float64)


def _hits_along(
    whole: Sequence[NDArray[np.float64]], small: Sequence[NDArray[np.float64]], direction: float
) -> NDArray[np.intp]:
    """(n, n): on how many lines of one direction any of q lies ahead of any of p."""
    along = np.array([np.cos(direction), np.sin(direction)])
    across = np.array([-along[1], along[0]])
    low = min((float((points @ across).min()) for points in whole), default=0.0)
    high = max((float((points @ across).max()) for points in whole), default=0.0)
    bins = int((high - low) / BIN_MM) + 2
    ahead, behind = np.full((len(whole), bins), -np.inf), np.full((len(small), bins), np.inf)
    spans = []
    for k, (all_of, core) in enumerate(zip(whole, small, strict=True)):
        np.maximum.at(ahead[k], ((all_of @ across - low) / BIN_MM).astype(np.intp), all_of @ along)
        at = ((core @ across - low) / BIN_MM).astype(np.intp)
        np.minimum.at(behind[k], at, core @ along)
        spans.append((int(at.min()), int(at.max()) + 1))
    hits = np.zeros((len(whole), len(whole)), np.intp)
    for p, (start, end) in enumerate(spans):
        hits[p] = (ahead[:, start:end] > behind[p, start:end]).sum(axis=1)
    np.fill_diagonal(hits, 0)
    return hits


def _swept(shape: shapely.Geometry, direction: float) -> shapely.Geometry:
    """What a piece passes over on its way out: the parallelograms of its edges, and itself."""
    way = FAR_MM * np.array([np.cos(direction), np.sin(direction)])
    ring = np.asarray(shapely.get_coordinates(shapely.get_exterior_ring(shape)), np.float64)
    first, second = ring[:-1], ring[1:]
    leg = second - first
    is_flat = np.abs(leg[:, 0] * way[1] - leg[:, 1] * way[0]) < 1e-6
    corners = np.stack([first, second, second + way, first + way], axis=1)[~is_flat]
    return shapely.union_all([shape, *shapely.polygons(corners)])
