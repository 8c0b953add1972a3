"""The last millimetres of a layout: all edges that lie against each other are fitted to each other at once.

A proposal fits two sherds alone, each seen flat from above. Here the outlines lie on the common wall, every edge point is taken to the
line of the edge beside it, and all poses are solved together; then again from where that led (point-to-line registration of
several views: Chen & Medioni 1992, Image and Vision Computing 10, 145-155; Pulli 1999, 3DIM, 160-168; cited from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.spatial import cKDTree

from motifs.joins.pose_graph import PoseEdge

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from motifs.joins.walls import Wall

REACHES_MM: Final = (3.0, 2.0, 1.5, 1.2)
"""Of each round: how far from each other edge points may lie to be taken for neighbours."""
STEP_MM: Final = 1.0
WEAR_MM: Final = 0.25
"""Gap that wear leaves between two edges (common practice: wear rounds edges by 0.5 to 2 mm; most of it does not show from above)."""
FACING: Final = -0.6
"""Cosine of the widest angle at which two edges still face each other."""
LEAST_POINTS: Final = 8
STRANGER_WEIGHT: Final = 0.5
"""Of a contact that no join proposed."""


class EdgePoints:
    """Outlines about their middles, evenly sampled. points: (n_k, 2) mm and outward: (n_k, 2) unit normals, sherd by sherd."""

    def __init__(self, outlines: Sequence[NDArray[np.float64]]) -> None:
        self.points = [_even(outline) for outline in outlines]
        self.outward = [_outward(points) for points in self.points]

    def laid(self, poses: NDArray[np.float64], wall: Wall, members: Iterable[int]) -> _Laid:
        """All edge points of some sherds where they lie."""
        names = list(members)
        counts = [len(self.points[k]) for k in names]
        owner = np.repeat(names, counts).astype(np.intp)
        place = np.concatenate([np.arange(count) for count in counts]).astype(np.intp)
        points = np.concatenate([self.points[k] for k in names])
        normals = np.concatenate([self.outward[k] for k in names])
        where = wall.develop(points, poses[owner])
        ahead = wall.develop(points + 0.05 * normals, poses[owner])
        out = wall.apart(ahead, where)
        return _Laid(owner, place, where, out / np.maximum(np.hypot(*out.T), 1e-9)[:, None])


class _Laid:
    """Points of edges on the wall: owner and place in its outline (m,), where and out (m, 2)."""

    def __init__(
        self,
        owner: NDArray[np.intp],
        place: NDArray[np.intp],
        where: NDArray[np.float64],
        out: NDArray[np.float64],
    ) -> None:
        self.owner, self.place, self.where, self.out = owner, place, where, out


def contacts_on_wall(
    edges: EdgePoints,
    poses: NDArray[np.float64],
    wall: Wall,
    members: Sequence[int],
    joined: dict[tuple[int, int], float],
    *,
    reach_mm: float,
) -> list[PoseEdge]:
    """Pair up edge points of sherds that lie against each other.

    Parameters
    ----------
    edges : of all sherds.
    poses : (n, 3) x_mm, y_mm, turn in radians.
    members : of the group that is settled.
    joined : weight of every join that holds, by (a, b), a < b.
    reach_mm : how far apart points may lie.

    Returns
    -------
    list of PoseEdge
        One a pair, point to line.
    """
    laid = edges.laid(poses, wall, members)
    first, second = _neighbours(laid, wall, reach_mm)
    if not len(first):
        return []
    low, high = laid.owner[first], laid.owner[second]
    order = np.lexsort((high, low))
    first, second, low, high = first[order], second[order], low[order], high[order]
    starts = np.flatnonzero(np.concatenate([[True], (np.diff(low) != 0) | (np.diff(high) != 0)]))
    out = []
    for start, end in zip(starts, [*starts[1:], len(first)], strict=True):
        a, b = int(low[start]), int(high[start])
        if end - start < LEAST_POINTS:
            continue
        one, two = first[start:end], second[start:end]
        weight = joined.get((a, b), STRANGER_WEIGHT)
        out.append(
            PoseEdge(
                a, b, edges.points[a][laid.place[one]], edges.points[b][laid.place[two]], weight, laid.out[one], WEAR_MM
            )
        )
    return out


def _neighbours(laid: _Laid, wall: Wall, reach_mm: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs of points, first of the sherd with the lower place: nearest of another sherd, facing, and each only once."""
    where, back = laid.where, np.arange(len(laid.where))
    girth = wall.girth_mm
    if girth is not None:
        rim = [back[laid.where[:, 0] % girth < 2 * reach_mm], back[laid.where[:, 0] % girth > girth - 2 * reach_mm]]
        base = np.stack([laid.where[:, 0] % girth, laid.where[:, 1]], axis=1)
        where = np.concatenate([base, base[rim[0]] + [girth, 0], base[rim[1]] - [girth, 0]])
        back = np.concatenate([back, *rim])
    tree = cKDTree(where)
    distance, near = tree.query(where[: len(laid.owner)], k=12, distance_upper_bound=reach_mm)
    rows = np.repeat(np.arange(len(laid.owner)), near.shape[1])
    other = np.where(np.isfinite(distance.ravel()), near.ravel(), 0)
    other = back[np.minimum(other, len(back) - 1)]
    facing = (laid.out[rows] * laid.out[other]).sum(axis=1) < FACING
    good = np.isfinite(distance.ravel()) & (laid.owner[rows] < laid.owner[other]) & facing
    rows, other = rows[good], other[good]
    # Neighbours come nearest first, so the first of each point and sherd is the one to keep.
    key = rows * (int(laid.owner.max()) + 1) + laid.owner[other]
    _, keep = np.unique(key, return_index=True)
    return rows[keep], other[keep]


def _even(outline: NDArray[np.float64]) -> NDArray[np.float64]:
    closed = np.concatenate([outline, outline[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.linspace(0.0, along[-1], max(round(along[-1] / STEP_MM), 8), endpoint=False)
    return np.stack([np.interp(at, along, closed[:, k]) for k in (0, 1)], axis=1)


def _outward(points: NDArray[np.float64]) -> NDArray[np.float64]:
    ahead = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    turning = (points[:, 0] * np.roll(points[:, 1], -1) - np.roll(points[:, 0], -1) * points[:, 1]).sum()
    normal = np.stack([ahead[:, 1], -ahead[:, 0]], axis=1) * np.sign(turning)
    return np.asarray(normal / np.maximum(np.hypot(*normal.T), 1e-9)[:, None])
