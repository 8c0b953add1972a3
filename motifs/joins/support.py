"""Joins as evidence of one vessel."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from motifs.joins.fits import vessel_llr

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.joins.pieces import Join

NEIGHBOURS: Final = 3.5
"""Usual number of neighbours of a sherd among those kept (practice lots with 5 to 25 % of the pieces lost: 3.6)."""
VESSELS: Final = 2.0
"""Vessels a lot is taken to hold when nothing else is known."""


def joining_share(sherds: int) -> float:
    """Probability that two sherds of one vessel touch, in a lot of so many sherds."""
    return min(NEIGHBOURS / max(sherds / VESSELS - 1, NEIGHBOURS), 0.9)


def join_llrs(joins: Sequence[Join], sherds: int) -> list[tuple[int, int, float]]:
    """Natural-log likelihood ratio of one vessel against two, of every pair with a proposal.

    Form of the edges and paint across the break only, nothing of the colour of the paste: it may be added to that.
    Pairs without a proposal say nothing (0).

    Parameters
    ----------
    joins : proposals of a lot, with a and b.
    sherds : in the lot; sets how likely two sherds of one vessel touch.
    """
    if not joins:
        return []
    llrs = vessel_llr([join.edge_llr for join in joins], joining_share(sherds))
    return [(join.a, join.b, float(llr)) for join, llr in zip(joins, llrs, strict=True)]
