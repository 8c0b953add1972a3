"""What only one site has, what sites share, and how far an absence can be trusted.

A motif that was not seen is not a motif that was not there: none in n pieces still leaves room for a share of
up to 1 - (1 - confidence)^(1/n). Every absence here carries that bound.

References
----------
Clopper, C. & Pearson, E. 1934. Biometrika 26 (the bound is their one-sided limit for none of n).
Fisher 1922 (exact test). Named from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.stats import fisher_exact

from motifs.errors import InputError
from motifs.sites.checks import IntArray, at_least, open_share, whole_counts
from motifs.sites.diversity import ShareInterval, share_interval
from motifs.sites.tables import CountTable, without_empty

SHARED = "shared"
UNIQUE = "unique, and rarer elsewhere than here"
UNIQUE_UNSURE = "seen here only, but the samples are too small to call it unique"


@dataclass(frozen=True, slots=True)
class MotifStanding:
    """Where one motif was seen and what that says.

    sites: where it was seen, most pieces first. only_at: the one site, else None. verdict: SHARED, UNIQUE or
    UNIQUE_UNSURE. home: its share with interval at the first of sites. elsewhere_total: pieces counted at
    all other sites together. elsewhere_high: for a motif of one site, the largest share elsewhere that none
    seen still allows (one-sided), else None. smallest_elsewhere: the other site with the fewest pieces and
    the bound there, the widest gap. p_value: Fisher's exact test of home against elsewhere, None if shared.
    """

    motif: str
    sites: tuple[str, ...]
    only_at: str | None
    verdict: str
    home: ShareInterval
    elsewhere_total: int
    elsewhere_high: float | None = None
    smallest_elsewhere: tuple[str, float] | None = None
    p_value: float | None = None


@dataclass(frozen=True, slots=True)
class Standings:
    """Every motif's standing, in the order of the table."""

    motifs: tuple[MotifStanding, ...]
    unit: str
    confidence: float
    warnings: tuple[str, ...] = ()


def absence_bound(total: int, *, confidence: float = 0.95) -> float:
    """Return the largest share that none seen in `total` pieces still allows, 0..1 (one-sided).

    Raises
    ------
    InputError
        Less than one piece, or a confidence outside 0..1.
    """
    return float(-math.expm1(math.log1p(-open_share(confidence, "confidence")) / at_least(total, 1, "total")))


def pieces_needed(share: float, *, chance: float = 0.95) -> int:
    """Return how many pieces show a motif of this share at least once with this chance.

    At 95 %: 59 pieces for a share of 5 %, 299 for 1 %.

    Raises
    ------
    InputError
        A share or chance outside 0..1.
    """
    missed = math.log1p(-open_share(chance, "chance")) / math.log1p(-open_share(share, "share"))
    return math.ceil(missed - 1e-9)


def shared_motifs(table: CountTable, a: str, b: str) -> tuple[str, ...]:
    """Return the motifs seen at both sites, in the order of the table."""
    is_shared = (table.row(a) > 0) & (table.row(b) > 0)
    return tuple(name for name, shared in zip(table.motifs, is_shared, strict=True) if shared)


def motif_standings(table: CountTable, *, confidence: float = 0.95) -> Standings:
    """Say of each motif whether one site alone has it, and how sure that is.

    A motif of one site is called unique only where the largest share that the other sites' samples still
    allow lies below the lower limit of its share at home (Clopper-Pearson).

    Parameters
    ----------
    table
        Whole counts of two sites or more; empty sites and motifs are left out.
    confidence
        Of the intervals, between 0 and 1.

    Raises
    ------
    InputError
        Fractional counts, or fewer than two sites with counts.
    """
    kept, _, _ = without_empty(table)
    counts = whole_counts(kept.counts, "table")
    open_share(confidence, "confidence")
    if len(kept.sites) < 2:
        raise InputError("Unique and shared need two sites with counts; this table has one.")
    standings = tuple(_standing(kept, counts, column, confidence) for column in range(counts.shape[1]))
    notes = kept.warnings
    if "sherd" in table.unit:
        notes = (*notes, "Sherds of one pot are not independent: the bounds are too narrow. Compare vessel counts.")
    return Standings(standings, table.unit, confidence, notes)


def _standing(table: CountTable, counts: IntArray, column: int, confidence: float) -> MotifStanding:
    here = counts[:, column]
    order = [int(i) for i in np.argsort(-here, kind="stable") if here[i] > 0]
    home = order[0]
    totals = counts.sum(axis=1)
    share = share_interval(int(here[home]), int(totals[home]), method="clopper-pearson", confidence=confidence)
    names = tuple(table.sites[i] for i in order)
    elsewhere = int(totals.sum() - totals[home])
    if len(order) > 1:
        return MotifStanding(table.motifs[column], names, None, SHARED, share, elsewhere)
    bound = absence_bound(elsewhere, confidence=confidence)
    others = np.delete(np.arange(len(totals)), home)
    smallest = int(others[np.argmin(totals[others])])
    counted = [[int(here[home]), int(totals[home] - here[home])], [0, elsewhere]]
    return MotifStanding(
        motif=table.motifs[column],
        sites=names,
        only_at=names[0],
        verdict=UNIQUE if bound < share.low else UNIQUE_UNSURE,
        home=share,
        elsewhere_total=elsewhere,
        elsewhere_high=bound,
        smallest_elsewhere=(table.sites[smallest], absence_bound(int(totals[smallest]), confidence=confidence)),
        p_value=float(fisher_exact(counted).pvalue),
    )
