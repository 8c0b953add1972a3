"""Laying one edge against the other: a robust point-to-line fit of many meetings at once.

From the middle of a meeting both edges are followed outwards, a's forwards and b's backwards. Every point of b is taken to the
place of a beside it; the gap there is measured along a's normal, and b is moved by weighted least squares so that the gap
becomes a small constant (wear) plus a parabola (two neighbours are seen flat from above, each on a plane of its own, so that edges that
met bend slightly apart). Where the gap stays away from that for longer than a chip is wide, the contact ends. (Point-to-line
minimisation: Chen & Medioni 1992, Image and Vision Computing 10, 145-155; start by Kabsch 1976, Acta Cryst. A32, 922.)
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from motifs.joins.paths import STEP_MM, joined_up

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.joins.matching import Seeds
    from motifs.joins.paths import EdgePath

REACH_MM: Final = 45.0
"""How far a contact is followed to either side of where it was found."""
START_MM: Final = 7.0
"""The first placement uses this much to either side."""
CHIP_MM: Final = 3.5
"""A gap along the contact longer than this ends it."""
ROUNDS: Final = ((7.0, 1.0), (12.0, 1.0), (20.0, 0.9), (45.0, 0.8), (45.0, 0.7), (45.0, 0.6), (45.0, 0.6))
"""Of each round of fitting: how far to look (mm), and how far a gap may be off its course (mm)."""
TURN_RAD: Final = 0.9
GAP_MM: Final = (0.2, 0.35)
"""Usual gap that wear opens, and its spread."""
BEND_PER_MM: Final = 0.0012
"""Spread of the parabola's coefficient: half a millimetre at 20 mm."""
SLIP_MM: Final = 1.5
ROBUST_MM: Final = 0.2


@dataclass(frozen=True, slots=True)
class Contacts:
    """Edges laid together; m meetings, each followed over 2 r + 1 places.

    a, b: (m,) sherds. rotation: (m,) complex of unit length, and shift: (m,) complex, mm: b's points go to rotation * z + shift.
    at_a, at_b: (m, 2r+1) indices into the paths of a and b. touching: (m, 2r+1) bool. gap_mm: (m, 2r+1), > 0 apart.
    stray_mm: (m, 2r+1), gap less its smooth course.
    """

    a: NDArray[np.intp]
    b: NDArray[np.intp]
    rotation: NDArray[np.complex128]
    shift: NDArray[np.complex128]
    at_a: NDArray[np.intp]
    at_b: NDArray[np.intp]
    touching: NDArray[np.bool_]
    gap_mm: NDArray[np.float64]
    stray_mm: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.a)

    @property
    def length_mm(self) -> NDArray[np.float64]:
        """(m,) length of the contact."""
        return np.asarray(self.touching.sum(axis=1) * STEP_MM, np.float64)

    def taken(self, which: NDArray[np.intp] | NDArray[np.bool_]) -> Contacts:
        """Some of the meetings."""
        return Contacts(*(getattr(self, name)[which] for name in Contacts.__slots__))


def lay_together(paths: Sequence[EdgePath], seeds: Seeds) -> Contacts:
    """Fit every seed; contacts come in the order of the seeds."""
    tray = _Tray.of(paths)
    reach = round(REACH_MM / STEP_MM)
    places = np.arange(-reach, reach + 1)
    along_b, within = tray.followed(seeds, places)
    points_b = tray.points[tray.starts[seeds.b][:, None] + along_b]
    facing_b = tray.facing[tray.starts[seeds.b][:, None] + along_b]
    rotation, shift = _first_placement(tray, seeds, points_b, places)
    slide = np.zeros(along_b.shape, np.intp)
    course = np.zeros((len(seeds), 2))
    for look_mm, tolerance in ROUNDS:
        near = within & (np.abs(places) * STEP_MM <= look_mm)
        side = _beside(tray, seeds, places, slide, rotation[:, None] * points_b + shift[:, None])
        slide, at_a, gap, slip = side
        bend = np.asarray((places * STEP_MM) ** 2, np.float64)
        stray = gap - course[:, :1] - course[:, 1:] * bend
        facing = rotation[:, None] * facing_b * tray.facing[tray.starts[seeds.a][:, None] + at_a].conj()
        good = near & (np.abs(stray) < tolerance) & (np.abs(np.angle(-facing)) < TURN_RAD) & (np.abs(slip) < SLIP_MM)
        touching = _unbroken(good, reach)
        rotation, shift, course = _moved(
            tray, seeds, at_a, points_b, rotation, shift, gap, touching, stray, course, bend
        )
    return Contacts(seeds.a, seeds.b, rotation, shift, at_a, along_b, touching, gap, stray)


