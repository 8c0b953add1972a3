"""Whether the analyst's links can all hold: "same vessel" carries over, "different" then bars."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, NamedTuple

from motifs.errors import LinksContradict

if TYPE_CHECKING:
    from collections.abc import Sequence

SAME, DIFFERENT = "same", "different"


class Pair(NamedTuple):
    """Two sherds by catalogue number, and "same" or "different"."""

    a: str
    b: str
    relation: str


def check_links(pairs: Sequence[Pair]) -> None:
    """Raise LinksContradict, naming the chain, where the links cannot all hold.

    Sherds joined by "same", directly or through others, are one vessel; a "different" inside one vessel
    is a contradiction.
    """
    for pair in pairs:
        if pair.relation == DIFFERENT and (chain := _chain(pairs, pair.a, pair.b)):
            raise LinksContradict(
                f"the links cannot all hold: {' = '.join(chain)}, but {pair.a} is different from {pair.b}; "
                "withdraw one of these links first"
            )


def _chain(pairs: Sequence[Pair], start: str, goal: str) -> list[str]:
    """Return the shortest chain of "same" from start to goal, both included; empty if there is none."""
    neighbours: dict[str, list[str]] = {}
    for pair in pairs:
        if pair.relation == SAME:
            neighbours.setdefault(pair.a, []).append(pair.b)
            neighbours.setdefault(pair.b, []).append(pair.a)
    came_from = {start: start}
    waiting = deque([start])
    while waiting and goal not in came_from:
        here = waiting.popleft()
        for there in neighbours.get(here, []):
            if there not in came_from:
                came_from[there] = here
                waiting.append(there)
    if goal not in came_from:
        return []
    chain = [goal]
    while chain[-1] != start:
        chain.append(came_from[chain[-1]])
    return chain[::-1]
