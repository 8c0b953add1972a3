"""Which outline on a photograph of turned-over sherds is whose: outlines matched after mirroring, whichever way they lie.

Turned over, a sherd shows its outline mirrored. Every pair is compared first as closed curves: both are sampled evenly along
their length as complex numbers, and the best turn and starting point together follow from one circular correlation by
Fourier transform (Procrustes distance of closed curves). The likeliest pairs are laid on each other by iterated closest
points (Besl & McKay 1992). One to one at least total distance is the assignment problem (scipy's `linear_sum_assignment`),
in which leaving a piece alone has a price. A pair is sure only if the next best pairing of either piece is clearly worse.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from scipy.optimize import linear_sum_assignment
from scipy.spatial import cKDTree

from motifs.imaging.outline import as_outline, polygon_area

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    Curve = NDArray[np.complex128]

COARSE_POINTS: Final = 128
FINE_POINTS: Final = 256
CANDIDATES: Final = 4
ALONE_SHARE: Final = 0.07
"""Price of leaving a piece alone: this share of its size (root of its area), root mean square along the outline."""
SURE_MARGIN: Final = 0.6
SURE_MM: Final = 0.7
"""What slanting and worn edges alone put between the outlines of one sherd's two faces, mm, root mean square."""
SURE_SHARE: Final = 0.012
"""And what a back lying higher or lower over the tray adds, as a share of the sherd's size."""
SURE_MARGIN_UNSCALED: Final = 0.4
SURE_SHARE_UNSCALED: Final = 0.03
_ROUNDS: Final = 12


@dataclass(frozen=True, slots=True)
class MirrorPair:
    """One pair of outlines.

    front, back: places in the sequences given. distance: root mean square between the outlines laid on each other, in
    their unit. margin: that distance over the next best one of either piece; small is clear, 1 is a draw. turn_deg:
    clockwise turn (as a photograph is seen) that lays the mirrored back on the front, 0 to below 360. is_sure: clear
    enough to stand without a look.
    """

    front: int
    back: int
    distance: float
    margin: float
    turn_deg: float
    is_sure: bool


def match_mirrored(
    fronts: Sequence[ArrayLike], backs: Sequence[ArrayLike], *, is_to_scale: bool = True
) -> tuple[MirrorPair, ...]:
    """Pair outlines with mirrored outlines, one to one; what fits nowhere stays alone.

    Parameters
    ----------
    fronts, backs
        (N, 2) polygons, in mm; neither their order nor their number need agree.
    is_to_scale
        False: sizes mean nothing (a photograph without scale); every outline is brought to one area first, and distances
        are shares of the root of the area.

    Returns
    -------
    tuple of MirrorPair
        In the order of the fronts; a front or back without a pair is absent.

    Raises
    ------
    ValueError
        An outline is no polygon, or encloses no area.
    """
    if not fronts or not backs:
        return ()
    front_curves = [_Outline(outline, is_to_scale, is_back=False) for outline in fronts]
    back_curves = [_Outline(outline, is_to_scale, is_back=True) for outline in backs]
    distance, turn = _coarse(front_curves, back_curves)
    _refine(front_curves, back_curves, distance, turn)
    sizes = np.array([[(front.size + back.size) / 2 for back in back_curves] for front in front_curves])
    limit = SURE_MM + SURE_SHARE * sizes if is_to_scale else SURE_SHARE_UNSCALED * sizes
    least_margin = SURE_MARGIN if is_to_scale else SURE_MARGIN_UNSCALED
    pairs = []
    for front, back in _assigned(distance, ALONE_SHARE * sizes):
        margin = _margin(distance, front, back)
        is_sure = margin <= least_margin and bool(distance[front, back] <= limit[front, back])
        # Angles grow clockwise where y runs down.
        turn_deg = float(np.degrees(turn[front, back]) % 360.0)
        pairs.append(MirrorPair(front, back, float(distance[front, back]), margin, turn_deg, is_sure))
    return tuple(sorted(pairs, key=lambda pair: pair.front))


class _Outline:
    """One outline about its centre as complex numbers: coarse and fine samples along its length, anticlockwise."""

    def __init__(self, points: ArrayLike, is_to_scale: bool, *, is_back: bool) -> None:
        corners = as_outline(points).astype(np.float64)
        area = polygon_area(corners)
        if area <= 0:
            raise ValueError("an outline encloses no area")
        if not is_to_scale:
            corners = corners / np.sqrt(area)
        self.size = float(np.sqrt(area)) if is_to_scale else 1.0
        curve = corners[:, 0] + 1j * corners[:, 1]
        if is_back:
            curve = -np.conj(curve)
        if _signed_area(curve) < 0:
            curve = curve[::-1]
        fine = _even(curve, FINE_POINTS)
        self.fine = fine - fine.mean()
        coarse = _even(curve, COARSE_POINTS)
        self.coarse = coarse - coarse.mean()


