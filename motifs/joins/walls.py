"""Walls of vessels laid out in one plane: flat, or unrolled from a surface of revolution whose profile is known.

A sherd is photographed from above, so its outline is its shadow on the plane that touches the wall at its middle. `develop`
carries points of that plane onto the developed wall: x along the girth, y down the profile, both in mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

ROUNDS: Final = 6
"""Newton steps of the unrolling; it is quadratic, and sherds are small beside their vessel."""
STEEPEST: Final = 0.97
"""Sine of the widest angle (76 degrees) at which a point is still seen from above."""
PROFILE_STEP_MM: Final = 1.0


@dataclass(frozen=True, slots=True)
class FlatWall:
    """A wall taken as flat: what is laid together stays as it lies."""

    girth_mm: float | None = None

    def develop(self, points: NDArray[np.float64], poses: NDArray[np.float64]) -> NDArray[np.float64]:
        """Carry points of sherds' own planes into the layout.

        Parameters
        ----------
        points : (m, 2) float64, mm, from the middle of the sherd.
        poses : (m, 3) float64, x_mm, y_mm and turn (radians, clockwise as seen with y down) of each point's sherd.

        Returns
        -------
        ndarray
            (m, 2) float64, mm.
        """
        return poses[:, :2] + _turned(points, poses[:, 2])

    def apart(self, first: NDArray[np.float64], second: NDArray[np.float64]) -> NDArray[np.float64]:
        """(m, 2) mm from the second points to the first."""
        return first - second


@dataclass(frozen=True, slots=True)
class RoundWall:
    """A wall of revolution. down_mm: (s,) arc length from the rim, rising evenly; radius_mm, drop_mm: (s,) there.

    x of the layout is girth at the widest place: angle times the greatest radius.
    """

    down_mm: NDArray[np.float64]
    radius_mm: NDArray[np.float64]
    drop_mm: NDArray[np.float64]

    @property
    def widest_mm(self) -> float:
        """Greatest radius."""
        return float(self.radius_mm.max())

    @property
    def girth_mm(self) -> float:
        """Girth at the widest place."""
        return 2 * np.pi * self.widest_mm

    @property
    def height_mm(self) -> float:
        """Arc length from rim to foot."""
        return float(self.down_mm[-1])

    @property
    def area_mm2(self) -> float:
        """Outside of the wall, without the base (Pappus: girth of the middle line times arc length, piece by piece)."""
        return float(np.trapezoid(2 * np.pi * self.radius_mm, self.down_mm))

    def develop(self, points: NDArray[np.float64], poses: NDArray[np.float64]) -> NDArray[np.float64]:
        """As FlatWall.develop, by Newton's method on angle and arc length; beyond rim and foot the wall goes on straight."""
        seen = _turned(points, poses[:, 2])
        centre = np.clip(poses[:, 1], 0.0, self.height_mm)
        r0, z0, dr0, dz0 = self._at(centre)
        down = centre + seen[:, 1]
        angle = np.arcsin(np.clip(seen[:, 0] / r0, -STEEPEST, STEEPEST))
        for _ in range(ROUNDS):
            radius, drop, d_radius, d_drop = self._at(down)
            sine, cosine = np.sin(angle), np.cos(angle)
            off_u = radius * sine - seen[:, 0]
            off_v = (radius * cosine - r0) * dr0 + (drop - z0) * dz0 - seen[:, 1]
            u_angle, u_down = radius * cosine, d_radius * sine
            v_angle, v_down = -radius * sine * dr0, d_radius * cosine * dr0 + d_drop * dz0
            size = u_angle * v_down - u_down * v_angle
            size = np.where(np.abs(size) < 0.05 * radius, 0.05 * radius, size)
            angle = np.clip(angle - (v_down * off_u - u_down * off_v) / size, -1.4, 1.4)
            down = down - np.clip((u_angle * off_v - v_angle * off_u) / size, -10.0, 10.0)
        return np.stack([poses[:, 0] + angle * self.widest_mm, down + (poses[:, 1] - centre)], axis=1)

    def seen(self, places: NDArray[np.float64], pose: NDArray[np.float64]) -> NDArray[np.float64]:
        """Carry places of the layout back into one sherd's own plane: what `develop` turns round.

        Parameters
        ----------
        places : (m, 2) float64, mm of the layout.
        pose : (3,) x_mm, y_mm, turn in radians.

        Returns
        -------
        ndarray
            (m, 2) float64, mm from the middle of the sherd; NaN on the far side of the vessel.
        """
        around = places[:, 0] - pose[0]
        angle = (around - self.girth_mm * np.round(around / self.girth_mm)) / self.widest_mm
        r0, z0, dr0, dz0 = self._at(np.array([pose[1]]))
        radius, drop, _, _ = self._at(places[:, 1])
        plane = np.stack([radius * np.sin(angle), (radius * np.cos(angle) - r0) * dr0 + (drop - z0) * dz0], axis=1)
        plane[np.abs(angle) > np.pi / 2] = np.nan
        return _turned(plane, np.full(len(plane), -pose[2]))

    def apart(self, first: NDArray[np.float64], second: NDArray[np.float64]) -> NDArray[np.float64]:
        """(m, 2) mm on the wall from the second points to the first, the shorter way round."""
        off = first - second
        off[:, 0] -= self.girth_mm * np.round(off[:, 0] / self.girth_mm)
        radius = np.interp((first[:, 1] + second[:, 1]) / 2, self.down_mm, self.radius_mm)
        off[:, 0] *= radius / self.widest_mm
        return off

    def _at(self, down: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        """Radius, drop and their slopes; beyond either end in a straight line."""
        inside = np.clip(down, 0.0, self.height_mm)
        d_radius = np.interp(inside, self.down_mm, np.gradient(self.radius_mm, self.down_mm))
        d_drop = np.interp(inside, self.down_mm, np.gradient(self.drop_mm, self.down_mm))
        over = down - inside
        radius = np.interp(inside, self.down_mm, self.radius_mm) + over * d_radius
        return np.maximum(radius, 1.0), np.interp(inside, self.down_mm, self.drop_mm) + over * d_drop, d_radius, d_drop


Wall = FlatWall | RoundWall


def wall_of_profile(profile_mm: Sequence[tuple[float, float]]) -> RoundWall:
    """Wall from points of the outer profile, rim first.

    Parameters
    ----------
    profile_mm : (drop below the rim, radius) of each point, mm; two points make a cylinder or a cone.

    Raises
    ------
    ValueError
        Fewer than two points, a radius not above 0, or points that coincide or are not finite.
    """
    points = np.asarray(profile_mm, np.float64).reshape(-1, 2)
    legs = np.hypot(*np.diff(points, axis=0).T) if len(points) > 1 else np.zeros(0)
    if len(points) < 2 or not np.isfinite(points).all() or (points[:, 1] <= 0).any() or (legs <= 0).any():
        raise ValueError("a profile is two or more points apart from each other, each with a radius above 0")
    along = np.concatenate([[0.0], np.cumsum(legs)])
    down = np.linspace(0.0, along[-1], max(round(along[-1] / PROFILE_STEP_MM), 2) + 1)
    return RoundWall(down, np.interp(down, along, points[:, 1]), np.interp(down, along, points[:, 0]))


def _turned(points: NDArray[np.float64], turn: NDArray[np.float64]) -> NDArray[np.float64]:
    c, s = np.cos(turn), np.sin(turn)
    return np.stack([c * points[:, 0] - s * points[:, 1], s * points[:, 0] + c * points[:, 1]], axis=1)
