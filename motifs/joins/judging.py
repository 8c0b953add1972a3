"""Which meetings are joins: the meeting alone, then among its rivals and in loops, both steps adapted to the lot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from motifs.joins.adapting import adapted_weights
from motifs.joins.fits import among_table, probability, told_nats
from motifs.joins.loops import loop_odds
from motifs.joins.rivals import best_of_pairs, rivals_of
from motifs.joins.support import NEIGHBOURS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.joins.alignment import Contacts
    from motifs.joins.fits import FitCurve
    from motifs.joins.paths import EdgePath

ALONE_STIFFNESS: Final = 60.0
AMONG_STIFFNESS: Final = 40.0
"""Precision of the weights of either step about those of practice lots (chosen on practice lots and tune seeds)."""
ADAPTED_TWICE: Final = 2
MOST_SHARE: Final = 0.3
USUAL_ROWS: Final = 200
"""How many meetings' worth the usual share of joins counts beside the lot's own."""


class LotMeetings(Protocol):
    """What is judged; see `proposing.Meetings`."""

    @property
    def paths(self) -> tuple[EdgePath, ...]:
        """The n edges."""
        ...

    @property
    def contacts(self) -> Contacts:
        """Meetings of the edges."""
        ...

    @property
    def table(self) -> NDArray[np.float64]:
        """Features of the meetings."""
        ...

    @property
    def decoys(self) -> Contacts:
        """Meetings with mirror images."""
        ...

    @property
    def decoy_table(self) -> NDArray[np.float64]:
        """Features of the decoys."""
        ...


@dataclass(frozen=True, slots=True)
class Alone:
    """First step: likeliest meeting of every pair, and of every pair with a mirror image, with natural-log odds of each."""

    rows: NDArray[np.intp]
    odds: NDArray[np.float64]
    decoy_rows: NDArray[np.intp]
    decoy_odds: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Judged:
    """rows: the meeting judged of every pair. odds: natural log, that the pair touched. llr: the same less the lot's usual odds."""

    rows: NDArray[np.intp]
    odds: NDArray[np.float64]
    llr: NDArray[np.float64]


def judge(meetings: LotMeetings, curve: FitCurve, rows: NDArray[np.intp] | None = None) -> Judged:
    """Judge the likeliest meeting of every pair, or the given `rows`."""
    alone = judge_alone(meetings, curve, rows)
    table, decoy_table = among_tables(meetings, alone)
    weights, intercept = adapted_weights(
        table,
        decoy_table,
        np.array(curve.among),
        curve.among_intercept,
        AMONG_STIFFNESS,
        usual_share(len(meetings.paths), len(table)),
    )
    odds = table @ weights + intercept
    share = (probability(odds).sum() + USUAL_ROWS * probability(np.array(curve.base_odds))) / (len(odds) + USUAL_ROWS)
    return Judged(alone.rows, odds, odds - float(np.log(share / (1 - share))))


def judge_alone(meetings: LotMeetings, curve: FitCurve, rows: NDArray[np.intp] | None = None) -> Alone:
    """Judge meetings by themselves, the weights moved to what the lot's decoys show."""
    table, decoy_table = curve.standard(meetings.table), curve.standard(meetings.decoy_table)
    most, decoy_most = (curve.base_odds + told_nats(one) for one in (meetings.table, meetings.decoy_table))
    start = np.array(curve.weights)
    weights, intercept = start, curve.intercept
    for again in range(ADAPTED_TWICE + 1):
        odds = np.minimum(table @ weights + intercept, most)
        decoy_odds = np.minimum(decoy_table @ weights + intercept, decoy_most)
        best = best_of_pairs(meetings.contacts, odds) if rows is None else rows
        decoys = best_of_pairs(meetings.decoys, decoy_odds)
        if again < ADAPTED_TWICE:
            weights, intercept = adapted_weights(
                table[best],
                decoy_table[decoys],
                start,
                curve.intercept,
                ALONE_STIFFNESS,
                usual_share(len(meetings.paths), len(best)),
            )
    return Alone(best, odds[best], decoys, decoy_odds[decoys])


def usual_share(sherds: int, pairs: int) -> float:
    """Share of joins that is usual among the pairs of a lot that met."""
    return min(0.5 * NEIGHBOURS * sherds / max(pairs, 1), MOST_SHARE)


def among_tables(meetings: LotMeetings, alone: Alone) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """What the second step looks at, of meetings and of decoys."""
    contacts, decoys = meetings.contacts.taken(alone.rows), meetings.decoys.taken(alone.decoy_rows)
    loops, decoy_loops = loop_odds(meetings.paths, contacts, alone.odds, decoys, alone.decoy_odds)
    rivals = rivals_of(meetings.paths, contacts, contacts, alone.odds)
    decoy_rivals = rivals_of(meetings.paths, decoys, contacts, alone.odds)
    return among_table(alone.odds, rivals, loops), among_table(alone.decoy_odds, decoy_rivals, decoy_loops)