def _signed_area(curve: Curve) -> float:
    return float(np.imag(np.conj(curve) * np.roll(curve, -1)).sum()) / 2


def _even(curve: Curve, points: int) -> Curve:
    """Sample a closed curve evenly along its length, each sample the mean of its stretch: roughness evens out."""
    closed = np.append(curve, curve[0])
    along = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(closed)))])
    at = np.linspace(0, along[-1], 4 * points, endpoint=False)
    fine = np.interp(at, along, closed.real) + 1j * np.interp(at, along, closed.imag)
    return np.asarray(fine.reshape(points, 4).mean(axis=1), np.complex128)


def _coarse(fronts: list[_Outline], backs: list[_Outline]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Procrustes distance of every pair, (F, B), and the turn (radians) that lays the back on the front."""
    front_spectra = np.fft.fft([front.coarse for front in fronts], axis=1)
    back_spectra = np.fft.fft([back.coarse for back in backs], axis=1)
    front_energy = np.array([(np.abs(front.coarse) ** 2).mean() for front in fronts])
    back_energy = np.array([(np.abs(back.coarse) ** 2).mean() for back in backs])
    distance, turn = np.empty((len(fronts), len(backs))), np.empty((len(fronts), len(backs)))
    for place, spectrum in enumerate(front_spectra):
        overlap = np.fft.ifft(spectrum * np.conj(back_spectra), axis=1) / COARSE_POINTS
        best = np.abs(overlap).argmax(axis=1)
        peak = overlap[np.arange(len(backs)), best]
        squared = front_energy[place] + back_energy - 2 * np.abs(peak)
        distance[place], turn[place] = np.sqrt(np.maximum(squared, 0.0)), np.angle(peak)
    return distance, turn


def _refine(
    fronts: list[_Outline], backs: list[_Outline], distance: NDArray[np.float64], turn: NDArray[np.float64]
) -> None:
    """Replace the distance and turn of the likeliest pairs, in place, by those after laying them on each other."""
    likely = np.zeros(distance.shape, bool)
    likely[np.arange(len(fronts))[:, None], np.argsort(distance, axis=1)[:, :CANDIDATES]] = True
    likely[np.argsort(distance, axis=0)[:CANDIDATES], np.arange(len(backs))[None]] = True
    trees = [_tree(front.fine) for front in fronts]
    for front, back in np.argwhere(likely):
        laid, turned = _lay_on(fronts[front].fine, trees[front], backs[back].fine, float(turn[front, back]))
        distance[front, back], turn[front, back] = min(laid, distance[front, back]), turned


def _tree(curve: Curve) -> Any:
    return cKDTree(np.column_stack([curve.real, curve.imag]))


def _lay_on(fixed: Curve, tree: Any, moving: Curve, turn: float) -> tuple[float, float]:
    """Turn and shift a curve onto another by iterated closest points; return the distance both ways and the turn."""
    shift = 0j
    for _ in range(_ROUNDS):
        laid = moving * np.exp(1j * turn) + shift
        nearest = fixed[tree.query(np.column_stack([laid.real, laid.imag]))[1]]
        turn = float(np.angle((np.conj(moving - moving.mean()) * (nearest - nearest.mean())).sum()))
        shift = complex(nearest.mean() - moving.mean() * np.exp(1j * turn))
    laid = moving * np.exp(1j * turn) + shift
    there = tree.query(np.column_stack([laid.real, laid.imag]))[0]
    back = _tree(laid).query(np.column_stack([fixed.real, fixed.imag]))[0]
    return float(np.sqrt((there**2).mean() / 2 + (back**2).mean() / 2)), turn


def _assigned(distance: NDArray[np.float64], alone: NDArray[np.float64]) -> list[tuple[int, int]]:
    """Pairs of least total distance, where two pieces left alone cost about what a bad pair would."""
    fronts, backs = distance.shape
    cost = np.full((fronts + backs, fronts + backs), 0.0)
    # Scaled by size, so that a large piece's millimetre does not outweigh a small one's.
    cost[:fronts, :backs] = distance / alone
    cost[:fronts, backs:] = 0.5
    cost[fronts:, :backs] = 0.5
    rows, columns = linear_sum_assignment(cost)
    return [
        (int(row), int(column))
        for row, column in zip(rows, columns, strict=True)
        if row < fronts and column < backs and cost[row, column] <= 1.0
    ]


def _margin(distance: NDArray[np.float64], front: int, back: int) -> float:
    """Distance of a pair over the next best of either piece; 0 where there is no other to compare with."""
    others = np.concatenate([np.delete(distance[front], back), np.delete(distance[:, back], front)])
    return float(distance[front, back] / max(float(others.min()), 1e-12)) if others.size else 0.0
