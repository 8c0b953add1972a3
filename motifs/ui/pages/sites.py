"""Sites: compared by their motifs, every drawing with its table; and one site's motifs as pictures."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, cast

import streamlit as st

from motifs.catalogue import TAG_KINDS
from motifs.ui.components.markup import show
from motifs.ui.components.one_site import draw_one_site
from motifs.ui.components.sifted_table import draw_grid
from motifs.ui.components.zoom_picture import show_figure
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.jobs import prepared
from motifs.ui.presenters import sites as words
from motifs.ui.presenters.text import lines, notice, safe
from motifs.ui.session import NAMELESS, UNLOCKED, analyst
from motifs.workflows import site_figures as drawn
from motifs.workflows.site_rows import ROUNDED_KM, Place, read_places
from motifs.workflows.sites import ComparingSettings, compare_sites, in_order

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.sites.tables import Unit
    from motifs.ui.presenters.sifting import Grid
    from motifs.workflows.drawings import Figure
    from motifs.workflows.sites import SiteComparison, TaggedView

PERMUTATIONS = (99, 499, 999, 4999)
UNTAGGED, ONE_SITE = "Without tags", "One site"
VIEWS = ("Motifs", "Similarity", "Order", "Diversity", "Axes", "Ties", UNTAGGED, ONE_SITE)
VIEW = "sites_view"


def draw_settings(cat: Catalogue) -> ComparingSettings:
    """What is counted."""
    columns = st.columns([3, 2, 4, 2], vertical_alignment="bottom")
    unit = columns[0].selectbox(
        "Counted", list(words.UNITS), key="sites_unit", bind="query-params", help=words.UNITS_HELP
    )
    kind = columns[1].selectbox("Tags of kind", TAG_KINDS, key="sites_kind", bind="query-params")
    names = [site.name for site in cat.sites()]
    chosen = columns[2].multiselect("Sites", names, key="sites_chosen", placeholder="all of them", bind="query-params")
    permutations = columns[3].selectbox(
        "Shuffles", PERMUTATIONS, index=1, key="sites_shuffles", bind="query-params", help=words.SHUFFLES_HELP
    )
    judged = st.checkbox("Only vessels that people judged", key="sites_judged", bind="query-params")
    return ComparingSettings(
        unit=cast("Unit", words.UNITS[unit]),
        kind=kind,
        sites=tuple(chosen),
        permutations=permutations,
        judged_only=judged,
        with_vectors=st.session_state.get(VIEW) == UNTAGGED,
    )


def draw_figure(figure: Figure | None, grid: Grid, *, key: str) -> None:
    """A drawing, and the same as a table."""
    if figure is not None:
        show_figure(figure, key=key)
    if grid.head:
        with st.expander("The same as a table", expanded=figure is None):
            draw_grid(grid, key=key)


def draw_ties(tagged: TaggedView) -> None:
    """The network; on a map where places are given."""
    if tagged.network is None:
        return
    with st.expander("Set the sites on a map"):
        left, right = st.columns([3, 1])
        sent = left.file_uploader("Table of places: site, east_km, north_km (CSV)", type=["csv"], key="sites_places")
        rounded = right.number_input("Rounded to, km", 0.0, 1000.0, ROUNDED_KM, key="sites_rounded")
        show('<p class="m-say">Exact places invite looting: they are rounded at once, and not kept.</p>')
    places: dict[str, Place] = {}
    if sent is not None:
        with tempfile.TemporaryDirectory() as scratch:
            file = Path(scratch) / "places.csv"
            file.write_bytes(sent.getvalue())
            places = {place.site: place for place in read_places(file, rounded_km=rounded)}
        absent = [site for site in tagged.network.sites if site not in places]
        if absent:
            show(notice("note", f"no place is given for {', '.join(absent)}; the sites stay on a ring"))
    draw_figure(drawn.network_drawing(tagged.network, places or None), words.tie_grid(tagged), key="ties")


def draw_order(found: SiteComparison, tagged: TaggedView) -> None:
    """Sites in the order of the seriation, motifs as widths."""
    said = "in the order of the first axis" if tagged.seriation is not None else "in the order of the table"
    draw_figure(drawn.battleship(tagged.table, in_order(found), said), words.motif_grid(tagged), key="order")
    if tagged.seriation is not None:
        p = "" if tagged.seriation.p_value is None else f", p {tagged.seriation.p_value:.3f}"
        show(f'<p class="m-say">{safe(f"Unimodality {tagged.seriation.unimodality:.2f}{p}.")}</p>')


def draw_tagged(cat: Catalogue, found: SiteComparison, tagged: TaggedView, view: str) -> None:
    """One view of the tagged comparison."""
    if view == "Motifs":
        draw_grid(words.motif_grid(tagged), key="motifs")
        if (standing := words.standing_grid(tagged)).rows:
            draw_grid(standing, key="standing")
    elif view == "Similarity":
        draw_figure(drawn.heat_map(tagged.similarity, in_order(found)), words.pair_grid(tagged), key="pairs")
        if tagged.tree is not None:
            show_figure(drawn.tree_drawing(tagged.tree), key="tree", height_px=320)
    elif view == "Order":
        draw_order(found, tagged)
    elif view == "Diversity":
        draw_figure(drawn.rarefaction(tagged.curves, tagged.table.unit), words.rarefied_grid(tagged), key="rarefaction")
        draw_grid(words.diversity_grid(tagged), key="diversity")
    elif view == "Axes":
        figure = drawn.biplot(tagged.ordination) if tagged.ordination is not None else None
        draw_figure(figure, words.points_grid(tagged), key="axes")
    elif view == ONE_SITE:
        draw_one_site(cat, found, tagged)
    else:
        draw_ties(tagged)


def draw_found(cat: Catalogue, found: SiteComparison, view: str) -> None:
    """What was found, in the view that is open."""
    show(f'<p class="m-say m-strong">{safe(words.standing(found))}</p>')
    if view == UNTAGGED:
        if found.untagged is not None:
            show_figure(drawn.heat_map(found.untagged.similarity, found.untagged.similarity.sites), key="untagged")
            draw_grid(words.untagged_grid(found.untagged), key="untagged")
    elif found.tagged is not None:
        draw_tagged(cat, found, found.tagged, view)
    else:
        empty_state(words.NO_TAGS, page_file="motifs/ui/pages/tagging.py", label="Tag sherds")
    if found.notes:
        with st.expander(f"Keep in mind ({len(found.notes)})", expanded=found.tagged is None):
            show(lines(found.notes))


def draw(cat: Catalogue | None) -> None:
    """The whole page."""
    if cat is None or not cat.sites():
        empty_state(
            "No site is recorded yet: give the lots their sites, and tag the sherds.",
            page_file="motifs/ui/pages/photographs.py",
            label="Add photographs",
        )
        return
    settings = draw_settings(cat)
    view = st.segmented_control(
        "View", VIEWS, default=VIEWS[0], required=True, key=VIEW, label_visibility="collapsed", bind="query-params"
    )
    stamp = (str(cat.folder), cat.version(), bool(st.session_state.get(UNLOCKED)), settings)
    by = analyst() or NAMELESS
    found = prepared("sites", stamp, lambda progress: compare_sites(cat, settings, by=by, progress=progress))
    if found is not None:
        draw_found(cat, found, view)


draw_page("Which motifs each site has, and how alike the sites are.", draw)
