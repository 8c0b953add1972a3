"""Marking an exercise: how a sorting into vessels agrees with the sealed answer.

Pairs of sherds are counted; the adjusted Rand index is that of Hubert & Arabie 1985 (Journal of Classification 2,
193-218), with each unassigned sherd as a vessel of its own.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from math import comb
from typing import TYPE_CHECKING, Any

from motifs.errors import UnknownName

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

Place = tuple[int, int]
"""Photograph and sherd number, both from 1, as printed in the answer."""


@dataclass(frozen=True, slots=True)
class SortingMark:
    """How well an exercise was sorted.

    sherds: how many in the answer. unassigned: how many were left out. joined_wrongly, split_wrongly: pairs of
    assigned sherds put together though of two pots, and kept apart though of one. adjusted_rand: 1 right, 0 chance.
    """

    sherds: int
    unassigned: int
    joined_wrongly: int
    split_wrongly: int
    adjusted_rand: float


def mark_sorting(answer: Mapping[str, Any], vessels: Mapping[Place, int | None]) -> SortingMark:
    """Compare a sorting with an answer.

    Parameters
    ----------
    answer : as open_answer returns it
    vessels : vessel by (photograph, sherd number); sherds that are not named or None count as unassigned

    Raises
    ------
    UnknownName
        A sherd that the answer does not have.
    """
    truth = {
        (photo, sherd["number"]): int(sherd["pot"])
        for photo, one in enumerate(answer["photos"], start=1)
        for sherd in one["sherds"]
    }
    for photo, number in vessels:
        if (photo, number) not in truth:
            raise UnknownName(f"The answer has no sherd {number} on photograph {photo}: check the numbers.")
    given = {place: vessels.get(place) for place in truth}
    assigned = [place for place in truth if given[place] is not None]
    pots, piles = [truth[p] for p in assigned], [given[p] for p in assigned]
    together = _pairs(Counter(zip(pots, piles, strict=True)))
    alone = [("alone", k) if given[p] is None else ("pile", given[p]) for k, p in enumerate(truth)]
    return SortingMark(
        len(truth),
        len(truth) - len(assigned),
        _pairs(Counter(piles)) - together,
        _pairs(Counter(pots)) - together,
        adjusted_rand(list(truth.values()), alone),
    )


def _pairs(counts: Counter[Any]) -> int:
    return sum(comb(count, 2) for count in counts.values())


def adjusted_rand(first: Sequence[Any], second: Sequence[Any]) -> float:
    """Return the adjusted Rand index of two labellings of the same things; 1.0 when both say the same or n < 2."""
    together = _pairs(Counter(zip(first, second, strict=True)))
    a, b, everything = _pairs(Counter(first)), _pairs(Counter(second)), comb(len(first), 2)
    if everything == 0:
        return 1.0
    expected, most = a * b / everything, (a + b) / 2
    return 1.0 if most == expected else (together - expected) / (most - expected)
