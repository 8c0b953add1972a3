"""Change through periods: what rises, what falls, and where the break lies.

References
----------
Newcombe, R. G. 1998. Interval estimation for the difference between independent proportions: comparison of
eleven methods. Statistics in Medicine 17, 873-890 (method 10).
Cochran 1954; Armitage, P. 1955. Tests for linear trends in proportions and frequencies. Biometrics 11.
(Named from memory.)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtr
from scipy.stats import false_discovery_control

from motifs.errors import InputError
from motifs.sites.checks import FloatArray, IntArray, at_least, named_some, open_share, whole_counts
from motifs.sites.diversity import share_interval
from motifs.sites.similarity import PermutedPair, permute_pair
from motifs.sites.tables import CountTable, without_empty

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True)
class MotifChange:
    """Change of a motif's share from one period to the next, -1..1, with its interval."""

    motif: str
    share_before: float
    share_after: float
    change: float
    low: float
    high: float

    @property
    def is_clear(self) -> bool:
        """Whether the interval leaves out no change at all."""
        return self.low > 0 or self.high < 0


@dataclass(frozen=True, slots=True)
class PeriodStep:
    """One period against the next: likeness with its test, and motifs by size of change."""

    earlier: str
    later: str
    likeness: PermutedPair
    changes: tuple[MotifChange, ...]


@dataclass(frozen=True, slots=True)
class MotifTrend:
    """A motif's trend over all periods.

    z, p_value: Cochran-Armitage test, z > 0 for rising. adjusted_p_value: for the false discovery rate over
    all motifs. first, last: periods it was seen in. peak: period of its largest share.
    """

    motif: str
    z: float
    p_value: float
    adjusted_p_value: float
    first: str
    last: str
    peak: str


@dataclass(frozen=True, slots=True)
class PeriodChange:
    """Change over an ordered set of periods. break_after: the earlier period of the least alike neighbours."""

    periods: tuple[str, ...]
    steps: tuple[PeriodStep, ...]
    trends: tuple[MotifTrend, ...]
    break_after: str
    unit: str
    warnings: tuple[str, ...] = ()


def change_through_periods(
    table: CountTable,
    *,
    years: Mapping[str, float] | None = None,
    permutations: int = 999,
    seed: int = 0,
    confidence: float = 0.95,
) -> PeriodChange:
    """Describe change over a table whose rows are periods, earliest first.

    Parameters
    ----------
    table
        Whole counts, periods down in order of time; periods with no counts are left out and named.
    years
        A date for each period, for trends along real time; without it periods count as evenly spaced.
    permutations, seed
        Of the test between neighbouring periods.
    confidence
        Of the intervals, between 0 and 1.

    Raises
    ------
    InputError
        Fractional counts, fewer than two periods, a period without a date, or dates that do not rise.
    """
    kept, dropped, _ = without_empty(table)
    counts = whole_counts(kept.counts, "table")
    if len(kept.sites) < 2:
        raise InputError("Change needs two periods with counts; this table has one.")
    times = _times(kept.sites, years)
    steps = tuple(_step(kept, counts, row, permutations, seed, confidence) for row in range(len(kept.sites) - 1))
    lowest = min(steps, key=lambda step: step.likeness.similarity)
    notes = kept.warnings + ((f"Nothing counted in {named_some(dropped)}: left out.",) if dropped else ())
    if "sherd" in table.unit:
        notes += ("Sherds of one pot are not independent: intervals and p are too small. Compare vessel counts.",)
    trends = _trends(kept, counts, times)
    return PeriodChange(kept.sites, steps, trends, lowest.earlier, table.unit, notes)


def share_difference(
    before: int, before_total: int, after: int, after_total: int, *, confidence: float = 0.95
) -> tuple[float, float, float]:
    """Return after/total - before/total with its interval (Newcombe 1998, method 10: from Wilson limits).

    Returns
    -------
    Difference, lower and upper limit, each -1..1.

    Raises
    ------
    InputError
        Counts out of range.
    """
    one = share_interval(before, before_total, confidence=confidence)
    two = share_interval(after, after_total, confidence=confidence)
    change = two.share - one.share
    low = change - math.hypot(two.share - two.low, one.high - one.share)
    high = change + math.hypot(two.high - two.share, one.share - one.low)
    return change, low, high


