"""Which moves leave a band as it is: mirrors across and along, half turns, glides; each with a probability.

Four questions are asked of the mean repeat, in the terms of Washburn & Crowe 1988: does it come back under a mirror across, a
mirror along, a half turn, a glide. Every answer is a probability from the excess variance of the move, and the seven groups
are weighed by the product over the four, so that no question alone decides and the answers cannot contradict one another.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from motifs.design.folding import Fold, MoveFit, best_shift
from motifs.design.groups import BAND_MOVES
from motifs.design.judging import probability

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

MOVES = ("across", "along", "turn", "glide")

Fits = dict[str, MoveFit | None]


@dataclass(frozen=True, slots=True)
class GroupWeights:
    """Probability of each group, summing to 1; and of each move by itself (None: too little is seen to tell)."""

    groups: Mapping[str, float]
    moves: Mapping[str, float | None]


def fit_moves(fold: Fold) -> Fits:
    """Find for each of MOVES the place where it fits best.

    Shifts are in bins of the cell. Mirrors across and half turns may stand anywhere along the band; a mirror along and a
    glide stand anywhere across it, the glide half a repeat on.
    """
    ny, nx = fold.cell.shape
    rows, columns = np.arange(-(ny - 1), ny)[:, None], np.arange(nx)[None, :]
    level = np.abs(rows) <= max(1, round(0.05 * nx))
    near_none = np.minimum(columns, nx - columns) <= max(1, round(0.03 * nx))
    near_half = np.abs(columns - nx / 2) <= max(1, round(0.06 * nx))
    anywhere = np.ones((2 * ny - 1, nx), bool)
    return {
        "across": _fit(fold, level & anywhere, flip_x=True, flip_y=False),
        "along": _fit(fold, near_none & anywhere, flip_x=False, flip_y=True),
        "turn": _fit(fold, anywhere, flip_x=True, flip_y=True),
        "glide": _fit(fold, near_half & anywhere, flip_x=False, flip_y=True),
    }


def _fit(fold: Fold, allowed: NDArray[np.bool_], *, flip_x: bool, flip_y: bool) -> MoveFit | None:
    turned = (slice(None, None, -1 if flip_y else 1), slice(None, None, -1 if flip_x else 1))
    return best_shift(fold, replace(fold, cell=fold.cell[turned], count=fold.count[turned]), allowed, cyclic_rows=False)


def weigh_groups(fold: Fold, fits: Fits) -> GroupWeights:
    """Weigh the seven groups by how well the four moves fit."""
    moves = {move: None if fit is None else probability(fit, fold.coherence) for move, fit in fits.items()}
    logs = {}
    for symbol, has in BAND_MOVES.items():
        parts = []
        for move, p in moves.items():
            if p is not None:
                is_there = bool(getattr(has, move))
                parts.append(np.log(p if is_there else 1 - p))
        logs[symbol] = float(np.sum(parts))
    top = max(logs.values())
    total = sum(np.exp(value - top) for value in logs.values())
    return GroupWeights({symbol: float(np.exp(value - top) / total) for symbol, value in logs.items()}, moves)
