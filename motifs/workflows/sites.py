"""Sites compared by their motifs, and beside that by the look of their decoration without any tag."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING, TypeVar

from motifs.errors import InputError
from motifs.sites import (
    UNIT_WORDS,
    change_through_periods,
    correspondence_analysis,
    diversity_frame,
    independence_test,
    motif_standings,
    motif_table,
    network_above,
    network_tested,
    permute_pair,
    rarefaction_frame,
    rarefied_richness,
    resample_vessels,
    seriate,
    share_interval,
    similarity_matrix,
    site_tree,
    without_empty,
)
from motifs.workflows.site_rows import TagRows, tag_rows
from motifs.workflows.site_vectors import UntaggedView, untagged_view

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import pandas as pd

    from motifs.catalogue import Catalogue, SherdHead
    from motifs.sites import (
        CountTable,
        IndependenceTest,
        Ordination,
        PeriodChange,
        PermutedPair,
        ResampledPair,
        Seriation,
        ShareInterval,
        SimilarityMatrix,
        SiteNetwork,
        SiteTree,
        Standings,
    )
    from motifs.sites.similarity import Measure
    from motifs.sites.tables import Unit
    from motifs.workflows import Progress

MOST_PAIRS = 300
"""More pairs of sites than this are not tested one by one."""
MOST_SHUFFLED = 150
"""Orders of more sites than this are not tested by shuffling."""
CURVE_POINTS = 25

Result = TypeVar("Result")


@dataclass(frozen=True, slots=True)
class ComparingSettings:
    """How sites are compared.

    unit: what is counted. kind: of tags. measure: of similarity, beside Brainerd-Robinson. sites: only these. permutations,
    seed: of every test. confidence: of every interval. tie_above: Brainerd-Robinson similarity from which two sites are tied,
    or None: ties are tested. judged_only: vessels as people judged them. with_vectors: compare without tags too. encoder: for
    that, or None: the project's motif encoder.
    """

    unit: Unit = "mnv"
    kind: str = "motif"
    measure: Measure = "brainerd-robinson"
    sites: tuple[str, ...] = ()
    permutations: int = 999
    seed: int = 0
    confidence: float = 0.95
    tie_above: float | None = None
    judged_only: bool = False
    with_vectors: bool = True
    encoder: str | None = None


@dataclass(frozen=True, slots=True)
class SitePair:
    """Two sites: Brainerd-Robinson similarity with its test, and an interval from drawing vessels again."""

    a: str
    b: str
    tested: PermutedPair
    resampled: ResampledPair | None


@dataclass(frozen=True, slots=True)
class TaggedView:
    """Sites by their tags. A part is None where the table is too small for it; the notes of the comparison say why.

    curves: (sample sizes, expected richness) by site. shares: by (site, motif), of every motif seen there.
    """

    table: CountTable
    similarity: SimilarityMatrix
    chosen: SimilarityMatrix
    pairs: tuple[SitePair, ...]
    diversity: pd.DataFrame
    rarefied: pd.DataFrame
    curves: Mapping[str, tuple[tuple[int, float], ...]]
    shares: Mapping[tuple[str, str], ShareInterval]
    ordination: Ordination | None
    seriation: Seriation | None
    standings: Standings | None
    tree: SiteTree | None
    network: SiteNetwork | None
    independence: IndependenceTest | None


@dataclass(frozen=True, slots=True)
class SiteComparison:
    """Everything said of the sites. unit: in words, beside every number. tables: the motif table in each unit there is.

    judged, proposed: vessels that rest on a person's word, and on a proposal alone.
    """

    settings: ComparingSettings
    unit: str
    tables: Mapping[str, CountTable]
    tagged: TaggedView | None
    untagged: UntaggedView | None
    periods: PeriodChange | None
    judged: int
    proposed: int
    notes: tuple[str, ...]


def compare_sites(
    cat: Catalogue,
    settings: ComparingSettings | None = None,
    *,
    periods: Mapping[str, str] | None = None,
    years: Mapping[str, float] | None = None,
    is_shown: Callable[[SherdHead], bool] | None = None,
    by: str,
    progress: Progress | None = None,
) -> SiteComparison:
    """Compare the sites of a collection.

    Parameters
    ----------
    settings : how; the defaults count the minimum number of vessels.
    periods : period by lot, earliest first, for change through time; lots that are not named are left out of that.
    years : a date for each period, or nothing for evenly spaced ones.
    is_shown : sherds it says no to are left out (restricted material).

    Raises
    ------
    UnknownName, InputError
        No such site or encoder; no such kind of tag, unit or measure.
    """
    chosen = settings or ComparingSettings()
    if chosen.unit not in UNIT_WORDS:
        raise InputError(f"unit '{chosen.unit}' is not known; choose one of {', '.join(UNIT_WORDS)}")
    rows = tag_rows(cat, chosen.kind, sites=chosen.sites, judged_only=chosen.judged_only, is_shown=is_shown)
    kept_back = cat.withheld()
    notes = [*rows.notes, *([f"{kept_back} sherd(s) are restricted and left out"] if kept_back else [])]
    tables = _tables(rows, notes)
    tagged = None
    if chosen.unit in tables:
        tagged = tagged_view(tables[chosen.unit], chosen, notes, rows.frame, progress=progress)
    untagged = None
    if chosen.with_vectors:
        against = None if tagged is None else tagged.similarity
        untagged = untagged_view(cat, rows, against, chosen, notes, by=by, progress=progress)
    change = _change(rows, chosen, periods, years or {}, notes)
    return SiteComparison(
        chosen,
        UNIT_WORDS[chosen.unit],
        tables,
        tagged,
        untagged,
        change,
        rows.judged,
        rows.proposed,
        tuple(dict.fromkeys(notes)),
    )


def tagged_view(
    table: CountTable,
    settings: ComparingSettings,
    notes: list[str],
    rows: pd.DataFrame | None = None,
    *,
    progress: Progress | None = None,
) -> TaggedView:
    """Everything that a table of counts tells; what it is too small for is None, and a note says why.

    Parameters
    ----------
    table : sites by motifs, something counted.
    notes : warnings are added to it.
    rows : tag rows, for intervals from drawing vessels again.
    """
    similarity = similarity_matrix(table)
    chosen = similarity if settings.measure == "brainerd-robinson" else similarity_matrix(table, settings.measure)
    kept, _, _ = without_empty(table)
    notes += [*chosen.warnings]
    few = len(kept.sites) <= MOST_SHUFFLED
    shuffles = min(settings.permutations, 199) if few else 0
    return TaggedView(
        table=table,
        similarity=similarity,
        chosen=chosen,
        pairs=_pairs(kept, settings, rows, notes, progress),
        diversity=diversity_frame(table),
        rarefied=rarefaction_frame(table),
        curves=_curves(kept),
        shares=_shares(kept, settings.confidence),
        ordination=_or_note(lambda: correspondence_analysis(table), notes),
        seriation=_or_note(lambda: seriate(table, permutations=shuffles, seed=settings.seed), notes),
        standings=_or_note(lambda: motif_standings(table, confidence=settings.confidence), notes),
        tree=_or_note(lambda: site_tree(table), notes),
        network=_or_note(lambda: _network(table, settings), notes),
        independence=_or_note(
            lambda: independence_test(table, permutations=settings.permutations if few else 0, seed=settings.seed),
            notes,
        ),
    )


def _tables(rows: TagRows, notes: list[str]) -> dict[str, CountTable]:
    if not (rows.frame["motif"] != "").any():
        notes.append(
            "no sherd of a recorded site carries a tag of this kind: tag some, or read the untagged view alone"
        )
        return {}
    tables: dict[str, CountTable] = {}
    units: tuple[Unit, ...] = ("sherd", "mnv", "vessel")
    for unit in units:
        made = _or_note(lambda unit=unit: motif_table(rows.frame, unit), notes)  # type: ignore[misc]
        if made is not None:
            tables[unit] = made
            notes += made.warnings
    return tables


def _pairs(
    table: CountTable,
    settings: ComparingSettings,
    rows: pd.DataFrame | None,
    notes: list[str],
    progress: Progress | None = None,
) -> tuple[SitePair, ...]:
    pairs = list(combinations(table.sites, 2))
    if len(pairs) > MOST_PAIRS:
        notes.append(f"{len(pairs)} pairs of sites are too many to test one by one; choose a few sites for that")
        return ()
    tested = []
    for a, b in pairs:
        permuted = permute_pair(table.row(a), table.row(b), permutations=settings.permutations, seed=settings.seed)
        resampled = None
        if rows is not None:
            resampled = resample_vessels(
                rows, a, b, replicates=settings.permutations, confidence=settings.confidence, seed=settings.seed
            )
        tested.append(SitePair(a, b, permuted, resampled))
        if progress is not None:
            progress("testing pairs of sites", len(tested), len(pairs))
    if len(pairs) > 1 and tested:
        notes.append(f"{len(pairs)} pairs were tested: a p under 0.05 is expected by chance in 1 of 20")
    return tuple(tested)


def _curves(table: CountTable) -> dict[str, tuple[tuple[int, float], ...]]:
    curves = {}
    for site, row in zip(table.sites, table.counts, strict=True):
        total = int(row.sum())
        sizes = sorted({round(total * k / CURVE_POINTS) for k in range(1, CURVE_POINTS + 1)} - {0})
        curves[site] = tuple(zip(sizes, map(float, rarefied_richness(row, sizes)), strict=True))
    return curves


def _shares(table: CountTable, confidence: float) -> dict[tuple[str, str], ShareInterval]:
    if table.counts.size > 100 * MOST_PAIRS:
        return {}
    return {
        (site, motif): share_interval(int(count), int(row.sum()), confidence=confidence)
        for site, row in zip(table.sites, table.counts, strict=True)
        for motif, count in zip(table.motifs, row, strict=True)
        if count > 0
    }


def _network(table: CountTable, settings: ComparingSettings) -> SiteNetwork:
    if settings.tie_above is not None:
        return network_above(table, settings.tie_above)
    return network_tested(table, permutations=min(settings.permutations, 199), seed=settings.seed)


def _change(
    rows: TagRows,
    settings: ComparingSettings,
    periods: Mapping[str, str] | None,
    years: Mapping[str, float],
    notes: list[str],
) -> PeriodChange | None:
    if not periods:
        return None
    dated = rows.frame[rows.frame["lot"].isin(list(periods))]
    absent = rows.frame["lot"].nunique() - dated["lot"].nunique()
    if absent:
        notes.append(f"{absent} lot(s) have no period and are left out of the change through time")
    order = list(dict.fromkeys(periods.values()))
    dated = dated.assign(period=dated["lot"].map(dict(periods)))
    counted = _or_note(lambda: motif_table(dated, settings.unit, by="period", order=order), notes)
    if counted is None:
        return None
    change = _or_note(
        lambda: change_through_periods(
            counted,
            years=dict(years) or None,
            permutations=settings.permutations,
            seed=settings.seed,
            confidence=settings.confidence,
        ),
        notes,
    )
    return change if change is None else replace(change, warnings=tuple(dict.fromkeys(change.warnings)))


def _or_note(work: Callable[[], Result], notes: list[str]) -> Result | None:
    """Do a part of the comparison; where the table is too small for it, keep the reason as a note instead."""
    try:
        return work()
    except InputError as reason:
        notes.append(str(reason))
        return None


def in_order(comparison: SiteComparison) -> Sequence[str]:
    """Sites in the order of the seriation where there is one, else as in the table."""
    tagged = comparison.tagged
    if tagged is None:
        return ()
    return tagged.similarity.sites if tagged.seriation is None else tagged.seriation.sites
