"""Chi-square for a table of counts, always with what speaks against it.

Chi-square takes every counted piece as independent. Sherds are not: one pot breaks into many. On sherd
counts a difference therefore looks surer than it is; vessel counts, or resampling whole vessels
(`resampling.py`), mend that.

References
----------
Pearson 1900; Yates, F. 1934. JRSS Supplement 1; Fisher 1922; Cramér 1946 (V). Cochran, W. G. 1954.
Biometrics 10 (the rule of one fifth below 5). Patefield, W. M. 1981. Applied Statistics 30, AS 159 (random
tables with given margins). Named from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2, fisher_exact, random_table
from scipy.stats.contingency import chi2_contingency

from motifs.errors import InputError
from motifs.sites.checks import FloatArray, at_least, named_some, whole_counts
from motifs.sites.ordination import expected_counts
from motifs.sites.tables import CountTable, without_empty

LOW_EXPECTED = 5.0
LOW_SHARE = 0.2
CHUNK_CELLS = 4_000_000


@dataclass(frozen=True, slots=True)
class TwoByTwo:
    """What a 2 x 2 table has besides: Yates' corrected chi-square, Fisher's exact p and the odds ratio."""

    yates_statistic: float
    yates_p_value: float
    fisher_p_value: float
    odds_ratio: float


@dataclass(frozen=True, slots=True)
class IndependenceTest:
    """Chi-square test of a table.

    statistic, degrees, p_value: Pearson's. expected: (S, M) counts expected from the margins. residuals:
    (S, M) Pearson residuals, (observed - expected) / sqrt(expected). low_expected_share: share of cells with
    an expected count below 5, 0..1. cramers_v: strength, 0..1. two_by_two: for 2 x 2 tables, else None.
    permutation_p_value: (k + 1) / (n + 1) over tables with the same margins, None when not asked for.
    """

    statistic: float
    degrees: int
    p_value: float
    expected: FloatArray
    residuals: FloatArray
    low_expected_share: float
    cramers_v: float
    sites: tuple[str, ...]
    motifs: tuple[str, ...]
    unit: str
    two_by_two: TwoByTwo | None = None
    permutation_p_value: float | None = None
    permutations: int = 0
    warnings: tuple[str, ...] = ()


def independence_test(table: CountTable, *, permutations: int = 0, seed: int = 0) -> IndependenceTest:
    """Test whether motifs are spread over sites as the margins alone would have it.

    Parameters
    ----------
    table
        Whole counts; empty sites and motifs are left out and named.
    permutations
        0, or the number of random tables with the same margins for an exact-like p-value.
    seed
        Of the random tables.

    Raises
    ------
    InputError
        Fractional counts, or fewer than two sites or motifs with counts.
    """
    kept, no_sites, no_motifs = without_empty(table)
    whole_counts(kept.counts, "table")
    if min(kept.counts.shape) < 2:
        raise InputError("Chi-square needs two sites and two motifs with counts.")
    expected = expected_counts(kept.counts)
    residuals = (kept.counts - expected) / np.sqrt(expected)
    statistic, degrees = float((residuals**2).sum()), (expected.shape[0] - 1) * (expected.shape[1] - 1)
    low = float((expected < LOW_EXPECTED).mean())
    permuted = _permutation_p_value(kept.counts, statistic, permutations, seed) if permutations else None
    return IndependenceTest(
        statistic=statistic,
        degrees=degrees,
        p_value=float(chi2.sf(statistic, degrees)),
        expected=expected,
        residuals=residuals,
        low_expected_share=low,
        cramers_v=math.sqrt(statistic / (kept.counts.sum() * (min(expected.shape) - 1))),
        sites=kept.sites,
        motifs=kept.motifs,
        unit=table.unit,
        two_by_two=_two_by_two(kept.counts) if expected.shape == (2, 2) else None,
        permutation_p_value=permuted,
        permutations=permutations,
        warnings=kept.warnings + _caveats(table.unit, low, permuted is not None, no_sites, no_motifs),
    )


def _two_by_two(counts: FloatArray) -> TwoByTwo:
    yates = chi2_contingency(counts, correction=True)
    fisher = fisher_exact(counts.astype(np.int64))
    return TwoByTwo(float(yates.statistic), float(yates.pvalue), float(fisher.pvalue), float(fisher.statistic))


def _permutation_p_value(counts: FloatArray, statistic: float, permutations: int, seed: int) -> float:
    count = at_least(permutations, 1, "permutations")
    rng = np.random.default_rng(seed)
    expected = expected_counts(counts)
    tables = random_table(counts.sum(axis=1).astype(np.int64), counts.sum(axis=0).astype(np.int64))
    size = max(1, CHUNK_CELLS // counts.size)
    at_least_as_far = 0
    for start in range(0, count, size):
        drawn = tables.rvs(size=min(size, count - start), random_state=rng)
        far = ((drawn - expected) ** 2 / expected).sum(axis=(1, 2))
        at_least_as_far += int(np.count_nonzero(far >= statistic * (1 - 1e-12)))
    return (at_least_as_far + 1) / (count + 1)


def _caveats(
    unit: str, low: float, is_permuted: bool, no_sites: tuple[str, ...], no_motifs: tuple[str, ...]
) -> tuple[str, ...]:
    notes = []
    if "sherd" in unit:
        notes.append("Sherds of one pot are not independent: p is too small. Compare with vessel counts.")
    if low > LOW_SHARE:
        advice = "read the permutation p-value." if is_permuted else "ask for permutations, or merge rare motifs."
        notes.append(f"{low:.0%} of the expected counts are below 5: {advice}")
    if no_sites:
        notes.append(f"Nothing counted at {named_some(no_sites)}: left out.")
    if no_motifs:
        notes.append(f"Motifs never seen, left out: {named_some(no_motifs)}.")
    return tuple(notes)
