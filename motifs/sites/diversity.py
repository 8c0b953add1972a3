"""How many motifs, how evenly, and what a sample of another size would have shown.

References
----------
Hurlbert, S. H. 1971. The nonconcept of species diversity. Ecology 52 (rarefaction).
Simpson, E. H. 1949. Measurement of diversity. Nature 163. Shannon 1948. Pielou 1966 (evenness).
Wilson, E. B. 1927. JASA 22; Clopper & Pearson 1934. Biometrika 26 (intervals). Named from memory.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import pandas as pd
from scipy.special import entr, gammaln, ndtri
from scipy.stats import binomtest

from motifs.errors import InputError
from motifs.sites.checks import SMALL_SAMPLE, FloatArray, at_least, count_vector, open_share, whole_counts
from motifs.sites.tables import CountTable, without_empty

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

LogBase = Literal["e", "2", "10"]
IntervalMethod = Literal["wilson", "clopper-pearson"]

_BASES: dict[str, float] = {"e": math.e, "2": 2.0, "10": 10.0}


@dataclass(frozen=True, slots=True)
class Diversity:
    """Diversity of one site.

    total: pieces counted. richness: motifs seen. shannon: entropy in the units of log_base ("e", "2", "10").
    evenness: shannon over its largest value, 0..1, None for one motif. simpson: 1 - sum p², 0..1.
    simpson_unbiased: 1 - sum n(n-1) / N(N-1), None for fewer than two pieces or fractional counts.
    """

    total: float
    richness: int
    shannon: float
    log_base: str
    evenness: float | None
    simpson: float
    simpson_unbiased: float | None
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ShareInterval:
    """A share with its confidence interval; share, low, high in 0..1."""

    count: int
    total: int
    share: float
    low: float
    high: float
    method: str
    confidence: float


def richness(counts: ArrayLike) -> int:
    """Return the number of motifs with a count above zero."""
    return int(np.count_nonzero(count_vector(counts)))


def shannon(counts: ArrayLike, log_base: LogBase = "e") -> float:
    """Return Shannon's entropy of the shares, 0 or more, in the units of the log base.

    Raises
    ------
    InputError
        Not counts, or an unknown log base.
    """
    if log_base not in _BASES:
        raise InputError(f"log base {log_base!r} is not known; choose one of {', '.join(_BASES)}.")
    vector = count_vector(counts)
    return float(entr(vector / vector.sum()).sum() / math.log(_BASES[log_base]))


def evenness(counts: ArrayLike) -> float | None:
    """Return Pielou's evenness, 0..1; None when only one motif was seen."""
    seen = richness(counts)
    return shannon(counts) / math.log(seen) if seen > 1 else None


def simpson(counts: ArrayLike) -> float:
    """Return 1 - sum p², the chance that two draws (put back) show different motifs."""
    vector = count_vector(counts)
    return float(1.0 - ((vector / vector.sum()) ** 2).sum())


def simpson_unbiased(counts: ArrayLike) -> float:
    """Return 1 - sum n(n-1) / N(N-1), for whole counts of two pieces or more.

    Raises
    ------
    InputError
        Fewer than two pieces, or fractional counts.
    """
    vector = whole_counts(count_vector(counts)).astype(np.float64)
    total = float(vector.sum())
    if total < 2:
        raise InputError("counts: one piece only; the unbiased Simpson index needs two or more.")
    return float(1.0 - (vector * (vector - 1)).sum() / (total * (total - 1)))


def measure_diversity(counts: ArrayLike, *, log_base: LogBase = "e") -> Diversity:
    """Measure one site.

    Parameters
    ----------
    counts
        (M,) counts, 0 or more, not all zero.
    log_base
        Of Shannon's entropy; printed with it always.
    """
    vector = count_vector(counts)
    total = float(vector.sum())
    is_countable = total >= 2 and np.array_equal(np.rint(vector), vector)
    note = f"{total:g} pieces, fewer than {SMALL_SAMPLE}: richness and entropy come out too low."
    return Diversity(
        total=total,
        richness=richness(vector),
        shannon=shannon(vector, log_base),
        log_base=log_base,
        evenness=evenness(vector),
        simpson=simpson(vector),
        simpson_unbiased=simpson_unbiased(vector) if is_countable else None,
        warnings=(note,) if total < SMALL_SAMPLE else (),
    )


