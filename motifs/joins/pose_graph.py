"""Where every sherd lies, so that all joins hold together as well as they can: least squares over poses.

A join ties points along the break of one sherd to points of the other. The poses that leave them nearest to each other, with a
loss that lets a wrong join pull only so far, are found by scipy's trust-region least squares with a sparse Jacobian (pose-graph
optimisation: Lu & Milios 1997, Autonomous Robots 4, 333-349; soft L1 loss: Triggs et al. 2000, LNCS 1883, 298-372; both cited
from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import least_squares
from scipy.sparse import coo_matrix

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from scipy.sparse import csr_matrix

    from motifs.joins.walls import Wall

LOSS_MM: Final = 0.8
"""Beyond this a residual pulls no harder."""
STEP: Final = (1e-4, 1e-4, 1e-6)
HOLD: Final = 1e3
SLIDE: Final = 0.15
"""How much sliding along a break counts where its line is known."""
TURN_WEIGHT_MM: Final = 20.0
"""A radian of a wished direction counts as much as this many mm."""
MOST_STEPS: Final = 200


@dataclass(frozen=True, slots=True)
class PoseEdge:
    """One join between places a and b of the poses.

    points_a, points_b: (k, 2) mm, the same spots from either sherd's middle. normals: (k, 2) unit, across the break at each spot from a
    to b, as it lies in the layout: then only the distance across is drawn to gap_mm, and sliding along hardly counts; or None.
    """

    a: int
    b: int
    points_a: NDArray[np.float64]
    points_b: NDArray[np.float64]
    weight: float
    normals: NDArray[np.float64] | None = None
    gap_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class PoseWish:
    """What else is known of a pose: values (3,) x_mm, y_mm, turn, and how much each counts (3,), 0 for not at all."""

    place: int
    value: tuple[float, float, float]
    weight: tuple[float, float, float]


def solve_poses(
    start: NDArray[np.float64], edges: Sequence[PoseEdge], wall: Wall, *, wishes: Sequence[PoseWish] = ()
) -> NDArray[np.float64]:
    """Find the poses; without a wish that holds it, the first one stays where it starts.

    Parameters
    ----------
    start : (n, 3) float64, x_mm, y_mm, turn in radians; near the answer.
    edges : joins; a sherd in none of them, nor in a wish, keeps its start.

    Returns
    -------
    ndarray
        (n, 3) float64.
    """
    if len(start) == 0 or not edges:
        return start.copy()
    problem = _Problem.of(start, edges, wall, wishes)
    found = least_squares(
        problem.residuals,
        start.ravel(),
        jac=problem.jacobian,
        loss="soft_l1",
        f_scale=LOSS_MM,
        method="trf",
        tr_solver="lsmr",
        x_scale=np.tile([1.0, 1.0, 0.03], len(start)),
        max_nfev=MOST_STEPS,
        xtol=1e-7,
        ftol=1e-7,
    )
    return np.asarray(found.x.reshape(-1, 3), np.float64)


def edge_residuals_mm(poses: NDArray[np.float64], edges: Sequence[PoseEdge], wall: Wall) -> NDArray[np.float64]:
    """(e,) root mean square distance of each join's points, mm."""
    out = []
    for edge in edges:
        off = wall.apart(*_both_ends(poses, edge, wall))
        out.append(float(np.sqrt((off**2).sum(axis=1).mean())))
    return np.array(out)


