"""Measures of an answer against the truth.

The adjusted Rand index is scikit-learn's (Hubert & Arabie 1985, J. Classification 2:193-218); average
precision follows Manning, Raghavan & Schütze 2008, Introduction to Information Retrieval, section 8.4.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from sklearn.metrics import adjusted_rand_score

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

SURE = 0.9


@dataclass(frozen=True)
class SortMarks:
    """One sorted lot. Shares are 0..1; sure_wrong and sure count sherds with support over SURE."""

    ari: float
    pairs_wrongly_joined: float
    pairs_wrongly_split: float
    unassigned: float
    vessels: int
    pots: int
    is_count_right: bool
    is_range_right: bool
    sure: int
    sure_wrong: int
    sherds: int


def ari_with_unassigned(pots: Sequence[str], vessels: Sequence[int | None]) -> float:
    """Adjusted Rand index, each unassigned sherd counted as a vessel of its own."""
    alone = [f"alone-{k}" if vessel is None else str(vessel) for k, vessel in enumerate(vessels)]
    return float(adjusted_rand_score(list(pots), alone))


def wrong_pairs(pots: Sequence[str], vessels: Sequence[int | None]) -> tuple[float, float]:
    """Share of unlike pairs wrongly joined and share of like pairs wrongly split (unassigned splits)."""
    joined = split = like = unlike = 0
    for (pot_a, vessel_a), (pot_b, vessel_b) in combinations(zip(pots, vessels, strict=True), 2):
        together = vessel_a is not None and vessel_a == vessel_b
        if pot_a == pot_b:
            like, split = like + 1, split + (not together)
        else:
            unlike, joined = unlike + 1, joined + together
    return joined / max(unlike, 1), split / max(like, 1)


def wrong_sherds(pots: Sequence[str], vessels: Sequence[int | None]) -> list[bool]:
    """Assigned sherds whose vessel belongs, by majority, to another pot."""
    owner: dict[int, str] = {}
    for vessel in {v for v in vessels if v is not None}:
        owner[vessel] = Counter(pot for pot, v in zip(pots, vessels, strict=True) if v == vessel).most_common(1)[0][0]
    return [vessel is not None and owner[vessel] != pot for pot, vessel in zip(pots, vessels, strict=True)]


def mark_sorting(
    pots: Sequence[str], vessels: Sequence[int | None], support: Sequence[float], count: int, count_range: Sequence[int]
) -> SortMarks:
    """All marks of one lot; the sequences are in one order of sherds."""
    joined, split = wrong_pairs(pots, vessels)
    wrong = wrong_sherds(pots, vessels)
    sure = [k for k in range(len(pots)) if support[k] > SURE and vessels[k] is not None]
    true = len(set(pots))
    return SortMarks(
        ari=ari_with_unassigned(pots, vessels),
        pairs_wrongly_joined=joined,
        pairs_wrongly_split=split,
        unassigned=sum(v is None for v in vessels) / max(len(vessels), 1),
        vessels=count,
        pots=true,
        is_count_right=count == true,
        is_range_right=count_range[0] <= true <= count_range[1],
        sure=len(sure),
        sure_wrong=sum(wrong[k] for k in sure),
        sherds=len(pots),
    )


def average_precision(ranked: Sequence[str], relevant: Collection[str]) -> float:
    """Average precision; a relevant sherd that is not in the ranking counts as never found."""
    hits, total = 0, 0.0
    for rank, key in enumerate(ranked, 1):
        if key in relevant:
            hits += 1
            total += hits / rank
    return total / len(relevant) if relevant else float("nan")


def shares_motif(a: Mapping[str, float], b: Mapping[str, float], least: float = 0.1) -> bool:
    """Whether one motif covers at least a tenth of both sherds."""
    return any(a[name] >= least and b.get(name, 0) >= least for name in a)


def mean_and_error(values: Sequence[float]) -> tuple[float, float]:
    """Mean and its standard error (nan for fewer than two values)."""
    known = np.array([v for v in values if not np.isnan(v)])
    if not len(known):
        return float("nan"), float("nan")
    error = float(known.std(ddof=1) / np.sqrt(len(known))) if len(known) > 1 else float("nan")
    return float(known.mean()), error