def trend_z(counts: ArrayLike, totals: ArrayLike, times: ArrayLike) -> float:
    """Return the Cochran-Armitage statistic of shares counts / totals along times; > 0 for rising.

    Parameters
    ----------
    counts, totals, times
        (T,) pieces with the motif, pieces counted, and time of each period.

    Raises
    ------
    InputError
        Lengths differ, a count above its total, nothing counted, all times equal, or a motif that none or all
        of the pieces carry.
    """
    seen, size, when = (np.asarray(values, dtype=np.float64) for values in (counts, totals, times))
    if not (seen.ndim == 1 and seen.shape == size.shape == when.shape):
        raise InputError("trend: give one count, one total and one time for each period.")
    if (seen < 0).any() or (seen > size).any() or size.sum() <= 0:
        raise InputError("trend: each count must lie between 0 and its total, and something must be counted.")
    share = seen.sum() / size.sum()
    spread = (size * when**2).sum() - (size * when).sum() ** 2 / size.sum()
    variance = share * (1 - share) * spread
    if variance <= 0:
        raise InputError("trend: undefined when none or all pieces carry the motif, or all times are equal.")
    return float((when * (seen - share * size)).sum() / math.sqrt(variance))


def _times(periods: tuple[str, ...], years: Mapping[str, float] | None) -> FloatArray:
    if years is None:
        return np.arange(len(periods), dtype=np.float64)
    undated = [name for name in periods if name not in years]
    if undated:
        raise InputError(f"years: period {undated[0]!r} has no date; add it or leave the dates out.")
    times = np.array([float(years[name]) for name in periods])
    if not (np.diff(times) > 0).all():
        raise InputError("years: the dates do not rise with the order of periods; order the periods by date.")
    return times


def _step(table: CountTable, counts: IntArray, row: int, permutations: int, seed: int, confidence: float) -> PeriodStep:
    open_share(confidence, "confidence")
    before, after = counts[row], counts[row + 1]
    likeness = permute_pair(before, after, permutations=at_least(permutations, 1, "permutations"), seed=seed)
    changes = [
        _change(name, int(b), int(before.sum()), int(a), int(after.sum()), confidence)
        for name, b, a in zip(table.motifs, before, after, strict=True)
        if b or a
    ]
    changes.sort(key=lambda change: (-abs(change.change), change.motif))
    return PeriodStep(table.sites[row], table.sites[row + 1], likeness, tuple(changes))


def _change(motif: str, before: int, size_before: int, after: int, size_after: int, confidence: float) -> MotifChange:
    change, low, high = share_difference(before, size_before, after, size_after, confidence=confidence)
    return MotifChange(motif, before / size_before, after / size_after, change, low, high)


def _trends(table: CountTable, counts: IntArray, times: FloatArray) -> tuple[MotifTrend, ...]:
    totals = counts.sum(axis=1)
    # A motif that every piece carries has no trend to test.
    columns = [column for column in range(counts.shape[1]) if counts[:, column].sum() < totals.sum()]
    if not columns:
        return ()
    statistics = np.array([trend_z(counts[:, column], totals, times) for column in columns])
    p_values = 2.0 * ndtr(-np.abs(statistics))
    adjusted = false_discovery_control(p_values)
    return tuple(
        _trend(table, counts, column, float(z), float(p), float(q))
        for column, z, p, q in zip(columns, statistics, p_values, adjusted, strict=True)
    )


def _trend(table: CountTable, counts: IntArray, column: int, z: float, p: float, q: float) -> MotifTrend:
    seen = counts[:, column]
    where = np.flatnonzero(seen)
    peak = int(np.argmax(seen / counts.sum(axis=1)))
    first, last = table.sites[where[0]], table.sites[where[-1]]
    return MotifTrend(table.motifs[column], z, p, q, first, last, table.sites[peak])
