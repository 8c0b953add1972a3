"""The dry layout: every sherd of a vessel where its joins put it, in one developed plane.

Joins are taken best first and grow groups (Kruskal 1956, Proc. AMS 7, 48-50: a spanning tree of best fits); one that would lay sherds
on top of each other is refused. A join inside a group must then close its loop. All that hold are solved together
(`pose_graph`). With a profile, the largest group is laid on the wall itself, so that loops close around the pot too.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from motifs.joins.growth import LOOP_MM, Tie, grow, off_words, rotation
from motifs.joins.on_wall import rim_wish, walk
from motifs.joins.pieces import middle_mm
from motifs.joins.pose_graph import PoseEdge, PoseWish, edge_residuals_mm, solve_poses
from motifs.joins.settling import REACHES_MM, EdgePoints, contacts_on_wall
from motifs.joins.walls import FlatWall, RoundWall, Wall

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

POINT_STEP_MM: Final = 3.0
"""A contact is held by points this far apart."""
LEAST_FIT: Final = 0.25
"""Proposals below this are not used unless a person accepted them."""
SURE_WEIGHT: Final = 3.0
HOLDING: Final = 0.03
"""How much the proposals still count while edges settle against each other."""


@dataclass(frozen=True, slots=True)
class LayoutJoin:
    """A join offered to the layout. transform: (3, 3), b's outline into a's frame, mm; stretch_a_mm: contact along a's outline."""

    a: int
    b: int
    fit: float
    length_mm: float
    transform: NDArray[np.float64]
    stretch_a_mm: tuple[float, float]
    is_accepted: bool = False


@dataclass(frozen=True, slots=True)
class LayoutPiece:
    """A sherd offered to the layout.

    outline_mm: (N, 2) as photographed. up_deg: clockwise turn that brings its rim up, None unknown. is_rim: its edge holds a part of
    the rim. locked: x_mm, y_mm, turn_deg where a person laid it and locked it, or None.
    """

    outline_mm: NDArray[np.float64]
    up_deg: float | None = None
    is_rim: bool = False
    locked: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class UsedJoin:
    """What became of a join. residual_mm: how far its points lie apart in the layout. refused: why it was left out, or None."""

    join: LayoutJoin
    residual_mm: float
    refused: str | None = None


@dataclass(frozen=True, slots=True)
class Layout:
    """Where everything lies.

    poses: (n, 3) float64, x_mm and y_mm of the middle of each outline, turn in degrees clockwise, -180 to 180. group: (n,) number of the
    group of joined sherds, 0 the largest; every sherd without a join is a group of its own. residual_mm: (n,), root mean square of the
    residuals of its joins, NaN without any. is_upright: whether the rim of the largest group is known to be up. wall: what it lies on.
    """

    poses: NDArray[np.float64]
    group: NDArray[np.intp]
    residual_mm: NDArray[np.float64]
    joins: tuple[UsedJoin, ...]
    is_upright: bool
    wall: Wall
    notes: tuple[str, ...] = field(default=())

    def held(self) -> tuple[UsedJoin, ...]:
        """Joins that hold in the layout."""
        return tuple(used for used in self.joins if used.refused is None)


def lay_out(pieces: Sequence[LayoutPiece], joins: Sequence[LayoutJoin], *, wall: Wall | None = None) -> Layout:
    """Lay sherds out by their joins.

    Parameters
    ----------
    pieces : the sherds of one vessel; places in this sequence are what joins speak of.
    joins : accepted and proposed, in any order, at most one a pair.
    wall : of the vessel where its profile is known; flat if None. A profile is used only where a rim sherd joins in,
        since nothing else says how far down the wall the sherds lie.

    Returns
    -------
    Layout
        The largest group first and with its rim up where that is known; other groups lie by themselves, about the origin.
    """
    used = sorted((one for one in joins if one.is_accepted or one.fit >= LEAST_FIT), key=_standing)
    whole = [np.asarray(piece.outline_mm, np.float64) for piece in pieces]
    middles = np.array([middle_mm(outline) for outline in whole]).reshape(-1, 2)
    centred = [outline - middle for outline, middle in zip(whole, middles, strict=True)]
    edges = [_edge(pieces, middles, join) for join in used]
    ties = [Tie(edge, join.fit, join.is_accepted) for edge, join in zip(edges, used, strict=True)]
    poses, label, refused = grow(centred, ties)
    group = _by_size(label)
    bench = _Bench(pieces, centred, edges, EdgePoints(centred), group)
    poses = bench.solved(bench.carried_to_locks(poses), refused, FlatWall(), bench.locks())
    poses, is_upright = _upright(pieces, poses, group)
    laid: Wall = FlatWall()
    notes: tuple[str, ...] = ()
    if isinstance(wall, RoundWall):
        rims = bench.rims() if is_upright else {}
        if rims:
            poses, laid = bench.hung(poses, refused, wall, rims), wall
        else:
            notes = (
                "a profile is recorded, but no joined sherd is known to be rim with its rim up; laid out as if flat",
            )
    poses = bench.settled(poses, refused, laid)
    if laid is not wall and not any(piece.locked for piece in pieces):
        poses, is_upright = _upright(pieces, poses, group)
    return _result(bench, poses, used, refused, laid, is_upright, notes)


