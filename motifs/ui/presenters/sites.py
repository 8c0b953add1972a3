"""Sites compared, as tables in words: the twin of every drawing."""

from __future__ import annotations

import base64
import math
from typing import TYPE_CHECKING

from motifs.ui.presenters.text import safe, table

if TYPE_CHECKING:
    from motifs.workflows.drawings import Figure
    from motifs.workflows.site_vectors import UntaggedView
    from motifs.workflows.sites import SiteComparison, TaggedView

UNITS = {
    "vessels, minimum number": "mnv",
    "sherds": "sherd",
    "vessels as sorted": "vessel",
}
"""What the page calls the units of counting."""


def number(value: float | None, digits: int = 2) -> str:
    """A number, or a dash for none."""
    return "–" if value is None or not math.isfinite(value) else f"{value:.{digits}f}"


def standing(found: SiteComparison) -> str:
    """What was counted, and what the vessels rest on."""
    return (
        f"Counted: {found.unit}. {found.judged} vessels rest on a person's word, {found.proposed} on a proposal alone."
    )


def figure_html(figure: Figure, drawn: str) -> str:
    """A drawing with its caption; drawn: its SVG, shown as an image, since the page takes no SVG among its HTML."""
    code = base64.b64encode(drawn.encode()).decode()
    image = f'<img src="data:image/svg+xml;base64,{code}" alt="{safe(figure.alt)}">'
    return f'<figure class="m-drawing">{image}<figcaption>{safe(figure.caption)}</figcaption></figure>'


def motif_html(tagged: TaggedView) -> str:
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
    return table(("Site", *map(str, frame.columns)), rows, caption=caption)


def pair_html(tagged: TaggedView) -> str:
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
    return table(head, rows, caption="Pairs of sites; a small p says: not two samples of one assemblage")


def diversity_html(tagged: TaggedView) -> str:
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
    return table(head, rows, caption=f"Diversity ({tagged.table.unit}); compare richness at one sample size only")


def points_html(tagged: TaggedView) -> str:
    """Coordinates and contributions of the ordination."""
    if tagged.ordination is None:
        return ""
    rows = []
    for kind, frame in (("site", tagged.ordination.site_frame()), ("motif", tagged.ordination.motif_frame())):
        rows += [
            [kind, str(name), *(number(float(value), 3) for value in row)]
            for name, row in zip(frame.index, frame.to_numpy(), strict=True)
        ]
    head = ("What", "Name", *map(str, tagged.ordination.site_frame().columns))
    return table(head, rows, caption="Correspondence analysis, first two axes")


def standing_html(tagged: TaggedView) -> str:
    """Which motifs are shared, and which one site alone has."""
    if tagged.standings is None:
        return ""
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
    return table(head, rows, caption=f"Unique and shared motifs ({tagged.standings.unit})")


def tie_html(tagged: TaggedView) -> str:
    """The ties of the network."""
    if tagged.network is None:
        return ""
    rows = [[edge.a, edge.b, number(edge.similarity, 1), number(edge.p_value, 3)] for edge in tagged.network.edges]
    return table(("Site", "Site", "Similarity", "p"), rows, caption=f"Ties: {tagged.network.how}")


def rarefied_html(tagged: TaggedView) -> str:
    """Richness expected in samples of growing size."""
    rows = [[site, size, number(expected)] for site, points in tagged.curves.items() for size, expected in points[::5]]
    return table(("Site", "Sample", "Motifs expected"), rows, caption="Rarefaction (Hurlbert 1971)")


def untagged_html(found: UntaggedView) -> str:
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
    return table(("Site", "Site", "Similarity, 0-200", "p", "By tags", "Why they may differ"), rows, caption=caption)
