"""Vessel numbers that stay put: a new proposal keeps the numbers of the one before where it can.

Who sorts again after an answer should find vessel 1 where it was on the table.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import linear_sum_assignment

if TYPE_CHECKING:
    from motifs.workflows.sorting import LotSorting


def keep_labels(fresh: LotSorting, earlier: LotSorting | None) -> LotSorting:
    """Renumber a proposal's vessels so that as many sherds as can be keep their number.

    Numbers stay 0..vessels-1 without gaps; nothing else changes. Without an earlier proposal it comes back as it is.
    """
    if earlier is None or fresh.vessels == 0:
        return fresh
    new_number = _best_numbers(fresh, earlier)

    def renumbered(vessel: int | None) -> int | None:
        return None if vessel is None else new_number[vessel]

    return replace(
        fresh,
        assignments=tuple(
            replace(placed, vessel=renumbered(placed.vessel), next_best=renumbered(placed.next_best))
            for placed in fresh.assignments
        ),
    )


def _best_numbers(fresh: LotSorting, earlier: LotSorting) -> list[int]:
    """New number of each vessel: the assignment that shares most sherds (Hungarian method, as scipy has it)."""
    shared = np.zeros((fresh.vessels, fresh.vessels), dtype=np.int64)
    before = {placed.sherd: placed.vessel for placed in earlier.assignments}
    for placed in fresh.assignments:
        old = before.get(placed.sherd)
        if placed.vessel is not None and old is not None and old < fresh.vessels:
            shared[placed.vessel, old] += 1
    _, numbers = linear_sum_assignment(shared, maximize=True)
    return [int(number) for number in numbers]
