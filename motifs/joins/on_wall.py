"""A group laid on the wall of a vessel of known profile: hung from its rims, so that loops close around the pot too."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from motifs.joins.growth import rigid, rotation
from motifs.joins.pose_graph import PoseEdge, PoseWish

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from motifs.joins.walls import RoundWall

RIM_SD_MM: Final = 0.5
"""How well the highest point of a rim sherd tells where the rim is."""
RIM_TURN_WEIGHT: Final = 0.3


def rim_wish(outline: NDArray[np.float64], up_deg: float, place: int) -> PoseWish:
    """Hang a rim sherd from the rim, its rim up and its highest part at y = 0; where around is free.

    Parameters
    ----------
    outline : (N, 2) mm about its middle.
    up_deg : clockwise turn that brings the rim up.
    """
    turn = float(np.radians(up_deg))
    top = float(np.percentile((outline @ rotation(turn).T)[:, 1], 1))
    return PoseWish(place, (0.0, -top, turn), (1e-4, 1.0 / RIM_SD_MM, RIM_TURN_WEIGHT))


def walk(
    poses: NDArray[np.float64], wishes: Mapping[int, PoseWish], held: Sequence[PoseEdge], first: int, wall: RoundWall
) -> NDArray[np.float64]:
    """Start poses on the wall, from one rim sherd on, over the strongest joins first; rims hang where they are known to.

    Parameters
    ----------
    poses : (n, 3) of everything; sherds that are not reached keep theirs.
    wishes : of rim sherds, by place.
    held : joins that hold.
    """
    laid = poses.copy()
    laid[first] = wishes[first].value
    done = {first}
    waiting = sorted(held, key=lambda edge: (-edge.weight * len(edge.points_a), edge.a, edge.b))
    while True:
        edge = next((one for one in waiting if (one.a in done) != (one.b in done)), None)
        if edge is None:
            return laid
        here, other = (edge.a, edge.b) if edge.a in done else (edge.b, edge.a)
        laid[other] = _stepped(laid[here], edge, here, wall)
        if other in wishes:
            turn = wishes[other].value[2]
            laid[other, 1] = wishes[other].value[1]
            laid[other, 2] = turn + 2 * np.pi * np.round((laid[other, 2] - turn) / (2 * np.pi))
        done.add(other)


def _stepped(pose: NDArray[np.float64], edge: PoseEdge, here: int, wall: RoundWall) -> NDArray[np.float64]:
    mine, theirs = (edge.points_a, edge.points_b) if edge.a == here else (edge.points_b, edge.points_a)
    turn, shift = rigid(theirs, mine)
    place = wall.develop(shift[None], pose[None])[0]
    return np.array([place[0], np.clip(place[1], 0.0, wall.height_mm), pose[2] + turn])
