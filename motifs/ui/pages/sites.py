"""Sites: compared by their motifs, every drawing with its table."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, cast

import streamlit as st

from motifs.catalogue import TAG_KINDS
from motifs.ui.components.markup import show
from motifs.ui.frame import draw_page, empty_state
from motifs.ui.presenters import sites as words
from motifs.ui.presenters.text import lines, notice, safe
from motifs.ui.session import NAMELESS, analyst
from motifs.workflows import site_figures as drawn
from motifs.workflows.drawings import svg
from motifs.workflows.site_rows import ROUNDED_KM, Place, read_places
from motifs.workflows.sites import ComparingSettings, compare_sites, in_order

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.sites.tables import Unit
    from motifs.workflows.drawings import Figure
    from motifs.workflows.sites import SiteComparison, TaggedView

PERMUTATIONS = 499
VIEWS = ("Motifs", "Similarity", "Order", "Diversity", "Axes", "Ties", "Without tags")


@st.cache_resource(max_entries=16, show_spinner="Comparing the sites")
def _compared(_cat: Catalogue, folder: str, version: int, settings: ComparingSettings, by: str) -> SiteComparison:
    """Kept as long as the catalogue's version stays."""
    return compare_sites(_cat, settings, by=by)


def draw_settings(cat: Catalogue) -> ComparingSettings:
    """What is counted."""
    columns = st.columns([3, 3, 4, 3], vertical_alignment="bottom")
    unit = columns[0].selectbox("Counted", list(words.UNITS), key="sites_unit")
    kind = columns[1].selectbox("Tags of kind", TAG_KINDS, key="sites_kind")
    names = [site.name for site in cat.sites()]
    chosen = columns[2].multiselect("Sites", names, key="sites_chosen", placeholder="all of them")
    judged = columns[3].checkbox("Only vessels that people judged", key="sites_judged")
    return ComparingSettings(
        unit=cast("Unit", words.UNITS[unit]),
        kind=kind,
        sites=tuple(chosen),
        permutations=PERMUTATIONS,
        judged_only=judged,
        with_vectors=st.session_state.get("sites_view") == "Without tags",
    )


def draw_figure(figure: Figure | None, table_html: str) -> None:
    """A drawing, and the same as a table."""
    if figure is not None:
        show(words.figure_html(figure, svg(figure)))
    if table_html:
        with st.expander("The same as a table", expanded=figure is None):
            show(table_html)


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
    draw_figure(drawn.network_drawing(tagged.network, places or None), words.tie_html(tagged))


def draw_tagged(found: SiteComparison, tagged: TaggedView, view: str) -> None:
    """One view of the tagged comparison."""
    order = in_order(found)
    if view == "Motifs":
        show(words.motif_html(tagged))
        show(words.standing_html(tagged))
    elif view == "Similarity":
        draw_figure(drawn.heat_map(tagged.similarity, order), words.pair_html(tagged))
        if tagged.tree is not None:
            show(words.figure_html(tree := drawn.tree_drawing(tagged.tree), svg(tree)))
    elif view == "Order":
        said = "in the order of the first axis" if tagged.seriation is not None else "in the order of the table"
        draw_figure(drawn.battleship(tagged.table, order, said), words.motif_html(tagged))
        if tagged.seriation is not None:
            p = "" if tagged.seriation.p_value is None else f", p {tagged.seriation.p_value:.3f}"
            show(f'<p class="m-say">{safe(f"Unimodality {tagged.seriation.unimodality:.2f}{p}.")}</p>')
    elif view == "Diversity":
        draw_figure(drawn.rarefaction(tagged.curves, tagged.table.unit), words.rarefied_html(tagged))
        show(words.diversity_html(tagged))
    elif view == "Axes":
        draw_figure(
            drawn.biplot(tagged.ordination) if tagged.ordination is not None else None, words.points_html(tagged)
        )
    else:
        draw_ties(tagged)


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
    view = (
        st.segmented_control("View", VIEWS, default=VIEWS[0], key="sites_view", label_visibility="collapsed")
        or VIEWS[0]
    )
    found = _compared(cat, str(cat.folder), cat.version(), settings, analyst() or NAMELESS)
    show(f'<p class="m-say m-strong">{safe(words.standing(found))}</p>')
    if view == "Without tags":
        if found.untagged is not None:
            draw_figure(drawn.heat_map(found.untagged.similarity, found.untagged.similarity.sites), "")
            show(words.untagged_html(found.untagged))
    elif found.tagged is not None:
        draw_tagged(found, found.tagged, view)
    if found.notes:
        with st.expander(f"Keep in mind ({len(found.notes)})", expanded=found.tagged is None):
            show(lines(found.notes))


draw_page("Which motifs each site has, and how alike the sites are.", draw)