def _both_ends(
    poses: NDArray[np.float64], edge: PoseEdge, wall: Wall
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    count = len(edge.points_a)
    first = wall.develop(edge.points_a, np.repeat(poses[edge.a][None], count, axis=0))
    return first, wall.develop(edge.points_b, np.repeat(poses[edge.b][None], count, axis=0))


@dataclass(frozen=True, slots=True)
class _Problem:
    """All points in one go. owner_a, owner_b: (m,) place of the sherd of each point; weight: (m,)."""

    wall: Wall
    owner_a: NDArray[np.intp]
    owner_b: NDArray[np.intp]
    points_a: NDArray[np.float64]
    points_b: NDArray[np.float64]
    weight: NDArray[np.float64]
    across: NDArray[np.float64]
    wanted: NDArray[np.float64]
    wish_at: NDArray[np.intp]
    wish_value: NDArray[np.float64]
    wish_weight: NDArray[np.float64]

    @classmethod
    def of(
        cls, start: NDArray[np.float64], edges: Sequence[PoseEdge], wall: Wall, wishes: Sequence[PoseWish]
    ) -> _Problem:
        counts = [len(edge.points_a) for edge in edges]
        scale = np.array([1.0, 1.0, TURN_WEIGHT_MM])
        held = [PoseWish(edges[0].a, _triple(start[edges[0].a]), (HOLD, HOLD, HOLD))] if not wishes else list(wishes)
        return cls(
            wall,
            np.repeat([edge.a for edge in edges], counts).astype(np.intp),
            np.repeat([edge.b for edge in edges], counts).astype(np.intp),
            np.concatenate([edge.points_a for edge in edges]),
            np.concatenate([edge.points_b for edge in edges]),
            np.repeat(np.sqrt([edge.weight for edge in edges]), counts),
            np.concatenate([_frames(edge) for edge in edges]),
            np.concatenate([np.tile([-edge.gap_mm, 0.0], (len(edge.points_a), 1)) for edge in edges]),
            np.concatenate([3 * wish.place + np.arange(3) for wish in held]).astype(np.intp),
            np.concatenate([wish.value for wish in held]).astype(np.float64),
            np.concatenate([np.asarray(wish.weight) * scale for wish in held]).astype(np.float64),
        )

    def residuals(self, flat: NDArray[np.float64]) -> NDArray[np.float64]:
        poses = flat.reshape(-1, 3)
        first = self.wall.develop(self.points_a, poses[self.owner_a])
        second = self.wall.develop(self.points_b, poses[self.owner_b])
        off = self._seen(self.wall.apart(first, second)) - self.wanted * self.weight[:, None]
        return np.concatenate([off.ravel(), (flat[self.wish_at] - self.wish_value) * self.wish_weight])

    def _seen(self, off: NDArray[np.float64]) -> NDArray[np.float64]:
        """Distances across and along each break, weighted."""
        return np.asarray(np.einsum("mij,mj->mi", self.across, off) * self.weight[:, None], np.float64)

    def jacobian(self, flat: NDArray[np.float64]) -> csr_matrix:
        """Every residual hangs on two poses only: their columns by differences, all sherds moved at once."""
        poses = flat.reshape(-1, 3)
        first = self.wall.develop(self.points_a, poses[self.owner_a])
        second = self.wall.develop(self.points_b, poses[self.owner_b])
        base = self.wall.apart(first, second)
        rows = np.arange(2 * len(base))
        entries, at_rows, at_columns = [], [], []
        for k, step in enumerate(STEP):
            moved = poses.copy()
            moved[:, k] += step
            one = self.wall.apart(self.wall.develop(self.points_a, moved[self.owner_a]), second)
            two = self.wall.apart(first, self.wall.develop(self.points_b, moved[self.owner_b]))
            for other, owner in ((one, self.owner_a), (two, self.owner_b)):
                entries.append(self._seen((other - base) / step).ravel())
                at_rows.append(rows)
                at_columns.append(np.repeat(3 * owner + k, 2))
        entries.append(self.wish_weight)
        at_rows.append(len(rows) + np.arange(len(self.wish_at)))
        at_columns.append(self.wish_at)
        shape = (len(rows) + len(self.wish_at), len(flat))
        places = (np.concatenate(at_rows), np.concatenate(at_columns))
        return coo_matrix((np.concatenate(entries), places), shape=shape).tocsr()


def _frames(edge: PoseEdge) -> NDArray[np.float64]:
    """(k, 2, 2) rows: what counts of a distance, across the break and along it."""
    if edge.normals is None:
        return np.tile(np.eye(2), (len(edge.points_a), 1, 1))
    along = np.stack([-edge.normals[:, 1], edge.normals[:, 0]], axis=1)
    return np.stack([edge.normals, SLIDE * along], axis=1)


def _triple(values: NDArray[np.float64]) -> tuple[float, float, float]:
    return (float(values[0]), float(values[1]), float(values[2]))
