"""Rivals: an edge touches one neighbour only, so meetings that claim the same stretch weaken each other."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.joins.alignment import Contacts
    from motifs.joins.paths import EdgePath

SAME_STRETCH: Final = 0.3
"""Share of the shorter contact by which two meetings claim the same stretch."""
MOST_ODDS: Final = 30.0


def best_of_pairs(contacts: Contacts, odds: NDArray[np.float64]) -> NDArray[np.intp]:
    """Rows of the likeliest meeting of every pair, ordered by a, b."""
    order = np.lexsort((-odds, contacts.b, contacts.a))
    a, b = contacts.a[order], contacts.b[order]
    first = np.concatenate([[True], (np.diff(a) != 0) | (np.diff(b) != 0)]) if len(order) else np.zeros(0, np.bool_)
    return np.asarray(order[first])


def rival_odds(paths: Sequence[EdgePath], contacts: Contacts, odds: NDArray[np.float64]) -> NDArray[np.float64]:
    """(m, 2) log of 1 plus the summed odds of all rivals, at the sherd where they are weaker and where they are stronger.

    Parameters
    ----------
    contacts : one meeting a pair.
    odds : (m,) natural-log odds of each.
    """
    out = np.zeros((len(contacts), 2))
    for sherd, path in enumerate(paths):
        in_a, in_b = np.flatnonzero(contacts.a == sherd), np.flatnonzero(contacts.b == sherd)
        rows, side = np.concatenate([in_a, in_b]), np.repeat([0, 1], [len(in_a), len(in_b)])
        places = np.concatenate([contacts.at_a[in_a], contacts.at_b[in_b]])
        claims = _claims(places, contacts.touching[rows], len(path.points))
        shared = claims @ claims.T
        length = np.maximum(np.diag(shared), 1.0)
        same = shared >= SAME_STRETCH * np.minimum(length[:, None], length[None])
        np.fill_diagonal(same, val=False)
        out[rows, side] = np.log1p(same @ np.exp(np.minimum(odds[rows], MOST_ODDS)))
    return np.asarray(np.sort(out, axis=1))


def _claims(places: NDArray[np.intp], touching: NDArray[np.bool_], points: int) -> NDArray[np.float32]:
    """(rows, points) 1 where a contact claims a point of the path, else 0."""
    out = np.zeros((len(places), points), np.float32)
    rows, columns = np.nonzero(touching)
    out[rows, places[rows, columns]] = 1
    return out
