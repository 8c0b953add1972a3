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


def rivals_of(
    paths: Sequence[EdgePath], claimed: Contacts, contacts: Contacts, odds: NDArray[np.float64]
) -> NDArray[np.float64]:
    """(m, 2) log of 1 plus the summed odds of all rivals, at the sherd where they are weaker and where they are stronger.

    Parameters
    ----------
    paths : of the n sherds.
    claimed : meetings, one a pair; a sherd from n on is the mirror image of the one n before.
    contacts, odds : meetings of the sherds, one a pair, with their natural-log odds; `claimed` itself, or other ones. Rivals are
        those that claim the same stretch.
    """
    out = np.zeros((len(claimed), 2))
    worth = np.exp(np.minimum(odds, MOST_ODDS))
    for sherd, path in enumerate(paths):
        rows, side, places = _ends_at(claimed, sherd, len(paths), len(path.points))
        others, _, taken = _ends_at(contacts, sherd, len(paths), len(path.points))
        claims = _claims(places, claimed.touching[rows], len(path.points))
        rivals = claims if contacts is claimed else _claims(taken, contacts.touching[others], len(path.points))
        least = np.minimum(claims.sum(axis=1)[:, None], rivals.sum(axis=1)[None])
        same = claims @ rivals.T >= SAME_STRETCH * np.maximum(least, 1.0)
        if contacts is claimed:
            np.fill_diagonal(same, val=False)
        out[rows, side] = np.log1p(same @ worth[others])
    return np.asarray(np.sort(out, axis=1))


def _ends_at(
    contacts: Contacts, sherd: int, sherds: int, points: int
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Rows that meet a sherd, with which side (0 is a) and which points of its path; mirror images run backwards."""
    in_a, in_b = np.flatnonzero(contacts.a == sherd), np.flatnonzero(contacts.b == sherd)
    as_image = np.flatnonzero(contacts.b == sherd + sherds)
    rows = np.concatenate([in_a, in_b, as_image])
    side = np.repeat([0, 1], [len(in_a), len(in_b) + len(as_image)])
    back = -contacts.at_b[as_image] % points
    return rows, side, np.concatenate([contacts.at_a[in_a], contacts.at_b[in_b], back])


def _claims(places: NDArray[np.intp], touching: NDArray[np.bool_], points: int) -> NDArray[np.float32]:
    """(rows, points) 1 where a contact claims a point of the path, else 0."""
    out = np.zeros((len(places), points), np.float32)
    rows, columns = np.nonzero(touching)
    out[rows, places[rows, columns]] = 1
    return out
