"""Sites compared, as tables in words: the twin of every drawing."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from motifs.ui.presenters.sifting import Grid, grid
from motifs.ui.presenters.text import counted
from motifs.ui.presenters.wall import Row, Tile, Wall

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from motifs.workflows.site_vectors import UntaggedView
    from motifs.workflows.sites import SiteComparison, TaggedView

UNITS = {
    "vessels, minimum number": "mnv",
    "sherds": "sherd",
    "vessels as sorted": "vessel",
}
"""What the page calls the units of counting."""

UNITS_HELP = (
    "Minimum number: each vessel once, and sherds that are of no vessel yet as well. Sherds: many, but not independent, since one "
    "pot gives many. Vessels as sorted: only sherds that belong to a vessel."
)
SHUFFLES_HELP = "How often the sherds of two sites are mixed and dealt again for a test. More take longer; the smallest p is 1 in so many."
NO_TAGS = "No sherd of a recorded site carries a tag of this kind: tag some, or look at the view without tags."

NOTHING = Grid((), (), "")


def number(value: float | None, digits: int = 2) -> str:
    """A number, or a dash for none."""
    return "–" if value is None or not math.isfinite(value) else f"{value:.{digits}f}"


def standing(found: SiteComparison) -> str:
    """What was counted, and what the vessels rest on."""
    return (
        f"Counted: {found.unit}. {found.judged} vessels rest on a person's word, {found.proposed} on a proposal alone."
    )


def motif_grid(tagged: TaggedView) -> Grid:
    """Counts with their share and its interval."""
    frame = tagged.table.frame()
    rows = []
    for site, counts in zip(frame.index, frame.to_numpy().tolist(), strict=True):
        cells = []
        for motif, count in zip(frame.columns, counts, strict=True):
            share = tagged.shares.get((site, motif))
            ranged = "" if share is None else f" ({share.low:.0%} to {share.high:.0%})"
            cells.append(f"{count}{ranged}")
        rows.append([site, *cells])
    caption = f"Motifs at each site ({tagged.table.unit}); in brackets the 95 % Wilson interval of the share"
    return grid(("Site", *map(str, frame.columns)), rows, caption)


def pair_grid(tagged: TaggedView) -> Grid:
    """Every pair with its test."""
    rows = [
        [
            pair.a,
            pair.b,
            number(pair.tested.similarity, 1),
            number(pair.tested.p_value, 3),
            number(pair.tested.null_low, 1),
            "–" if pair.resampled is None else f"{pair.resampled.low:.0f} to {pair.resampled.high:.0f}",
            "; ".join((*pair.tested.warnings, *(pair.resampled.warnings if pair.resampled else ()))),
        ]
        for pair in tagged.pairs
    ]
    head = ("Site", "Site", "Brainerd-Robinson, 0-200", "p", "5 % of one assemblage", "vessels drawn again", "Note")
    return grid(head, rows, "Pairs of sites; a small p says: not two samples of one assemblage")


def diversity_grid(tagged: TaggedView) -> Grid:
    """Diversity, and richness at one sample size."""
    rows = [
        [
            str(site),
            number(row["total"], 0),
            row["richness"],
            number(row["shannon"]),
            number(row["evenness"]),
            number(row["simpson"]),
            number(float(rare)),
        ]
        for (site, row), rare in zip(tagged.diversity.iterrows(), tagged.rarefied["expected"], strict=True)
    ]
    size = int(tagged.rarefied["size"].iloc[0])
    head = ("Site", "Counted", "Richness", "Shannon (ln)", "Evenness", "Simpson", f"Richness in {size}")
    return grid(head, rows, f"Diversity ({tagged.table.unit}); compare richness at one sample size only")


def points_grid(tagged: TaggedView) -> Grid:
    """Coordinates and contributions of the ordination."""
    if tagged.ordination is None:
        return NOTHING
    rows = []
    for kind, frame in (("site", tagged.ordination.site_frame()), ("motif", tagged.ordination.motif_frame())):
        rows += [
            [kind, str(name), *(number(float(value), 3) for value in row)]
            for name, row in zip(frame.index, frame.to_numpy(), strict=True)
        ]
    head = ("What", "Name", *map(str, tagged.ordination.site_frame().columns))
    return grid(head, rows, "Correspondence analysis, first two axes")


def standing_grid(tagged: TaggedView) -> Grid:
    """Which motifs are shared, and which one site alone has."""
    if tagged.standings is None:
        return NOTHING
    rows = [
        [
            one.motif,
            ", ".join(one.sites),
            one.verdict,
            f"{one.home.share:.0%} ({one.home.low:.0%} to {one.home.high:.0%})",
            "–" if one.elsewhere_high is None else f"up to {one.elsewhere_high:.0%} of {one.elsewhere_total}",
        ]
        for one in tagged.standings.motifs
    ]
    head = ("Motif", "Seen at", "Verdict", "Share at the first", "May still be elsewhere")
    return grid(head, rows, f"Unique and shared motifs ({tagged.standings.unit})")


def tie_grid(tagged: TaggedView) -> Grid:
    """The ties of the network."""
    if tagged.network is None:
        return NOTHING
    rows = [[edge.a, edge.b, number(edge.similarity, 1), number(edge.p_value, 3)] for edge in tagged.network.edges]
    return grid(("Site", "Site", "Similarity", "p"), rows, f"Ties: {tagged.network.how}")


def rarefied_grid(tagged: TaggedView) -> Grid:
    """Richness expected in samples of growing size."""
    rows = [[site, size, number(expected)] for site, points in tagged.curves.items() for size, expected in points[::5]]
    return grid(("Site", "Sample", "Motifs expected"), rows, "Rarefaction (Hurlbert 1971)")


def untagged_grid(found: UntaggedView) -> Grid:
    """Pairs without tags beside the tagged result."""
    rows = [
        [
            pair.a,
            pair.b,
            number(pair.similarity, 1),
            number(None if pair.energy is None else pair.energy.p_value, 3),
            number(pair.tagged, 1),
            pair.why,
        ]
        for pair in found.pairs
    ]
    agreement = ""
    if found.agreement is not None:
        agreement = f"; both views agree with r = {found.agreement.correlation:.2f} (Mantel test, p {found.agreement.p_value:.3f})"
    caption = f"Without tags, by {found.encoder}, a vessel counted once{agreement}"
    return grid(("Site", "Site", "Similarity, 0-200", "p", "By tags", "Why they may differ"), rows, caption)


def site_motifs(tagged: TaggedView, site: str) -> list[tuple[str, str]]:
    """Motifs of one site, commonest first, each with its count and share in words; none for a site that is not in the table."""
    if site not in tagged.table.sites:
        return []
    counts = sorted(zip(tagged.table.row(site), tagged.table.motifs, strict=True), key=lambda one: (-one[0], one[1]))
    told = []
    for count, motif in counts:
        if count > 0:
            share = tagged.shares.get((site, motif))
            ranged = "" if share is None else f", {share.share:.0%} ({share.low:.0%} to {share.high:.0%})"
            told.append((motif, f"{count:g}{ranged}"))
    return told


def nearest_words(tagged: TaggedView, site: str) -> str:
    """Which sites are most alike, in a line; empty where there is no other."""
    sites, values = tagged.similarity.sites, tagged.similarity.values
    if site not in sites or len(sites) < 2:
        return ""
    row = values[sites.index(site)]
    others = [(float(value), other) for value, other in zip(row, sites, strict=True) if other != site]
    known = sorted(((value, other) for value, other in others if math.isfinite(value)), reverse=True)
    return "Most alike: " + ", ".join(f"{other} ({value:.0f} of 200)" for value, other in known[:3]) if known else ""


def site_wall(
    site: str, motifs: Sequence[tuple[str, str]], examples: Mapping[str, Sequence[str]], chosen: str | None = None
) -> Wall:
    """A row of pictures for each motif of a site. motifs: name and what is counted. examples: sherd numbers by motif."""
    rows = [
        Row(f"motif {place}", motif, told, tuple(Tile(number) for number in examples.get(motif, ())))
        for place, (motif, told) in enumerate(motifs)
    ]
    return Wall(tuple(rows), f"Motifs at {site}", chosen=chosen, px_per_mm=1.8)


def standing_line(sherds: int, lots: int) -> str:
    """How much there is of a site."""
    return f"{counted(sherds, 'sherd')} in {counted(lots, 'lot')}"
