"""Putting sites in an order in which motifs come in, grow, fade and go.

The order is the first axis of a correspondence analysis; reciprocal averaging reaches the same order by
another road and serves as a check. Neither knows which end is early, nor that the order is time: distance,
rank or use can order sites as well. Dates or depths from outside decide that.

References
----------
Hill, M. O. 1973. Reciprocal averaging: an eigenvector method of ordination. Journal of Ecology 61.
Ford, J. A. 1962. A Quantitative Method for Deriving Cultural Chronology (curves of one swelling).
Kendall, M. 1938. A new measure of rank correlation. Biometrika 30. (Named from memory.)
The unimodality measure is this project's own and defined at `unimodality`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import kendalltau

from motifs.errors import InputError
from motifs.sites.checks import FloatArray, IntArray, at_least, count_matrix
from motifs.sites.ordination import Ordination, correspondence_analysis
from motifs.sites.tables import CountTable, without_empty

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

ARCH = 0.8
"""Correlation of axis 2 with the square of axis 1 from which the two are one bent gradient."""

CHUNK_CELLS = 4_000_000
"""Numbers held at once while many orders are tried."""


@dataclass(frozen=True, slots=True)
class Seriation:
    """An order of sites.

    sites: names in order. positions: (S,) their places along the gradient, rising. method: how it was made.
    unimodality: 0..1, see `unimodality`. motif_unimodality: (M,) for each motif of motifs. p_value: see
    `seriation_p_value`, None when not tested. axis_share: share of inertia on the axis, None for other methods.
    """

    sites: tuple[str, ...]
    positions: FloatArray
    motifs: tuple[str, ...]
    method: str
    unimodality: float
    motif_unimodality: FloatArray
    p_value: float | None = None
    permutations: int = 0
    axis_share: float | None = None
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RankAgreement:
    """Kendall's tau-b between an order and an outside sequence, -1..1; its sign says which way round."""

    tau: float
    p_value: float
    pairs: int


def unimodality(counts_in_order: ArrayLike) -> tuple[float, FloatArray]:
    """Measure how nearly each motif swells once and fades, for rows in the given order.

    For one motif with shares p over the ordered sites, put a zero before the first and after the last; the
    sum of the steps up and down is at least twice the largest share, and exactly that when there is one
    swelling. The measure is twice the largest share over the sum of steps: 1 for a perfect single swelling,
    towards 0 with every further rise. The table's value is the same ratio of sums over all motifs.

    Parameters
    ----------
    counts_in_order
        (S, M) counts, rows in the order to be judged; no row all zero.

    Returns
    -------
    The table's value in (0, 1], and (M,) values by motif (NaN for a motif never seen).

    Raises
    ------
    InputError
        Not counts, or a row with nothing counted.
    """
    matrix = count_matrix(counts_in_order)
    totals = matrix.sum(axis=1, keepdims=True)
    if (totals <= 0).any():
        raise InputError("order: a site has nothing counted; leave it out before ordering.")
    peaks, steps = _peaks_and_steps((matrix / totals)[None])
    by_motif = np.divide(peaks[0], steps[0], out=np.full(matrix.shape[1], np.nan), where=steps[0] > 0)
    return float(peaks.sum() / steps.sum()), by_motif


def seriate(table: CountTable, *, permutations: int = 0, seed: int = 0) -> Seriation:
    """Order sites along the first axis of a correspondence analysis.

    Parameters
    ----------
    table
        Sites by motifs; empty sites are left out and named.
    permutations
        0, or the number of shuffled tables for `p_value` (see `seriation_p_value`).
    seed
        Of the shuffling.

    Raises
    ------
    InputError
        Fewer than two sites or motifs, or no difference between sites.
    """
    analysis = correspondence_analysis(table)
    if analysis.inertias.size == 0:
        raise InputError("All sites have the same shares of motifs; there is no order to find.")
    kept, _, _ = without_empty(table)
    p_value = seriation_p_value(table, permutations=permutations, seed=seed) if permutations else None
    share = float(analysis.axis_shares[0])
    notes = analysis.warnings + _axis_notes(analysis)
    return _seriation(
        kept,
        analysis.row_coordinates[:, 0],
        "correspondence analysis, axis 1",
        p_value=p_value,
        permutations=permutations,
        axis_share=share,
        notes=notes,
    )


