"""Which moves leave an all-over design as it is, and so which of the seventeen plane groups it has.

The moves tried are those the lattice allows: whole-number matrices on its two shortest shifts that turn or mirror it into
itself, within a hand's error. The mean cell is compared with its image under each, wherever that fits best. For a mirror the
place decides between a mirror line and a glide line. The groups follow from the highest rotation, the mirrors and the kind
of lattice, as in International Tables for Crystallography A.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from motifs.design.folding import Fold, MoveFit, best_shift
from motifs.design.judging import probability

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Plane = NDArray[np.float64]

Turn: TypeAlias = tuple[int, int, int, int]
"""u' = a u + b v, v' = c u + d v in fractions of the two shifts: (a, b, c, d)."""

IDENTITY: Turn = (1, 0, 0, 1)
STRETCH = 0.09
"""How far a move may stretch or squeeze the lattice, relative."""
NEAR = 0.07
"""Slack of a mirror's or glide's place, in fractions of the lattice."""


@dataclass(frozen=True, slots=True)
class TurnFit:
    """How well the cell comes back under one turn or mirror: at any place, as a mirror, as a glide (None: not possible)."""

    any_place: MoveFit | None
    mirror: MoveFit | None = None
    glide: MoveFit | None = None


@dataclass(frozen=True, slots=True)
class PlaneWeights:
    """Probability of each plane group, summing to 1, and the turns and mirrors of the likeliest one."""

    groups: Mapping[str, float]
    turns: tuple[Turn, ...]


def lattice_turns(basis: Plane) -> list[Turn]:
    """Return the moves about a point that carry the lattice into itself, identity first."""
    inverse = np.linalg.inv(basis)
    found = [IDENTITY]
    for a, b, c, d in product((-1, 0, 1), repeat=4):
        turn = (a, b, c, d)
        matrix = np.array(turn).reshape(2, 2)
        if turn == IDENTITY or abs(round(float(np.linalg.det(matrix)))) != 1 or not _is_finite(matrix):
            continue
        stretches = np.linalg.svd(inverse @ matrix.T @ basis, compute_uv=False)
        if stretches.max() < 1 + STRETCH and stretches.min() > 1 - STRETCH:
            found.append(turn)
    return found


def _is_finite(matrix: NDArray[np.int_]) -> bool:
    power = matrix
    for _ in range(6):
        if np.array_equal(power, np.eye(2)):
            return True
        power = power @ matrix
    return False


def is_mirror(turn: Turn) -> bool:
    """Whether the move turns the design over."""
    return turn[0] * turn[3] - turn[1] * turn[2] < 0


def order_of(turn: Turn) -> int:
    """How often the move has to be made to be back: 1, 2, 3, 4 or 6."""
    matrix, power, order = np.array(turn).reshape(2, 2), np.array(turn).reshape(2, 2), 1
    while not np.array_equal(power, np.eye(2)):
        power, order = power @ matrix, order + 1
    return order


def _fixed_vector(turn: Turn, sign: int) -> tuple[int, int]:
    """Shortest whole vector that a mirror keeps (sign 1) or turns round (sign -1)."""
    matrix = np.array(turn).reshape(2, 2)
    for i, j in ((1, 0), (0, 1), (1, 1), (1, -1), (2, 1), (1, 2), (2, -1), (1, -2)):
        if np.array_equal(matrix @ [i, j], sign * np.array([i, j])):
            return i, j
    raise ValueError(f"{turn} is no mirror of a reduced lattice")


def is_centred(turn: Turn) -> bool:
    """Whether the lattice is centred with respect to a mirror: then mirrors and glides come together."""
    (a, b), (c, d) = _fixed_vector(turn, 1), _fixed_vector(turn, -1)
    return abs(a * d - b * c) == 2


def fit_turns(fold: Fold, turns: list[Turn]) -> dict[Turn, TurnFit]:
    """Compare the mean cell with its image under every turn but the identity."""
    return {turn: _fit(fold, turn) for turn in turns if turn != IDENTITY}


def _fit(fold: Fold, turn: Turn) -> TurnFit:
    n = fold.cell.shape[0]
    a, b, c, d = turn
    v, u = np.meshgrid(np.arange(n), np.arange(n), indexing="ij")
    image = ((c * u + d * v) % n, (a * u + b * v) % n)
    moved = replace(fold, cell=fold.cell[image], count=fold.count[image])
    if not is_mirror(turn):
        return TurnFit(best_shift(fold, moved, np.ones((n, n), bool), cyclic_rows=True))
    mirrors, glides = _mirror_places(turn, n)
    fits = [best_shift(fold, moved, places, cyclic_rows=True) if places.any() else None for places in (mirrors, glides)]
    return TurnFit(_better(fits[0], fits[1]), fits[0], fits[1])


def _better(one: MoveFit | None, other: MoveFit | None) -> MoveFit | None:
    fits = [fit for fit in (one, other) if fit is not None]
    return min(fits, key=lambda fit: fit.excess) if fits else None


def _mirror_places(turn: Turn, n: int) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Shifts at which a mirror matrix is a mirror, and those at which it is a glide and nothing else.

    cell(x) = cell(W (x - s)): the move is x -> W x + t with t = -W s. What it shifts along its own line is (t + W t) / 2:
    nought, up to a lattice vector, for a mirror; half a lattice vector for a glide.
    """
    matrix = np.array(turn).reshape(2, 2)
    v, u = np.meshgrid(np.arange(n) / n, np.arange(n) / n, indexing="ij")
    t = -np.einsum("ij,jvu->ivu", matrix, np.stack([u, v]))
    twice = t + np.einsum("ij,jvu->ivu", matrix, t)
    along = np.array(_fixed_vector(turn, 1))
    length = np.einsum("i,ivu->vu", along, twice) / float(along @ along)
    # length is in units of the shortest lattice vector along the line; whole numbers make the square a lattice shift.
    off = np.abs(length - np.round(length)) <= NEAR
    if is_centred(turn):
        return off, np.zeros_like(off)
    even = np.round(length) % 2 == 0
    return off & even, off & ~even


