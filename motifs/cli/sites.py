"""`sites`: sites compared by their motifs, with and without tags."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from motifs.cli.answer import Answer, table
from motifs.cli.options import add_by, by_name, collection, positive_count, positive_number
from motifs.cli.progress import progress_bars

if TYPE_CHECKING:
    import argparse

    from motifs.workflows.sites import SiteComparison, TaggedView

SUMMARY = "compare sites by their motifs: similarity with tests, diversity, order, and the same without tags"
UNITS = ("sherd", "mnv", "vessel")
MEASURES = ("brainerd-robinson", "jaccard", "sorensen", "morisita", "morisita-horn")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own arguments."""
    parser.add_argument(
        "--unit", choices=UNITS, default="mnv", help="what is counted (default: mnv, the minimum number of vessels)"
    )
    parser.add_argument("--kind", default="motif", metavar="KIND", help="of the tags that are counted (default: motif)")
    parser.add_argument("--site", action="append", default=[], metavar="S", help="only this site; may be repeated")
    parser.add_argument("--measure", choices=MEASURES, default=MEASURES[0], help="a further similarity to list")
    parser.add_argument(
        "--permutations", type=positive_count, default=999, metavar="N", help="of every test (default: 999)"
    )
    parser.add_argument("--seed", type=int, default=0, metavar="S", help="of every test (default: 0)")
    parser.add_argument(
        "--tie-above", type=positive_number, metavar="BR", help="tie sites from this similarity on (default: tested)"
    )
    parser.add_argument("--judged-only", action="store_true", help="count vessels as people judged them, no proposals")
    parser.add_argument("--periods", type=Path, metavar="FILE", help="CSV lot,period[,year], earliest first: change")
    parser.add_argument("--no-vectors", action="store_true", help="leave out the comparison without tags")
    parser.add_argument("--encoder", metavar="TAG", help="for the comparison without tags")
    add_by(parser)


def run(arguments: argparse.Namespace) -> Answer:
    """Compare, and print the tables."""
    from motifs.workflows.site_json import comparison_document
    from motifs.workflows.site_rows import read_periods
    from motifs.workflows.sites import ComparingSettings, compare_sites

    settings = ComparingSettings(
        unit=arguments.unit,
        kind=arguments.kind,
        measure=arguments.measure,
        sites=tuple(arguments.site),
        permutations=arguments.permutations,
        seed=arguments.seed,
        tie_above=arguments.tie_above,
        judged_only=arguments.judged_only,
        with_vectors=not arguments.no_vectors,
        encoder=arguments.encoder,
    )
    periods, years = ({}, {}) if arguments.periods is None else read_periods(arguments.periods)
    with collection(arguments.collection) as cat, progress_bars() as progress:
        found = compare_sites(cat, settings, periods=periods, years=years, by=by_name(arguments), progress=progress)
    return Answer(comparison_document(found), _lines(found), found.notes)


def _lines(found: SiteComparison) -> list[str]:
    lines = [f"Counted: {found.unit}; vessels: {found.judged} judged by a person, {found.proposed} proposed only"]
    if found.tagged is not None:
        lines += _tagged_lines(found.tagged)
    if found.untagged is not None:
        rows = [
            [one.a, one.b, one.similarity, None if one.energy is None else one.energy.p_value, one.tagged, one.why]
            for one in found.untagged.pairs
        ]
        lines += ["", f"Without tags ({found.untagged.encoder}), a vessel counted once"]
        lines += table(["site", "site", "similarity", "p", "by tags", "why they may differ"], rows)
    if found.periods is not None:
        lines += ["", f"Change through periods; least alike after {found.periods.break_after}"]
        steps = [[one.earlier, one.later, one.likeness.similarity, one.likeness.p_value] for one in found.periods.steps]
        lines += table(["earlier", "later", "similarity", "p"], steps)
    return lines


def _tagged_lines(tagged: TaggedView) -> list[str]:
    frame = tagged.table.frame()
    lines = table(
        ["site", *frame.columns],
        [[site, *row] for site, row in zip(frame.index, frame.to_numpy().tolist(), strict=True)],
    )
    pairs = [
        [one.a, one.b, one.tested.similarity, one.tested.p_value, one.tested.null_low, _interval(one.resampled)]
        for one in tagged.pairs
    ]
    head = ["site", "site", "Brainerd-Robinson (0-200)", "p", "5 % if one assemblage", "by drawing vessels again"]
    lines += ["", *table(head, pairs)]
    spread = [
        [site, row["total"], row["richness"], row["shannon"], row["evenness"], row["simpson"], float(rare)]
        for (site, row), rare in zip(tagged.diversity.iterrows(), tagged.rarefied["expected"], strict=True)
    ]
    size = int(tagged.rarefied["size"].iloc[0])
    head = ["site", "counted", "richness", "Shannon (ln)", "evenness", "Simpson", f"richness in {size}"]
    lines += ["", *table(head, spread)]
    if tagged.seriation is not None:
        order = ", ".join(tagged.seriation.sites)
        lines += ["", f"Order by axis 1: {order}; unimodality {tagged.seriation.unimodality:.2f}"]
    if tagged.standings is not None:
        alone = [one for one in tagged.standings.motifs if one.only_at is not None]
        lines += ["", *table(["motif", "only at", "verdict"], [[one.motif, one.only_at, one.verdict] for one in alone])]
    return lines


def _interval(resampled: object) -> str | None:
    low, high = getattr(resampled, "low", None), getattr(resampled, "high", None)
    return None if low is None or high is None else f"{low:.0f} to {high:.0f}"