def reciprocal_averaging(table: CountTable, *, rounds: int = 10_000, tolerance: float = 1e-12) -> Seriation:
    """Order sites by averaging motif places over sites and site places over motifs until nothing moves.

    The places converge to the first axis of a correspondence analysis (Hill 1973), slowly where the first
    two axes are nearly equal; a warning says when they had not settled after `rounds`.

    Raises
    ------
    InputError
        Fewer than two sites or motifs have counts, or all sites have the same shares.
    """
    kept, no_sites, _ = without_empty(table)
    if min(kept.counts.shape) < 2:
        raise InputError("Ordering needs two sites and two motifs with counts.")
    places, has_settled = _average_until_still(kept.counts, at_least(rounds, 1, "rounds"), tolerance)
    notes = kept.warnings
    if not has_settled:
        notes = (*notes, f"The order had not settled after {rounds} rounds: axes 1 and 2 are nearly equal.")
    if no_sites:
        notes = (*notes, f"Nothing counted at {', '.join(no_sites)}: left out.")
    return _seriation(kept, places, "reciprocal averaging", notes=notes)


def order_p_value(counts_in_order: ArrayLike, *, permutations: int = 999, seed: int = 0) -> float:
    """Test an order that comes from outside (depth, dates): p = (k + 1) / (n + 1) over random orders.

    k counts random orders at least as unimodal. Not for an order that was found from the same counts: that
    one beats random orders by construction; use `seriation_p_value`.
    """
    matrix = count_matrix(counts_in_order)
    observed, _ = unimodality(matrix)
    count = at_least(permutations, 1, "permutations")
    shares = matrix / matrix.sum(axis=1, keepdims=True)
    rng = np.random.default_rng(seed)
    orders = rng.permuted(np.tile(np.arange(len(shares)), (count, 1)), axis=1)
    better = sum(_at_least_as_unimodal(shares[chunk], observed) for chunk in _chunks(orders, shares.shape[1]))
    return (better + 1) / (count + 1)


def seriation_p_value(table: CountTable, *, permutations: int = 199, seed: int = 0) -> float:
    """Test whether the sites share one order of motifs at all: p = (k + 1) / (n + 1).

    Each motif's shares are shuffled among the sites on their own, which keeps how common a motif is and
    breaks any common order; every shuffled table is then ordered anew by its own first axis. k counts
    shuffled tables whose best order is at least as unimodal as the real one.

    Raises
    ------
    InputError
        As for `seriate`.
    """
    observed = seriate(table).unimodality
    kept, _, _ = without_empty(table)
    shares = kept.counts / kept.counts.sum(axis=1, keepdims=True)
    count = at_least(permutations, 1, "permutations")
    rng = np.random.default_rng(seed)
    better = sum(_reordered_unimodality(rng.permuted(shares, axis=0)) >= observed - 1e-12 for _ in range(count))
    return (better + 1) / (count + 1)


def rank_agreement(sites: Sequence[str], outside: dict[str, float]) -> RankAgreement:
    """Compare an order with dates, depths or ranks from outside.

    Parameters
    ----------
    sites
        Names in the order found.
    outside
        A number for some or all of the sites.

    Raises
    ------
    InputError
        Fewer than three sites have an outside number, or all numbers are equal.
    """
    known = [(place, outside[name]) for place, name in enumerate(sites) if name in outside]
    if len(known) < 3 or len({value for _, value in known}) < 2:
        raise InputError("Comparing an order needs outside dates or depths, not all equal, for three sites or more.")
    result = kendalltau(*zip(*known, strict=True))
    return RankAgreement(float(result.statistic), float(result.pvalue), len(known))


