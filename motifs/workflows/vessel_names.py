"""What the vessels of a proposal are called on the table.

Proposals number their vessels from 0, as JSON does; people count from 1, and a name that a person gave goes before any number.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from motifs.catalogue import AttributionRow, LinkRow, LockRow
    from motifs.workflows.sorting import LotSorting


def table_name(vessel: int) -> str:
    """Name of a proposed vessel that nobody named: its number, counted from 1."""
    return str(vessel + 1)


def vessel_names(
    proposed: LotSorting,
    judged: Mapping[str, AttributionRow],
    links: Sequence[LinkRow],
    locks: Sequence[LockRow] = (),
) -> dict[int, str]:
    """Name of each proposed vessel: the one people gave most clearly to its sherds, or else its number on the table, from 1."""
    claims = _claims(proposed, judged, links, locks)
    names: dict[int, str] = {}
    for vessel, name in sorted(claims, key=claims.__getitem__, reverse=True):
        if vessel not in names and name not in names.values():
            names[vessel] = name
    taken = {judgement.vessel for judgement in judged.values()} | {lock.vessel for lock in locks} | set(names.values())
    for vessel in range(proposed.vessels):
        if vessel not in names:
            own = table_name(vessel)
            free = own if own not in taken else _next_free(taken, proposed.vessels + 1)
            names[vessel] = free
            taken.add(free)
    return dict(sorted(names.items()))


def _claims(
    proposed: LotSorting, judged: Mapping[str, AttributionRow], links: Sequence[LinkRow], locks: Sequence[LockRow]
) -> dict[tuple[int, str], tuple[int, ...]]:
    """How well a name fits a proposed vessel: sherds locked in it, judged sherds that the sort knew of, the same number, sherds told to go with them."""
    at = {placed.sherd: placed for placed in proposed.assignments}
    claims: dict[tuple[int, str], list[int]] = {}
    for lock in locks:
        for number in lock.sherds:
            placed = at.get(number)
            if placed is not None and placed.vessel is not None:
                claims.setdefault((placed.vessel, lock.vessel), [0, 0, 0, 0])[0] += 1
    beside = _told_same(links)
    for number, judgement in judged.items():
        name, placed = judgement.vessel, at.get(number)
        if name is None:
            continue
        if placed is not None and placed.vessel is not None and placed.attributed == name:
            claims.setdefault((placed.vessel, name), [0, 0, 0, 0])[1] += 1
        for other in beside.get(number, ()):
            near = at.get(other)
            if near is not None and near.vessel is not None:
                claims.setdefault((near.vessel, name), [0, 0, 0, 0])[3] += 1
        for vessel in range(proposed.vessels):
            if table_name(vessel) == name:
                claims.setdefault((vessel, name), [0, 0, 0, 0])[2] = 1
    return {key: tuple(counts) for key, counts in claims.items()}


def _told_same(links: Sequence[LinkRow]) -> dict[str, list[str]]:
    beside: dict[str, list[str]] = {}
    for link in links:
        if link.relation == "same":
            beside.setdefault(link.a, []).append(link.b)
            beside.setdefault(link.b, []).append(link.a)
    return beside


def _next_free(taken: Collection[str | None], start: int) -> str:
    number = start
    while str(number) in taken:
        number += 1
    return str(number)
