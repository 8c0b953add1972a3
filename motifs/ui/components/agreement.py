"""Two sherds side by side at one scale, with the regions on both where their decorations agree."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.ui.components.browser_code import address_of
from motifs.ui.components.markup import show
from motifs.ui.presenters.comparanda import agreement_words, seen_turn_deg
from motifs.ui.presenters.figures import Figure, figures_html
from motifs.ui.presenters.text import safe
from motifs.workflows.agreement_pictures import agreement_pictures

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows.comparanda import Comparanda, Neighbour

SIDE_PX = 340


def show_agreement(cat: Catalogue, found: Comparanda, near: Neighbour) -> None:
    """Show where a neighbour agrees with the sherd of the query that was laid over it."""
    if near.regions is None:
        show('<p class="m-say">It was not laid over the sherd asked for: only the nearest are.</p>')
        return
    pair = cat.sherd(near.regions.query), cat.sherd(near.sherd)
    pictures = agreement_pictures(cat, *pair, near.regions, found.box_px)
    figures = [
        Figure(
            sherd.number, address_of(picture.webp, "image/webp", f"agree-{place}"), picture.width_mm, picture.height_mm
        )
        for place, (sherd, picture) in enumerate(zip(pair, pictures, strict=True))
    ]
    show(figures_html(figures, SIDE_PX))
    turn_deg = seen_turn_deg(near.regions, *(sherd.rim_up_deg or 0.0 for sherd in pair))
    show(f'<p class="m-say">{safe(agreement_words(near.regions, near.sherd, turn_deg))}</p>')