@dataclass(frozen=True, slots=True)
class _Tray:
    """All paths in one row: points, unit directions, where each starts and how many points it has."""

    points: NDArray[np.complex128]
    facing: NDArray[np.complex128]
    starts: NDArray[np.intp]
    sizes: NDArray[np.intp]

    @classmethod
    def of(cls, paths: Sequence[EdgePath]) -> _Tray:
        points, starts, sizes = joined_up(paths)
        facing = np.exp(1j * np.concatenate([path.direction for path in paths])) if paths else points
        return cls(points, facing, starts, sizes)

    def followed(self, seeds: Seeds, places: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
        """Indices along b's path backwards from the seed; and which places go less than once round either sherd."""
        sizes = self.sizes[seeds.b][:, None]
        once = np.minimum(self.sizes[seeds.a], self.sizes[seeds.b])[:, None]
        return (seeds.at_b[:, None] - places) % sizes, np.abs(places) < 0.48 * once


def _first_placement(
    tray: _Tray, seeds: Seeds, points_b: NDArray[np.complex128], places: NDArray[np.intp]
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    near = np.flatnonzero(np.abs(places) * STEP_MM <= START_MM)
    sizes = tray.sizes[seeds.a][:, None]
    own = tray.points[tray.starts[seeds.a][:, None] + (seeds.at_a[:, None] + places[near]) % sizes]
    other = points_b[:, near]
    middle, middle_b = own.mean(axis=1), other.mean(axis=1)
    turn = np.sum((own - middle[:, None]) * (other - middle_b[:, None]).conj(), axis=1)
    rotation = turn / np.maximum(np.abs(turn), 1e-12)
    return rotation, middle - rotation * middle_b


def _beside(
    tray: _Tray, seeds: Seeds, places: NDArray[np.intp], slide: NDArray[np.intp], moved: NDArray[np.complex128]
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.float64], NDArray[np.float64]]:
    """Step along a to the place beside each point of b; return slide, a's indices, gap and what slip is left (mm)."""
    starts, sizes = tray.starts[seeds.a][:, None], tray.sizes[seeds.a][:, None]
    for _ in range(2):
        at = (seeds.at_a[:, None] + places + slide) % sizes
        off = (moved - tray.points[starts + at]) * tray.facing[starts + at].conj()
        slide = slide + np.clip(np.rint(off.real / STEP_MM), -3, 3).astype(np.intp)
        slide = np.clip(slide, -16, 16)
    at = (seeds.at_a[:, None] + places + slide) % sizes
    off = (moved - tray.points[starts + at]) * tray.facing[starts + at].conj()
    return slide, at, -off.imag, off.real


def _unbroken(good: NDArray[np.bool_], middle: int) -> NDArray[np.bool_]:
    """The good places that are reached from the middle without crossing a gap longer than a chip."""
    allowed = round(CHIP_MM / STEP_MM)
    out = np.zeros_like(good)
    out[:, middle:] = _reached(good[:, middle:], allowed)
    out[:, middle::-1] = _reached(good[:, middle::-1], allowed)
    return out & good


def _reached(good: NDArray[np.bool_], allowed: int) -> NDArray[np.bool_]:
    missing = np.cumsum(~good, axis=1)
    at_last_good = np.maximum.accumulate(np.where(good, missing, 0), axis=1)
    return np.logical_and.accumulate(missing - at_last_good <= allowed, axis=1)


def _moved(
    tray: _Tray,
    seeds: Seeds,
    at_a: NDArray[np.intp],
    points_b: NDArray[np.complex128],
    rotation: NDArray[np.complex128],
    shift: NDArray[np.complex128],
    gap: NDArray[np.float64],
    touching: NDArray[np.bool_],
    stray: NDArray[np.float64],
    course: NDArray[np.float64],
    bend: NDArray[np.float64],
) -> tuple[NDArray[np.complex128], NDArray[np.complex128], NDArray[np.float64]]:
    """One step of weighted least squares for shift, turn, gap and bend."""
    moved = rotation[:, None] * points_b + shift[:, None]
    weight = touching / (1 + (stray / ROBUST_MM) ** 2)
    total = np.maximum(weight.sum(axis=1), 1e-9)
    pivot = np.sum(weight * moved, axis=1) / total
    normal = -1j * tray.facing[tray.starts[seeds.a][:, None] + at_a]
    lever = (1j * (moved - pivot[:, None]) * normal.conj()).real
    rows = np.stack([normal.real, normal.imag, lever, -np.ones_like(gap), np.broadcast_to(-bend, gap.shape)], axis=2)
    # gap + rows . (dx, dy, turn, wear, bend) -> 0, with what is usual of wear and bend as a prior
    weighted = rows * weight[..., None]
    matrix = np.einsum("mki,mkj->mij", weighted, rows)
    right = -np.einsum("mki,mk->mi", weighted, gap)
    prior = np.array([1e-3, 1e-3, 1e-1, (0.1 / GAP_MM[1]) ** 2, (0.1 / BEND_PER_MM) ** 2]) * 20.0
    matrix += np.diag(prior)
    right[:, 3] += prior[3] * GAP_MM[0]
    step = np.linalg.solve(matrix, right[..., None])[..., 0]
    turn = np.exp(1j * np.clip(step[:, 2], -0.2, 0.2))
    shift = turn * (shift - pivot) + pivot + step[:, 0] + 1j * step[:, 1]
    return rotation * turn, shift, step[:, 3:5]
