"""Laying one edge against the other: a robust point-to-line fit of many meetings at once.

From the middle of a meeting both edges are followed outwards, a's forwards and b's backwards. Every point of b is taken to the
place of a beside it; the gap there is measured along a's normal, and b is moved by weighted least squares so that the gap
becomes a small constant (wear) plus a parabola (two neighbours are seen flat from above, each on a plane of its own, so that edges that
met bend slightly apart). Where the gap stays away from that for longer than a chip is wide, the contact ends. (Point-to-line
minimisation: Chen & Medioni 1992, Image and Vision Computing 10, 145-155; start by Kabsch 1976, Acta Cryst. A32, 922.)
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from motifs.joins.contact import shared_courses, sideways
from motifs.joins.matching import among_best
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
FIRST_ROUNDS: Final = ((7.0, 1.0), (12.0, 1.0), (20.0, 0.9))
LAST_ROUNDS: Final = ((REACH_MM, 0.8), (REACH_MM, 0.7), (REACH_MM, 0.6), (REACH_MM, 0.6))
"""Of each round of fitting: how far to look (mm), and how far a gap may be off its course (mm)."""
KEPT_A_SHERD: Final = 36
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


def lay_together(
    paths: Sequence[EdgePath],
    seeds: Seeds,
    *,
    per_sherd: int = KEPT_A_SHERD,
    mates: Sequence[EdgePath] | None = None,
) -> tuple[Contacts, Seeds]:
    """Fit the seeds, first close around where they were found; the more promising ones along the whole contact.

    Parameters
    ----------
    paths, seeds : the edges and where they look alike.
    per_sherd : how many meetings of each sherd are followed along the whole contact.
    mates : edges on b's side where these are not the same ones; b of the contacts then counts on from the last of `paths`.

    Returns
    -------
    contacts, seeds
        Of the same length and order: `per_sherd` or more of each sherd where there are as many.
    """
    tray = _Tray.of(paths if mates is None else [*paths, *mates])
    placed = seeds if mates is None else replace(seeds, b=seeds.b + len(paths))
    lying = _rounds(tray, placed, _Lying.start(tray, placed), FIRST_ROUNDS)
    rows = among_best(seeds, _promise(tray, lying), len(paths), per_sherd)
    seeds = placed.taken(rows)
    lying = _rounds(tray, seeds, lying.taken(rows), LAST_ROUNDS)
    contacts = Contacts(
        seeds.a, seeds.b, lying.rotation, lying.shift, lying.at_a, lying.at_b, lying.touching, lying.gap, lying.stray
    )
    return contacts, seeds


@dataclass(frozen=True, slots=True)
class _Lying:
    """How every b lies so far, and what was last seen along the edges (see Contacts); course: (m, 2) wear and bend of the gap."""

    rotation: NDArray[np.complex128]
    shift: NDArray[np.complex128]
    course: NDArray[np.float64]
    row_a: NDArray[np.intp]
    at_a: NDArray[np.intp]
    at_b: NDArray[np.intp]
    touching: NDArray[np.bool_]
    gap: NDArray[np.float64]
    stray: NDArray[np.float64]

    @classmethod
    def start(cls, tray: _Tray, seeds: Seeds) -> _Lying:
        """Lay the middles of the windows together."""
        rotation, shift = _first_placement(tray, seeds)
        nothing = np.zeros((len(seeds), 0))
        index = nothing.astype(np.intp)
        course = np.zeros((len(seeds), 2))
        return cls(rotation, shift, course, tray.starts[seeds.a], index, index, nothing > 0, nothing, nothing)

    def taken(self, which: NDArray[np.intp]) -> _Lying:
        """Some of them."""
        return _Lying(*(getattr(self, name)[which] for name in _Lying.__slots__))


def _rounds(tray: _Tray, seeds: Seeds, lying: _Lying, rounds: Sequence[tuple[float, float]]) -> _Lying:
    """Fit again and again, looking as far as each round says."""
    for look_mm, tolerance in rounds:
        reach = round(look_mm / STEP_MM)
        lying = _one_round(tray, seeds, lying, np.arange(-reach, reach + 1), tolerance)
    return lying


def _one_round(tray: _Tray, seeds: Seeds, lying: _Lying, places: NDArray[np.intp], tolerance: float) -> _Lying:
    along_b, within = tray.followed(seeds, places)
    row_b = tray.starts[seeds.b][:, None] + along_b
    points_b = tray.points[row_b]
    rotation, shift = lying.rotation[:, None], lying.shift[:, None]
    at_a, gap, slip = _beside(tray, seeds, places, rotation * points_b + shift)
    bend = np.asarray((places * STEP_MM) ** 2, np.float64)
    stray = gap - lying.course[:, :1] - lying.course[:, 1:] * bend
    facing_a = tray.facing[lying.row_a[:, None] + at_a]
    facing = rotation * tray.facing[row_b] * facing_a.conj()
    good = within & (np.abs(stray) < tolerance) & (facing.real < -np.cos(TURN_RAD)) & (np.abs(slip) < SLIP_MM)
    touching = _unbroken(good, len(places) // 2)
    moved = _moved(facing_a, points_b, lying, gap, touching, stray, bend)
    return _Lying(*moved, lying.row_a, at_a, along_b, touching, gap, stray)


def _promise(tray: _Tray, lying: _Lying) -> NDArray[np.float64]:
    """(m,) natural-log likelihood ratio that the courses seen so far are shared."""
    weight = lying.touching.astype(np.float64)
    course = sideways(tray.points[lying.row_a[:, None] + lying.at_a], weight)
    return np.asarray(shared_courses(course, lying.stray * weight, weight)[0][:, :2].sum(axis=1))


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


def _first_placement(tray: _Tray, seeds: Seeds) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    reach = round(START_MM / STEP_MM)
    places = np.arange(-reach, reach + 1)
    at_a = (seeds.at_a[:, None] + places) % tray.sizes[seeds.a][:, None]
    own = tray.points[tray.starts[seeds.a][:, None] + at_a]
    other = tray.points[tray.starts[seeds.b][:, None] + tray.followed(seeds, places)[0]]
    middle, middle_b = own.mean(axis=1), other.mean(axis=1)
    turn = np.sum((own - middle[:, None]) * (other - middle_b[:, None]).conj(), axis=1)
    rotation = turn / np.maximum(np.abs(turn), 1e-12)
    return rotation, middle - rotation * middle_b


def _beside(
    tray: _Tray, seeds: Seeds, places: NDArray[np.intp], moved: NDArray[np.complex128]
) -> tuple[NDArray[np.intp], NDArray[np.float64], NDArray[np.float64]]:
    """Step along a to the place beside each point of b; return a's indices, gap and what slip is left (mm)."""
    starts, sizes = tray.starts[seeds.a][:, None], tray.sizes[seeds.a][:, None]
    index = seeds.at_a[:, None] + places
    slide = np.zeros(index.shape, np.intp)
    for again in (True, True, False):
        at = (index + slide) % sizes
        off = (moved - tray.points[starts + at]) * tray.facing[starts + at].conj()
        if again:
            slide = np.clip(slide + np.rint(np.clip(off.real / STEP_MM, -6, 6)).astype(np.intp), -16, 16)
    return at, -off.imag, off.real


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
    facing_a: NDArray[np.complex128],
    points_b: NDArray[np.complex128],
    lying: _Lying,
    gap: NDArray[np.float64],
    touching: NDArray[np.bool_],
    stray: NDArray[np.float64],
    bend: NDArray[np.float64],
) -> tuple[NDArray[np.complex128], NDArray[np.complex128], NDArray[np.float64]]:
    """One step of weighted least squares for shift, turn, gap and bend."""
    moved = lying.rotation[:, None] * points_b + lying.shift[:, None]
    weight = touching / (1 + (stray / ROBUST_MM) ** 2)
    total = np.maximum(weight.sum(axis=1), 1e-9)
    pivot = np.sum(weight * moved, axis=1) / total
    normal = -1j * facing_a
    lever = (1j * (moved - pivot[:, None]) * normal.conj()).real
    # gap + rows . (dx, dy, turn, wear, bend) -> 0, with what is usual of wear and bend as a prior
    rows = np.stack([normal.real, normal.imag, lever, -np.ones_like(gap), np.broadcast_to(-bend, gap.shape)], axis=1)
    weighted = rows * weight[:, None]
    matrix = weighted @ rows.transpose(0, 2, 1)
    right = -(weighted @ gap[..., None])[..., 0]
    prior = np.array([1e-3, 1e-3, 1e-1, (0.1 / GAP_MM[1]) ** 2, (0.1 / BEND_PER_MM) ** 2]) * 20.0
    matrix += np.diag(prior)
    right[:, 3] += prior[3] * GAP_MM[0]
    step = np.linalg.solve(matrix, right[..., None])[..., 0]
    turn = np.exp(1j * np.clip(step[:, 2], -0.2, 0.2))
    shift = turn * (lying.shift - pivot) + pivot + step[:, 0] + 1j * step[:, 1]
    return lying.rotation * turn, shift, step[:, 3:5]