def diversity_frame(table: CountTable, *, log_base: LogBase = "e") -> pd.DataFrame:
    """Return one row a site with every measure; sites with no counts are left out."""
    kept, _, _ = without_empty(table)
    rows = [asdict(measure_diversity(row, log_base=log_base)) for row in kept.counts]
    frame = pd.DataFrame(rows, index=pd.Index(kept.sites, name="site"))
    frame.insert(0, "unit", table.unit)
    return frame


def rarefied_richness(counts: ArrayLike, sizes: ArrayLike) -> FloatArray:
    """Return the richness expected in random samples of the given sizes (Hurlbert 1971).

    Parameters
    ----------
    counts
        (M,) whole counts of one site, N together.
    sizes
        (K,) whole sample sizes, 0..N.

    Returns
    -------
    (K,) float64, 0..richness; at size N exactly the richness. Binomials go through log-gamma, so that large N
    neither overflows nor rounds away (relative error about 1e-9 for a million pieces).

    Raises
    ------
    InputError
        Fractional counts, or a size below 0 or above N.
    """
    seen = whole_counts(count_vector(counts)).astype(np.float64)
    seen = seen[seen > 0]
    total = float(seen.sum())
    wanted = np.atleast_1d(np.asarray(sizes, dtype=np.float64))
    outside = wanted[~((wanted >= 0) & (wanted <= total) & (np.rint(wanted) == wanted))]
    if outside.size:
        raise InputError(f"sample size {outside[0]:g} must be a whole number from 0 to the {total:g} pieces counted.")
    absent = _chance_absent(seen[None, :], total, wanted[:, None])
    expected: FloatArray = (1.0 - absent).sum(axis=1)
    return expected


def rarefaction_frame(table: CountTable, size: int | None = None) -> pd.DataFrame:
    """Compare richness at one sample size: the smallest site's unless given.

    Returns
    -------
    Frame by site: total, richness, size, expected (NaN where the site is smaller than the size).
    """
    kept, _, _ = without_empty(table)
    totals = kept.counts.sum(axis=1)
    chosen = int(totals.min()) if size is None else at_least(size, 0, "sample size")
    expected = [
        float(rarefied_richness(row, [chosen])[0]) if total >= chosen else math.nan
        for row, total in zip(kept.counts, totals, strict=True)
    ]
    seen = np.count_nonzero(kept.counts, axis=1)
    return pd.DataFrame(
        {"total": totals, "richness": seen, "size": chosen, "expected": expected},
        index=pd.Index(kept.sites, name="site"),
    )


def share_interval(
    count: int, total: int, *, method: IntervalMethod = "wilson", confidence: float = 0.95
) -> ShareInterval:
    """Return count / total with its interval.

    Parameters
    ----------
    count, total
        Whole numbers, 0 <= count <= total, total >= 1.
    method
        "wilson" (near its nominal confidence on average) or "clopper-pearson" (never below it, wider).
    confidence
        Two-sided, between 0 and 1.

    Raises
    ------
    InputError
        Numbers out of range, or an unknown method.
    """
    count, total = at_least(count, 0, "count"), at_least(total, 1, "total")
    if count > total:
        raise InputError(f"count {count} is more than the total {total}.")
    if method not in ("wilson", "clopper-pearson"):
        raise InputError(f"interval method {method!r} is not known; choose wilson or clopper-pearson.")
    scipy_name = "exact" if method == "clopper-pearson" else "wilson"
    limits = binomtest(count, total).proportion_ci(open_share(confidence, "confidence"), method=scipy_name)
    low, high = max(0.0, float(limits.low)), min(1.0, float(limits.high))
    return ShareInterval(count, total, count / total, low, high, method, confidence)


def normal_half_width(share: float, total: int, *, confidence: float = 0.95) -> float:
    """Return the half width of the plain normal interval, for planning a sample (not for small counts)."""
    size = at_least(total, 1, "total")
    quantile = float(ndtri((1.0 + open_share(confidence, "confidence")) / 2.0))
    return quantile * math.sqrt(open_share(share, "share") * (1.0 - share) / size)


def _chance_absent(counts: FloatArray, total: float, size: FloatArray) -> FloatArray:
    """Return C(N - n, m) / C(N, m), and 0 where a sample of m cannot miss n pieces."""
    rest = total - counts - size
    is_possible = rest >= 0
    safe = np.where(is_possible, rest, 0.0)
    log_ratio = gammaln(total - counts + 1) - gammaln(safe + 1) - gammaln(total + 1) + gammaln(total - size + 1)
    return np.where(is_possible, np.exp(np.minimum(log_ratio, 0.0)), 0.0)