def _seriation(
    kept: CountTable,
    places: FloatArray,
    method: str,
    *,
    p_value: float | None = None,
    permutations: int = 0,
    axis_share: float | None = None,
    notes: tuple[str, ...] = (),
) -> Seriation:
    order = np.argsort(places, kind="stable")
    whole, by_motif = unimodality(kept.counts[order])
    return Seriation(
        sites=tuple(kept.sites[i] for i in order),
        positions=places[order],
        motifs=kept.motifs,
        method=method,
        unimodality=whole,
        motif_unimodality=by_motif,
        p_value=p_value,
        permutations=permutations,
        axis_share=axis_share,
        warnings=notes,
    )


def _axis_notes(analysis: Ordination) -> tuple[str, ...]:
    if analysis.inertias.size < 2 or len(analysis.sites) < 4:
        return ("Too few sites or axes to tell a gradient from a pair of groups.",)
    first, second = analysis.row_coordinates[:, 0], analysis.row_coordinates[:, 1]
    bend = abs(float(np.corrcoef(first**2, second)[0, 1]))
    notes: tuple[str, ...] = ()
    if bend >= ARCH:
        notes += (f"Axis 2 is axis 1 bent (r {bend:.2f}): one gradient; read the order along the arch.",)
    if analysis.axis_shares[0] < 0.5:
        notes += (
            f"Axis 1 shows {analysis.axis_shares[0]:.0%} of the differences: no single order fits all the sites.",
        )
    return notes


def _average_until_still(counts: FloatArray, rounds: int, tolerance: float) -> tuple[FloatArray, bool]:
    rows, columns = counts.sum(axis=1), counts.sum(axis=0)
    # Any start but a constant one works; a cosine of the column's place is not orthogonal to the axis by design.
    motif_places = np.cos(np.arange(columns.size) + 1.0)
    site_places = np.zeros(rows.size)
    for _ in range(rounds):
        before = site_places
        site_places = _standardised(counts @ motif_places / rows, rows)
        motif_places = counts.T @ site_places / columns
        if np.abs(site_places - before).max() < tolerance:
            return site_places, True
    return site_places, False


def _standardised(places: FloatArray, masses: FloatArray) -> FloatArray:
    centred = places - np.average(places, weights=masses)
    spread = float(np.sqrt(np.average(centred**2, weights=masses)))
    if spread < 1e-14:
        raise InputError("All sites have the same shares of motifs; there is no order to find.")
    return centred / spread


def _peaks_and_steps(shares: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return twice the largest share and the sum of steps, both (n, M), for (n, S, M) ordered shares."""
    steps = np.abs(np.diff(shares, axis=1)).sum(axis=1) + shares[:, 0] + shares[:, -1]
    return 2.0 * shares.max(axis=1), steps


def _at_least_as_unimodal(shares: FloatArray, observed: float) -> int:
    peaks, steps = _peaks_and_steps(shares)
    return int(np.count_nonzero(peaks.sum(axis=1) / steps.sum(axis=1) >= observed - 1e-12))


def _chunks(orders: IntArray, motifs: int) -> list[IntArray]:
    size = max(1, CHUNK_CELLS // (orders.shape[1] * motifs))
    return [orders[start : start + size] for start in range(0, len(orders), size)]


def _reordered_unimodality(shuffled: FloatArray) -> float:
    """Order shuffled shares by their own first axis and measure them; emptied sites are left out."""
    counts = shuffled[shuffled.sum(axis=1) > 0]
    expected = np.outer(counts.sum(axis=1), counts.sum(axis=0)) / counts.sum()
    left, _, _ = np.linalg.svd((counts - expected) / np.sqrt(expected), full_matrices=False)
    places = left[:, 0] / np.sqrt(counts.sum(axis=1))
    ordered = counts[np.argsort(places, kind="stable")]
    return unimodality(ordered)[0]