def _standing(join: LayoutJoin) -> tuple[bool, float, float, int, int]:
    """Accepted ones first, then by fit, long ones before short ones of the same fit."""
    return (not join.is_accepted, -round(join.fit, 2), -join.length_mm, join.a, join.b)


def _edge(pieces: Sequence[LayoutPiece], middles: NDArray[np.float64], join: LayoutJoin) -> PoseEdge:
    """Points along the contact from either sherd's middle; without a known contact, two about the middle between the two."""
    outline = np.asarray(pieces[join.a].outline_mm, np.float64)
    spots = _along(outline, join.stretch_a_mm)
    if len(spots) < 2:
        other = join.transform[:2, :2] @ middles[join.b] + join.transform[:2, 2]
        half = (other - middles[join.a]) / 2
        spots = middles[join.a] + half + np.array([[-half[1], half[0]], [half[1], -half[0]]]) / 2
    back = np.linalg.inv(join.transform)
    from_b = spots @ back[:2, :2].T + back[:2, 2]
    weight = SURE_WEIGHT if join.is_accepted else join.fit
    return PoseEdge(join.a, join.b, spots - middles[join.a], from_b - middles[join.b], weight)


def _along(outline: NDArray[np.float64], stretch_mm: tuple[float, float]) -> NDArray[np.float64]:
    closed = np.concatenate([outline, outline[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    length = stretch_mm[1] - stretch_mm[0]
    if length <= 0:
        return np.zeros((0, 2))
    at = np.linspace(stretch_mm[0], stretch_mm[1], max(int(length / POINT_STEP_MM), 1) + 1) % along[-1]
    return np.stack([np.interp(at, along, closed[:, k]) for k in (0, 1)], axis=1)


def _by_size(label: NDArray[np.intp]) -> NDArray[np.intp]:
    """Groups numbered by size, the largest 0; ties by their first sherd."""
    names, first, counts = np.unique(label, return_index=True, return_counts=True)
    order = np.lexsort((first, -counts))
    number = {int(names[k]): place for place, k in enumerate(order)}
    return np.array([number[int(one)] for one in label], np.intp)


@dataclass(frozen=True, slots=True)
class _Bench:
    """What the solving works on. outlines: about their middles; edges: of the joins; group: (n,) numbers, 0 the largest."""

    pieces: Sequence[LayoutPiece]
    outlines: Sequence[NDArray[np.float64]]
    edges: Sequence[PoseEdge]
    points: EdgePoints
    group: NDArray[np.intp]

    def locks(self) -> list[PoseWish]:
        """Wishes of sherds that a person locked."""
        return [
            PoseWish(place, (piece.locked[0], piece.locked[1], float(np.radians(piece.locked[2]))), (50.0, 50.0, 50.0))
            for place, piece in enumerate(self.pieces)
            if piece.locked is not None
        ]

    def carried_to_locks(self, poses: NDArray[np.float64]) -> NDArray[np.float64]:
        """Carry every group that holds a locked sherd, so that its first one lies where it was locked."""
        poses = poses.copy()
        done: set[int] = set()
        for wish in self.locks():
            number = int(self.group[wish.place])
            if number in done:
                continue
            done.add(number)
            inside, here = self.group == number, poses[wish.place].copy()
            by = wish.value[2] - here[2]
            poses[inside, :2] = (poses[inside, :2] - here[:2]) @ rotation(by).T + np.array(wish.value[:2])
            poses[inside, 2] += by
        return poses

    def rims(self) -> dict[int, PoseWish]:
        """Wishes of the rim sherds of the largest group, by place."""
        return {
            k: rim_wish(self.outlines[k], self.pieces[k].up_deg or 0.0, k)
            for k in np.flatnonzero(self.group == 0).tolist()
            if self.pieces[k].is_rim and self.pieces[k].up_deg is not None
        }

    def held(self, refused: Sequence[str | None], among: NDArray[np.bool_]) -> list[PoseEdge]:
        """Edges of joins that hold between some sherds."""
        return [edge for edge, why in zip(self.edges, refused, strict=True) if why is None and among[edge.a]]

    def solved(
        self,
        poses: NDArray[np.float64],
        refused: list[str | None],
        wall: Wall,
        wishes: Sequence[PoseWish],
        among: NDArray[np.bool_] | None = None,
    ) -> NDArray[np.float64]:
        """Solve, put aside what does not close, take in what closes now, and solve again; `refused` follows."""
        inside = np.ones(len(poses), np.bool_) if among is None else among
        poses = solve_poses(poses, self.held(refused, inside), wall, wishes=wishes)
        if self._judged(poses, refused, wall, inside):
            poses = solve_poses(poses, self.held(refused, inside), wall, wishes=wishes)
        return poses

    def _judged(
        self, poses: NDArray[np.float64], refused: list[str | None], wall: Wall, inside: NDArray[np.bool_]
    ) -> bool:
        """Put joins aside or take them in by how well they close; whether any changed."""
        is_changed = False
        apart = edge_residuals_mm(poses, self.edges, wall)
        for place, (edge, why, away) in enumerate(zip(self.edges, list(refused), apart, strict=True)):
            if not inside[edge.a] or self.group[edge.a] != self.group[edge.b]:
                continue
            if why is None and away > LOOP_MM:
                refused[place], is_changed = off_words(away), True
            elif why is not None and away <= LOOP_MM / 2:
                refused[place], is_changed = None, True
        return is_changed

    def hung(
        self, flat: NDArray[np.float64], refused: list[str | None], wall: RoundWall, rims: dict[int, PoseWish]
    ) -> NDArray[np.float64]:
        """Lay the largest group on the wall; the walk is made again once joins that do not close are known."""
        inside = self.group == 0
        wishes = list(rims.values())
        strength = {k: sum(len(e.points_a) for e in self.held(refused, inside) if k in (e.a, e.b)) for k in rims}
        first = max(strength, key=lambda k: (strength[k], -k))
        poses = flat
        for _ in range(2):
            poses = walk(flat, rims, self.held(refused, inside), first, wall)
            poses = self.solved(poses, refused, wall, wishes, inside)
        return np.where(inside[:, None], poses, flat)

    def settled(self, poses: NDArray[np.float64], refused: Sequence[str | None], laid: Wall) -> NDArray[np.float64]:
        """Fit edges to edges, group by group, each on its wall."""
        for number in range(int(self.group.max(initial=-1)) + 1):
            inside = self.group == number
            members = np.flatnonzero(inside).tolist()
            if len(members) < 2:
                continue
            wall = laid if number == 0 else FlatWall()
            wishes = [wish for wish in self.locks() if inside[wish.place]]
            if isinstance(wall, RoundWall):
                wishes = [*self.rims().values(), *wishes]
            held = self.held(refused, inside)
            joined = {(min(e.a, e.b), max(e.a, e.b)): e.weight for e in held}
            light = [replace(edge, weight=HOLDING * edge.weight) for edge in held]
            for reach in REACHES_MM:
                touching = contacts_on_wall(self.points, poses, wall, members, joined, reach_mm=reach)
                poses = solve_poses(poses, [*light, *touching], wall, wishes=wishes)
        return poses


def _upright(
    pieces: Sequence[LayoutPiece], poses: NDArray[np.float64], group: NDArray[np.intp]
) -> tuple[NDArray[np.float64], bool]:
    """Turn every group so that the rims of its sherds point up, where any is known; unless a person locked one."""
    poses, upright = poses.copy(), False
    for number in range(int(group.max(initial=-1)) + 1):
        members = np.flatnonzero(group == number).tolist()
        if any(pieces[k].locked is not None for k in members):
            upright |= number == 0
            continue
        known = [k for k in members if pieces[k].up_deg is not None]
        turns = [np.radians(pieces[k].up_deg or 0.0) - poses[k, 2] for k in known]
        if turns:
            by = float(np.angle(np.exp(1j * np.array(turns)).sum()))
            middle = poses[members, :2].mean(axis=0)
            poses[members, :2] = (poses[members, :2] - middle) @ rotation(by).T
            poses[members, 2] += by
            upright |= number == 0
    return poses, upright


def _result(
    bench: _Bench,
    poses: NDArray[np.float64],
    used: Sequence[LayoutJoin],
    refused: Sequence[str | None],
    wall: Wall,
    is_upright: bool,
    notes: tuple[str, ...],
) -> Layout:
    flat = FlatWall()
    walls = [wall if bench.group[edge.a] == 0 else flat for edge in bench.edges]
    apart = [float(edge_residuals_mm(poses, [edge], on)[0]) for edge, on in zip(bench.edges, walls, strict=True)]
    told = tuple(UsedJoin(join, away, why) for join, away, why in zip(used, apart, refused, strict=True))
    residual = np.full(len(poses), np.nan)
    for k in range(len(poses)):
        mine = [one.residual_mm for one in told if one.refused is None and k in (one.join.a, one.join.b)]
        if mine:
            residual[k] = float(np.sqrt(np.mean(np.square(mine))))
    out = poses.copy()
    out[:, 2] = (np.degrees(out[:, 2]) + 180.0) % 360.0 - 180.0
    return Layout(out, bench.group, residual, told, is_upright, wall, notes)
