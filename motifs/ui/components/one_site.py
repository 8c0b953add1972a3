"""One site: its motifs as rows of pictures, and which sites are most alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from motifs.catalogue import SherdFilter
from motifs.ui.choosing import SHERD, chosen, open_sherd, opened
from motifs.ui.components.crop_wall import pictures_of, show_wall
from motifs.ui.components.markup import show
from motifs.ui.components.sherd_links import draw_sherd_links
from motifs.ui.frame import empty_state
from motifs.ui.presenters import sites as words
from motifs.ui.presenters.text import safe

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows.sites import SiteComparison, TaggedView

SITE = "site"
"""In the address: the site that is open."""

MOST_MOTIFS, MOST_EXAMPLES = 12, 8


def draw_one_site(cat: Catalogue, found: SiteComparison, tagged: TaggedView) -> None:
    """Choose a site and look at it; a click on a sherd tells which pages open it."""
    names = found.settings.sites or tuple(site.name for site in cat.sites())
    site = chosen(SITE, "Site", names) or names[0]
    motifs = words.site_motifs(tagged, site)[:MOST_MOTIFS]
    lots = [lot for lot in cat.lots() if lot.site == site]
    show(f'<p class="m-say">{safe(words.standing_line(sum(lot.sherds for lot in lots), len(lots)))}</p>')
    show(f'<p class="m-say">{safe(words.nearest_words(tagged, site))}</p>')
    with st.container(horizontal=True):
        st.page_link(
            "motifs/ui/pages/tagging.py", label="All its sherds in the catalogue", query_params={"sheet_site": site}
        )
        st.page_link("motifs/ui/pages/report.py", label="A report of it", query_params={"site": site})
    if not motifs:
        empty_state(
            f"No sherd of {site} carries a tag of this kind yet.",
            page_file="motifs/ui/pages/tagging.py",
            label="Tag sherds",
        )
        return
    examples = {motif: _examples(cat, site, found.settings.kind, motif) for motif, _ in motifs}
    numbers = dict.fromkeys(number for of in examples.values() for number in of)
    pictures = pictures_of(cat, [cat.sherd(number) for number in numbers], "one-site")
    at = opened(SHERD)
    if at in numbers:
        draw_sherd_links(cat.sherd(at))
    show_wall(words.site_wall(site, motifs, examples, at), pictures, key="one_site", on_pick=open_sherd)


def _examples(cat: Catalogue, site: str, kind: str, motif: str) -> list[str]:
    """Its largest sherds with this term."""
    wanted = SherdFilter(site=site, kind=kind, term=motif, order="largest")
    return [line.number for line in cat.sherd_lines(wanted, limit=MOST_EXAMPLES).lines]