def weigh_plane_groups(fold: Fold, fits: Mapping[Turn, TurnFit], basis: Plane) -> PlaneWeights:
    """Weigh the plane groups that the lattice allows by how well the moves fit."""
    chances = {turn: _chances(fit, fold.coherence) for turn, fit in fits.items()}
    logs: dict[tuple[str, tuple[Turn, ...]], float] = {}
    for turns in _subgroups((IDENTITY, *fits)):
        for kinds in _mirror_kinds(turns):
            symbol = _symbol(turns, kinds, basis)
            if symbol is not None:
                parts = [_log_chance(chances[turn], turn in turns, kinds.get(turn)) for turn in fits]
                logs[symbol, turns] = max(logs.get((symbol, turns), -np.inf), float(np.sum(parts)))
    top = max(logs.values())
    weights: dict[str, float] = {}
    total = sum(np.exp(value - top) for value in logs.values())
    for (symbol, _), value in logs.items():
        weights[symbol] = weights.get(symbol, 0.0) + float(np.exp(value - top) / total)
    likeliest = max(logs, key=lambda key: logs[key])
    return PlaneWeights(weights, likeliest[1])


def _chances(fit: TurnFit, coherence: float) -> tuple[float, float]:
    """Probabilities of (the turn or the mirror, the glide); for a turn the second is 0."""
    if fit.any_place is None:
        return 0.5, 0.0
    if fit.mirror is None and fit.glide is None:
        return probability(fit.any_place, coherence), 0.0
    mirror = probability(fit.mirror, coherence) if fit.mirror else 0.0
    glide = probability(fit.glide, coherence) if fit.glide else 0.0
    total = (1 - mirror) * (1 - glide) + mirror * (1 - glide) + glide * (1 - mirror)
    return mirror * (1 - glide) / total, glide * (1 - mirror) / total


def _log_chance(chances: tuple[float, float], is_there: bool, kind: str | None) -> float:
    first, second = chances
    value = 1 - first - second if not is_there else second if kind == "glide" else first
    return float(np.log(max(value, 1e-4)))


def _subgroups(turns: tuple[Turn, ...]) -> list[tuple[Turn, ...]]:
    """Every set of the turns that is closed; two of them make any such set."""
    found = {_closed((one, other)) for i, one in enumerate(turns) for other in turns[i:]}
    return sorted((group for group in found if set(group) <= set(turns)), key=lambda group: (len(group), group))


def _closed(start: tuple[Turn, ...]) -> tuple[Turn, ...]:
    group = {IDENTITY, *start}
    while True:
        more = {_times(one, other) for one in group for other in group} | group
        if more == group or len(more) > 24:
            return tuple(sorted(more))
        group = more


def _times(one: Turn, other: Turn) -> Turn:
    a, b, c, d = (np.array(one).reshape(2, 2) @ np.array(other).reshape(2, 2)).ravel()
    return int(a), int(b), int(c), int(d)


def _mirror_kinds(turns: tuple[Turn, ...]) -> list[dict[Turn, str]]:
    """Every way in which the mirrors of a primitive lattice can be mirrors or glides; centred ones are mirrors."""
    mirrors = [turn for turn in turns if is_mirror(turn)]
    free = [turn for turn in mirrors if not is_centred(turn)]
    ways = product(("mirror", "glide"), repeat=len(free))
    return [{**dict.fromkeys(mirrors, "mirror"), **dict(zip(free, way, strict=True))} for way in ways]


_BY_MIRRORS = {
    (1, ""): "cm",
    (1, "mirror"): "pm",
    (1, "glide"): "pg",
    (2, ""): "cmm",
    (2, "mirror mirror"): "pmm",
    (2, "glide mirror"): "pmg",
    (2, "glide glide"): "pgg",
    (4, "mirror mirror"): "p4m",
    (4, "glide glide"): "p4g",
}
"""By highest rotation and by what the mirrors of a primitive lattice are."""


def _symbol(turns: tuple[Turn, ...], kinds: Mapping[Turn, str], basis: Plane) -> str | None:
    """Name the plane group of closed turns with these mirrors and glides; None where there is none."""
    rotation = max(order_of(turn) for turn in turns if not is_mirror(turn))
    mirrors = [turn for turn in turns if is_mirror(turn)]
    free = sorted(kinds[turn] for turn in mirrors if not is_centred(turn))
    if not mirrors:
        return f"p{rotation}"
    if rotation < 6 and rotation != 3:
        return _BY_MIRRORS.get((rotation, " ".join(free)))
    if rotation == 6:
        return "p6m"
    along = np.array(_fixed_vector(mirrors[0], 1)) @ basis
    shortest = float(np.linalg.norm(basis[0]))
    return "p31m" if float(np.linalg.norm(along)) < 1.3 * shortest else "p3m1"
