"""Groups of sherds as they grow, best join first, until no join connects two of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from motifs.joins.covering import Ground
from motifs.joins.pose_graph import PoseEdge, edge_residuals_mm
from motifs.joins.walls import FlatWall

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

LOOP_MM: Final = 3.0
"""A join that closes a loop worse than this is put aside; while groups grow, twice this, since nothing is solved yet."""
SURE_FIT: Final = 0.75
"""A join of two groups below this needs a second one that lays them the same way."""


@dataclass(frozen=True, slots=True)
class Tie:
    """A join as the growing sees it. edge: its points; fit: 0..1; is_accepted: a person said yes."""

    edge: PoseEdge
    fit: float
    is_accepted: bool


def grow(
    outlines: Sequence[NDArray[np.float64]], ties: Sequence[Tie]
) -> tuple[NDArray[np.float64], NDArray[np.intp], list[str | None]]:
    """Join sherds into groups, in the order of the ties.

    Parameters
    ----------
    outlines : (N, 2) each, about their middles, mm.
    ties : the surest first.

    Returns
    -------
    poses : (n, 3) x_mm, y_mm, turn in radians, each group in the frame of one of its sherds.
    group : (n,) labels.
    refused : of each tie the reason why it is not used, None where it is.
    """
    growth = _Growth(np.zeros((len(outlines), 3)), np.arange(len(outlines)), Ground(outlines))
    refused: list[str | None] = [None] * len(ties)
    for place, tie in enumerate(ties):
        refused[place] = growth.take(tie, ties[place + 1 :])
    for place, tie in enumerate(ties):
        if refused[place] is not None and growth.is_one_group(tie.edge):
            refused[place] = growth.loop_trouble(tie.edge)
    return growth.poses, growth.group, refused


@dataclass(slots=True)
class _Growth:
    """poses: (n, 3), turn in radians, each group in the frame of its first sherd. group: (n,) labels."""

    poses: NDArray[np.float64]
    group: NDArray[np.intp]
    ground: Ground

    def is_one_group(self, edge: PoseEdge) -> bool:
        """Whether both sherds of a join hang together already."""
        return bool(self.group[edge.a] == self.group[edge.b])

    def loop_trouble(self, edge: PoseEdge) -> str | None:
        """Say how far a loop stays open, if too far."""
        away = float(edge_residuals_mm(self.poses, [edge], FlatWall())[0])
        return off_words(away) if away > 2 * LOOP_MM else None

    def take(self, tie: Tie, later: Sequence[Tie]) -> str | None:
        """Join two groups, or test a loop; the reason where the join is refused."""
        edge = tie.edge
        if self.is_one_group(edge):
            return self.loop_trouble(edge)
        moved = self._carried(edge)
        if not tie.is_accepted:
            if tie.fit < SURE_FIT and not self._seconded(edge, moved, later):
                return f"fit {tie.fit:.2f}, and no second join lays the two the same way"
            mine = np.flatnonzero(self.group == self.group[edge.a])
            theirs = np.flatnonzero(self.group == self.group[edge.b])
            if self.ground.covered(self.poses, mine, moved, theirs) is not None:
                return "would lay sherds on top of each other"
        theirs = np.flatnonzero(self.group == self.group[edge.b])
        self.poses[theirs] = moved[theirs]
        self.group[theirs] = self.group[edge.a]
        return None

    def _seconded(self, edge: PoseEdge, moved: NDArray[np.float64], later: Sequence[Tie]) -> bool:
        """Whether another join of the same two groups agrees with where this one lays them."""
        both = {int(self.group[edge.a]), int(self.group[edge.b])}
        same = [
            one.edge
            for one in later
            if {int(self.group[one.edge.a]), int(self.group[one.edge.b])} == both and len(both) == 2
        ]
        laid = np.where((self.group == self.group[edge.b])[:, None], moved, self.poses)
        return any(float(edge_residuals_mm(laid, [one], FlatWall())[0]) <= 2 * LOOP_MM for one in same)

    def _carried(self, edge: PoseEdge) -> NDArray[np.float64]:
        """Poses with b's whole group carried so that b lies against a."""
        moved = self.poses.copy()
        turn, shift = rigid(edge.points_b, edge.points_a)
        a, b = self.poses[edge.a], self.poses[edge.b]
        want_turn = a[2] + turn
        want = a[:2] + rotation(a[2]) @ shift
        by = want_turn - b[2]
        theirs = self.group == self.group[edge.b]
        moved[theirs, :2] = (self.poses[theirs, :2] - b[:2]) @ rotation(by).T + want
        moved[theirs, 2] += by
        return moved


def rigid(points: NDArray[np.float64], onto: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
    """Turn (radians) and shift that carry points onto others (least squares)."""
    p, q = points - points.mean(axis=0), onto - onto.mean(axis=0)
    turn = float(np.arctan2((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum(), (p * q).sum()))
    return turn, onto.mean(axis=0) - rotation(turn) @ points.mean(axis=0)


def rotation(turn: float) -> NDArray[np.float64]:
    """(2, 2) matrix of a turn (radians, clockwise as seen with y down)."""
    c, s = np.cos(turn), np.sin(turn)
    return np.array([[c, -s], [s, c]])


def off_words(away_mm: float) -> str:
    """Why a join is put aside whose loop stays open."""
    return f"lies {away_mm:.0f} mm from where other joins put it"
