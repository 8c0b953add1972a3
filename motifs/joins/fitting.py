"""Fit a model of joins on lots whose true contacts are known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from sklearn.linear_model import LogisticRegression

from motifs.joins.features import ALL_FEATURES, EDGE_FEATURES
from motifs.joins.fits import FitCurve, JoinModel
from motifs.joins.judging import among_tables, judge, judge_alone
from motifs.joins.proposing import meet
from motifs.joins.rivals import best_of_pairs

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from motifs.joins.pieces import SherdEdge
    from motifs.joins.proposing import Meetings

SURE_MM: Final = 10.0
"""Contacts shorter than this are neither joins nor strangers when fitting."""
ROUNDS: Final = 3
COMMON: Final = (0.005, 0.995)
"""Quantiles between which a feature counts as common."""
_START: Final = {"shared_fine": 1.0, "shared_middle": 1.0, "overlap": -1.0}


@dataclass(frozen=True, slots=True)
class KnownJoins:
    """Meetings of a lot with the truth: contact_mm (rows,) of the pair of each meeting, 0 where they never touched."""

    meetings: Meetings
    contact_mm: NDArray[np.float64]


def known_joins(pieces: Sequence[SherdEdge], contacts_mm: Mapping[tuple[int, int], float]) -> KnownJoins:
    """Meetings of a lot, and how long each pair (a < b) truly touched."""
    meetings = meet(pieces)
    pairs = zip(meetings.contacts.a.tolist(), meetings.contacts.b.tolist(), strict=True)
    return KnownJoins(meetings, np.array([contacts_mm.get(pair, 0.0) for pair in pairs]))


def fit_joins(lots: Sequence[KnownJoins], made_by: str) -> JoinModel:
    """Fit both curves of a model; the same lots give the same model."""
    return JoinModel(_curve(lots, ALL_FEATURES), _curve(lots, EDGE_FEATURES), made_by)


def _curve(lots: Sequence[KnownJoins], names: tuple[str, ...]) -> FitCurve:
    start = tuple(_START.get(name, 0.0) for name in names)
    nothing = (0.0,) * len(names)
    free = (np.inf,) * len(names)
    curve = FitCurve(
        names,
        nothing,
        (1.0,) * len(names),
        tuple(-one for one in free),
        free,
        start,
        0.0,
        (1.0, 0.0, 0.0, 0.0),
        0.0,
        0.0,
    )
    for _ in range(ROUNDS):
        curve = _alone_fitted(lots, curve)
    return _among_fitted(lots, curve)


def _alone_fitted(lots: Sequence[KnownJoins], curve: FitCurve) -> FitCurve:
    """Fit the first step on the likeliest meeting of every pair, as the curve so far sees it."""
    columns = [ALL_FEATURES.index(name) for name in curve.names]
    cases = [_alone_cases(lot, curve) for lot in lots]
    table, truth, weight = (np.concatenate(part) for part in zip(*cases, strict=True))
    table = table[:, columns]
    low, high = np.quantile(table, COMMON, axis=0)
    table = np.clip(table, low, high)
    mean, scale = table.mean(axis=0), table.std(axis=0) + 1e-9
    fitted = LogisticRegression(C=1.0, max_iter=3000).fit((table - mean) / scale, truth, sample_weight=weight)
    share = float((truth * weight).sum() / weight.sum())
    return FitCurve(
        curve.names, _short(mean), _short(scale), _short(low), _short(high), _short(fitted.coef_[0]), float(fitted.intercept_[0]),
        curve.among, curve.among_intercept, float(np.log(share / (1 - share))),
    )  # fmt: skip


def _alone_cases(
    lot: KnownJoins, curve: FitCurve
) -> tuple[NDArray[np.float64], NDArray[np.bool_], NDArray[np.float64]]:
    """Features, truth and weight of the best meetings and the best decoys of a lot."""
    meetings = lot.meetings
    rows = best_of_pairs(meetings.contacts, curve.alone(meetings.table))
    rows = rows[_is_clear(lot.contact_mm[rows])]
    decoys = best_of_pairs(meetings.decoys, curve.alone(meetings.decoy_table))
    return _with_decoys(meetings.table[rows], lot.contact_mm[rows] > 0, meetings.decoy_table[decoys])


def _with_decoys(
    table: NDArray[np.float64], is_join: NDArray[np.bool_], decoys: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_], NDArray[np.float64]]:
    """Strangers and decoys share the weight that strangers alone would have, so that odds stay those among meetings."""
    strangers = float((~is_join).sum())
    shared = strangers / max(strangers + len(decoys), 1.0)
    weight = np.where(np.concatenate([is_join, np.zeros(len(decoys), np.bool_)]), 1.0, shared)
    return np.concatenate([table, decoys]), np.concatenate([is_join, np.zeros(len(decoys), np.bool_)]), weight


def _among_fitted(lots: Sequence[KnownJoins], curve: FitCurve) -> FitCurve:
    cases = []
    for lot in lots:
        alone = judge_alone(lot.meetings, curve)
        table, decoys = among_tables(lot.meetings, alone)
        clear = _is_clear(lot.contact_mm[alone.rows])
        cases.append(_with_decoys(table[clear], lot.contact_mm[alone.rows][clear] > 0, decoys))
    table, truth, weight = (np.concatenate(part) for part in zip(*cases, strict=True))
    fitted = LogisticRegression(C=10.0, max_iter=3000).fit(table, truth, sample_weight=weight)
    return FitCurve(
        curve.names, curve.mean, curve.scale, curve.low, curve.high, curve.weights, curve.intercept,
        _short(fitted.coef_[0]), float(fitted.intercept_[0]), curve.base_odds,
    )  # fmt: skip


def _is_clear(contact_mm: NDArray[np.float64]) -> NDArray[np.bool_]:
    return np.asarray((contact_mm == 0) | (contact_mm >= SURE_MM))


def _short(values: NDArray[np.float64]) -> tuple[float, ...]:
    return tuple(float(f"{value:.5g}") for value in values)


@dataclass(frozen=True, slots=True)
class JoinFigures:
    """How well proposals of one lot agree with the truth, as the issue counts it.

    first, among_5: share of sherds with a true neighbour along 15 mm or more for which one is first, or among the first 5.
    sherds: of such sherds. sure, sure_right: proposals with fit over 0.9, and those that truly touched.
    """

    first: float
    among_5: float
    sherds: int
    sure: int
    sure_right: int


def figures(
    lot: KnownJoins, model: JoinModel, contacts_mm: Mapping[tuple[int, int], float], least_mm: float = 15.0
) -> JoinFigures:
    """Rank every sherd's proposals and count."""
    judged = judge(lot.meetings, model.fit)
    odds, rows = judged.odds, judged.rows
    contacts = lot.meetings.contacts.taken(rows)
    ranks = []
    for sherd in range(len(lot.meetings.paths)):
        true = {p + q - sherd for (p, q), length in contacts_mm.items() if length >= least_mm and sherd in (p, q)}
        mine = np.flatnonzero((contacts.a == sherd) | (contacts.b == sherd))
        order = mine[np.argsort(-odds[mine], kind="stable")]
        others = (contacts.a[order] + contacts.b[order] - sherd).tolist()
        if true:
            ranks.append(min((others.index(one) for one in true if one in others), default=len(others)))
    sure = odds > np.log(9.0)
    rank = np.array(ranks)
    return JoinFigures(
        float((rank < 1).mean()), float((rank < 5).mean()), len(rank), int(sure.sum()),
        int((lot.contact_mm[rows][sure] > 0).sum()),
    )  # fmt: skip
