"""Loops of three: where a lies to b as b lies to c and c to a, three joins vouch for each other.

Sherds of a pot meet in threes at almost every corner of a break, and three chance matches hardly ever close
(Leitao & Stolfi 2002, IEEE PAMI 24, 1239-1251, use the same of triples).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.joins.alignment import Contacts
    from motifs.joins.paths import EdgePath

CLOSED_MM: Final = 2.0
CLOSED_RAD: Final = float(np.radians(3.0))
LEAST_ODDS: Final = -7.0
"""Meetings of lower natural-log odds vouch for nothing."""


def loop_odds(
    paths: Sequence[EdgePath],
    contacts: Contacts,
    odds: NDArray[np.float64],
    decoys: Contacts,
    decoy_odds: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How much third sherds vouch for each meeting and for each decoy: log of 1 plus their summed odds over LEAST_ODDS.

    Parameters
    ----------
    paths : of the n sherds.
    contacts, odds : (m,) one meeting a pair, with natural-log odds.
    decoys, decoy_odds : the same of sherds beside mirror images; b of the mirror image of sherd j is n + j.
    """
    links = _Links.of(paths, contacts, odds, decoys, decoy_odds)
    return links.vouched(contacts, odds), links.vouched(decoys, decoy_odds)


@dataclass(frozen=True, slots=True)
class _Links:
    """Directed meetings sorted by `near`: `far` is carried into near's frame. Nodes: n sherds and their n mirror images."""

    near: NDArray[np.intp]
    far: NDArray[np.intp]
    rotation: NDArray[np.complex128]
    shift: NDArray[np.complex128]
    odds: NDArray[np.float64]
    starts: NDArray[np.intp]
    middles: NDArray[np.complex128]

    @classmethod
    def of(
        cls,
        paths: Sequence[EdgePath],
        contacts: Contacts,
        odds: NDArray[np.float64],
        decoys: Contacts,
        decoy_odds: NDArray[np.float64],
    ) -> _Links:
        n = len(paths)
        both = [_forth_and_back(one, o) for one, o in ((contacts, odds), (decoys, decoy_odds))]
        near, far, rotation, shift, worth = (np.concatenate(parts) for parts in zip(*both, strict=True))
        # a mirror shows every meeting once more, between mirror images
        near, far = np.concatenate([near, (near + n) % (2 * n)]), np.concatenate([far, (far + n) % (2 * n)])
        rotation, shift = np.concatenate([rotation, rotation.conj()]), np.concatenate([shift, -shift.conj()])
        order = np.argsort(near, kind="stable")
        middle = np.array([path.points.mean() for path in paths], np.complex128)
        return cls(
            near[order],
            far[order],
            rotation[order],
            shift[order],
            np.concatenate([worth, worth])[order],
            np.searchsorted(near[order], np.arange(2 * n + 1)).astype(np.intp),
            np.concatenate([middle, -middle.conj()]),
        )

    def vouched(self, contacts: Contacts, odds: NDArray[np.float64]) -> NDArray[np.float64]:
        out = np.zeros(len(contacts))
        for row in np.flatnonzero(odds > LEAST_ODDS).tolist():
            ends = int(contacts.a[row]), int(contacts.b[row])
            lies = complex(contacts.rotation[row]), complex(contacts.shift[row])
            out[row] = self._vouched_once(ends, lies)
        return out

    def _vouched_once(self, ends: tuple[int, int], lies: tuple[complex, complex]) -> float:
        here, there = (np.arange(self.starts[end], self.starts[end + 1]) for end in ends)
        first, second = np.nonzero(self.far[here][:, None] == self.far[there][None])
        here, there = here[first], there[second]
        third = self.far[here]
        sherds = len(self.middles) // 2
        strange = (third % sherds != ends[0] % sherds) & (third % sherds != ends[1] % sherds)
        here, there, third = here[strange], there[strange], third[strange]
        rotation, shift = lies
        round_turn, round_shift = rotation * self.rotation[there], rotation * self.shift[there] + shift
        middle = self.middles[third]
        off = np.abs(self.rotation[here] * middle + self.shift[here] - round_turn * middle - round_shift)
        closed = (off < CLOSED_MM) & (np.abs(np.angle(self.rotation[here] * round_turn.conj())) < CLOSED_RAD)
        weaker = np.minimum(self.odds[here], self.odds[there])[closed] - LEAST_ODDS
        return float(np.log1p(np.exp(np.minimum(weaker, 30.0)).sum()))


def _forth_and_back(contacts: Contacts, odds: NDArray[np.float64]) -> tuple[NDArray, ...]:  # type: ignore[type-arg]
    some = odds > LEAST_ODDS
    a, b, turn, shift = contacts.a[some], contacts.b[some], contacts.rotation[some], contacts.shift[some]
    return (
        np.concatenate([a, b]),
        np.concatenate([b, a]),
        np.concatenate([turn, turn.conj()]),
        np.concatenate([shift, -turn.conj() * shift]),
        np.concatenate([odds[some], odds[some]]),
    )
