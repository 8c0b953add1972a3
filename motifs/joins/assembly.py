"""Order of assembly: found by taking the finished layout apart, so that no piece is ever locked out.

What can be taken out last-in can be put in. Pieces are taken off one at a time, with steps back where that leads nowhere; where no
single piece comes free, two groups that part along one direction are built apart and closed together (partition by
directional blocking: Wilson & Latombe 1994, Artificial Intelligence 71, 371-396, cited from memory). Freedom only grows as pieces go.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.sparse.csgraph import breadth_first_order, connected_components

from motifs.joins.clearance import LEAST_CONTACT_MM, PLAY_MM, Blocking

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from numpy.typing import NDArray

HOP_MM: Final = 12.0
"""A piece one sherd farther from the start is taken off before one with this much less contact."""
MOST_TRIES: Final = 4000
"""Sets looked at before two groups are tried instead."""
NOT_FROM: Final = frozenset[int]()


@dataclass(frozen=True, slots=True)
class Step:
    """One step. adds: pieces put in as one, more than one where two groups are closed together; to: pieces they touch, longest contact first.

    block: number of the group that is being built, from 0; from_block: the group that is closed onto it, or None. slide_deg: way in, 0 to
    the right and 90 down, None for a first piece or where there is no way; slack_deg: how wide the choice of ways is. is_tight: the sides
    run parallel. is_locked: no way in along the wall is left at this step, nor in any other order that was found.
    """

    adds: tuple[int, ...]
    to: tuple[int, ...]
    block: int
    from_block: int | None = None
    slide_deg: float | None = None
    slack_deg: float = 0.0
    is_tight: bool = False
    is_locked: bool = False


@dataclass(frozen=True, slots=True)
class LockedPiece:
    """A piece that no way leads to. by: the pieces that hold it."""

    piece: int
    by: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class AssemblyPlan:
    """Steps in order, every piece in one of them. locked: pieces that no way leads to, and what holds them."""

    steps: tuple[Step, ...]
    locked: tuple[LockedPiece, ...] = ()

    @property
    def blocks(self) -> int:
        """Groups that are built apart."""
        return len({step.block for step in self.steps})


def plan_assembly(blocking: Blocking, *, starts: Collection[int] = NOT_FROM) -> AssemblyPlan:
    """Find an order in which every piece can slide into its place.

    Parameters
    ----------
    blocking : of the pieces as they lie in the layout.
    starts : pieces to start from where possible: rim or base.

    Returns
    -------
    AssemblyPlan
        Groups that do not touch are planned one after the other, each as a block of its own.
    """
    taker = _Taker(blocking, starts)
    steps: list[Step] = []
    locked: list[LockedPiece] = []
    for members in _touching_groups(blocking.contact_mm, range(len(blocking))):
        taker.block += 1
        steps += taker.built(frozenset(members), taker.block, locked)
    return AssemblyPlan(tuple(steps), tuple(locked))


def first_lockout(blocking: Blocking, order: Sequence[int]) -> int | None:
    """Place in an order of single pieces of the first that cannot slide in any more, or None where all can."""
    for place in range(1, len(order)):
        if not blocking.ways_out([order[place]], order[:place]).any():
            return place
    return None


class _Taker:
    """Takes a layout apart. block: number of the latest block."""

    def __init__(self, blocking: Blocking, starts: Collection[int]) -> None:
        self._blocking = blocking
        self._starts = frozenset(starts)
        self.block = -1

    def built(self, members: frozenset[int], block: int, locked: list[LockedPiece]) -> list[Step]:
        """Steps that build a touching group."""
        seed = self._seed(members)
        off = self._one_by_one(members, seed)
        if len(off) == len(members) - 1:
            (left,) = members - frozenset(off)
            return self._added([left, *reversed(off)], block)
        off = off if self._parted(members - frozenset(off)) else []
        rest = members - frozenset(off)
        parts = self._parted(rest)
        if parts is None:
            return self._stuck(rest, members, block, locked)
        stay, move = parts
        steps = self.built(stay, block, locked)
        if len(move) == 1:
            return steps + self._added_to(stay, [*move, *reversed(off)], block)
        self.block += 1
        other = self.block
        steps += self.built(move, other, locked)
        steps.append(self._closing(stay, move, block, other))
        return steps + self._added_to(rest, list(reversed(off)), block)

    def _seed(self, members: frozenset[int]) -> int:
        """A piece to build from: of rim or base if there is one, with the longest contact."""
        wished = sorted(members & self._starts) or sorted(members)
        contact = self._blocking.contact_mm
        return max(wished, key=lambda k: (float(contact[k, sorted(members)].sum()), -k))

    def _one_by_one(self, members: frozenset[int], seed: int) -> list[int]:
        """Pieces in the order in which they come off: all but one if that can be, otherwise as many as can."""
        hops = _hops(self._blocking.contact_mm, seed, members)
        failed: set[frozenset[int]] = set()
        path: list[int] = []
        best: list[int] = []
        here = members
        choices = [self._free(here, seed, hops)]
        while choices and len(failed) < MOST_TRIES:
            if len(here) <= 1:
                return path
            if len(path) > len(best):
                best = path.copy()
            if choices[-1]:
                piece = choices[-1].pop(0)
                after = here - {piece}
                if after not in failed:
                    here = after
                    path.append(piece)
                    choices.append(self._free(here, seed, hops))
                continue
            failed.add(here)
            choices.pop()
            if path:
                here |= {path.pop()}
        return path if len(here) <= 1 else best

    def _free(self, here: frozenset[int], seed: int, hops: dict[int, int]) -> list[int]:
        """Pieces that come off and leave the others in one, the ones to go first in front."""
        contact = self._blocking.contact_mm
        found = []
        for piece in here:
            rest = sorted(here - {piece})
            if not rest or not self._blocking.ways_out([piece], rest).any() or not _is_touching(contact, rest):
                continue
            found.append((piece == seed, float(contact[piece, rest].sum()) - HOP_MM * hops.get(piece, 0), piece))
        return [piece for _, _, piece in sorted(found)]

    def _parted(self, members: frozenset[int]) -> tuple[frozenset[int], frozenset[int]] | None:
        """Two touching groups of which the second leaves the first in one; the evenest such pair."""
        names = sorted(members)
        best: tuple[int, frozenset[int], frozenset[int]] | None = None
        for blocks in self._blocking.blocks[:, names][:, :, names]:
            for group in _movable_groups(blocks):
                move = frozenset(names[k] for k in group)
                stay = members - move
                evenness = min(len(move), len(stay))
                if best is not None and evenness <= best[0]:
                    continue
                if all(_is_touching(self._blocking.contact_mm, sorted(part)) for part in (move, stay)):
                    best = (evenness, stay, move)
        if best is None:
            return None
        _, stay, move = best
        return (move, stay) if move & self._starts and not stay & self._starts else (stay, move)

    def _added(self, order: Sequence[int], block: int) -> list[Step]:
        return [Step((order[0],), (), block), *self._added_to(frozenset(order[:1]), order[1:], block)]

    def _added_to(self, there: Iterable[int], order: Sequence[int], block: int) -> list[Step]:
        placed = list(there)
        steps = []
        for piece in order:
            ways = self._blocking.ways_out([piece], placed)
            slide, slack = _middle_way(self._blocking.directions_deg, ways)
            tight = slack <= self._slack_of_play(piece)
            to = tuple(self._blocking.touches(piece, placed))
            steps.append(Step((piece,), to, block, None, (slide + 180.0) % 360.0, slack, tight))
            placed.append(piece)
        return steps

    def _slack_of_play(self, piece: int) -> float:
        """Choice of ways (degrees) that the play alone gives a piece between parallel sides."""
        reach = float(np.sqrt(self._blocking.areas_mm2[piece]))
        step = 360.0 / len(self._blocking.directions_deg)
        return float(2 * np.degrees(np.arctan(2 * PLAY_MM / max(reach, PLAY_MM)))) + step

    def _closing(self, stay: frozenset[int], move: frozenset[int], block: int, other: int) -> Step:
        contact = self._blocking.contact_mm[np.ix_(sorted(move), sorted(stay))].max(axis=0)
        touched = [(k, float(c)) for k, c in zip(sorted(stay), contact, strict=True) if c >= LEAST_CONTACT_MM]
        to = tuple(k for k, _ in sorted(touched, key=lambda one: (-one[1], one[0])))
        ways = self._blocking.ways_out(move, stay)
        slide, slack = _middle_way(self._blocking.directions_deg, ways)
        if not ways.any():
            return Step(tuple(sorted(move)), to, block, other, is_locked=True)
        return Step(tuple(sorted(move)), to, block, other, (slide + 180.0) % 360.0, slack)

    def _stuck(
        self, rest: frozenset[int], members: frozenset[int], block: int, locked: list[LockedPiece]
    ) -> list[Step]:
        """Nothing comes free: build without the piece that the fewest others hold, and say that it is locked out."""
        held = {piece: self._holders(piece, rest - {piece}) for piece in sorted(rest)}
        whole = [p for p in held if _is_touching(self._blocking.contact_mm, sorted(members - {p}))]
        piece = min(whole or held, key=lambda p: (len(held[p]), float(self._blocking.areas_mm2[p]), p))
        locked.append(LockedPiece(piece, held[piece]))
        first, *others = _touching_groups(self._blocking.contact_mm, sorted(members - {piece}))
        steps = self.built(frozenset(first), block, locked)
        steps.append(Step((piece,), tuple(self._blocking.touches(piece, first)), block, is_locked=True))
        there = frozenset(first) | {piece}
        for part in others:
            self.block += 1
            other = self.block
            steps += self.built(frozenset(part), other, locked)
            steps.append(self._closing(there, frozenset(part), block, other))
            there |= frozenset(part)
        return steps

    def _holders(self, piece: int, others: frozenset[int]) -> tuple[int, ...]:
        """The fewest others that hold a piece: those in its way along the direction with the fewest of them, touching first."""
        names = sorted(others)
        counts = self._blocking.blocks[:, piece, names]
        near = [k for k in names if self._blocking.contact_mm[piece, k] >= LEAST_CONTACT_MM]
        way = int(np.argmin(counts.sum(axis=1)))
        ahead = [k for k, is_ahead in zip(names, counts[way], strict=True) if is_ahead]
        return tuple(sorted(set(near) & set(ahead)) or ahead)


def _middle_way(directions: NDArray[np.float64], ways: NDArray[np.bool_]) -> tuple[float, float]:
    """Middle and width (degrees) of the widest run of free directions."""
    count = len(ways)
    step = 360.0 / count
    if ways.all():
        return 0.0, 360.0
    if not ways.any():
        return 0.0, 0.0
    first = int(np.argmin(ways))
    rolled = np.roll(ways, -first)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], rolled, [False]]).astype(np.int8)))
    runs = [(int(end - start), int(start)) for start, end in zip(edges[::2], edges[1::2], strict=True)]
    length, start = max(runs, key=lambda run: (run[0], -run[1]))
    middle = (first + start + (length - 1) / 2) * step
    return float((directions[0] + middle) % 360.0), length * step


def _movable_groups(blocks: NDArray[np.bool_]) -> list[frozenset[int]]:
    """Groups (places) that may leave along one direction: each with everything that lies in its way."""
    count, label = connected_components(blocks, directed=True, connection="strong")
    if count < 2:
        return []
    groups = set()
    for name in range(count):
        start = int(np.argmax(label == name))
        reached = breadth_first_order(blocks, start, directed=True, return_predecessors=False)
        if len(reached) < len(blocks):
            groups.add(frozenset(int(k) for k in reached))
    return sorted(groups, key=lambda group: (-len(group), sorted(group)))


def _is_touching(contact_mm: NDArray[np.float64], members: Sequence[int]) -> bool:
    """Whether pieces hang together by contacts."""
    if len(members) < 2:
        return True
    part = contact_mm[np.ix_(list(members), list(members))] >= LEAST_CONTACT_MM
    return int(connected_components(part, directed=False, return_labels=False)) == 1


def _touching_groups(contact_mm: NDArray[np.float64], members: Iterable[int]) -> list[list[int]]:
    """Pieces by group of those that hang together, the largest first."""
    names = list(members)
    if not names:
        return []
    part = contact_mm[np.ix_(names, names)] >= LEAST_CONTACT_MM
    _, label = connected_components(part, directed=False)
    groups = [[names[k] for k in np.flatnonzero(label == one)] for one in np.unique(label)]
    return sorted(groups, key=lambda group: (-len(group), group))


def _hops(contact_mm: NDArray[np.float64], seed: int, members: Collection[int]) -> dict[int, int]:
    """How many contacts lie between the seed and each piece."""
    hops, queue = {seed: 0}, [seed]
    while queue:
        here = queue.pop(0)
        for other in sorted(members):
            if other not in hops and contact_mm[here, other] >= LEAST_CONTACT_MM:
                hops[other] = hops[here] + 1
                queue.append(other)
    return hops
