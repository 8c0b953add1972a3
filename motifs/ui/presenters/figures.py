"""Pictures side by side at one scale, however narrow the place is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motifs.ui.presenters.text import safe

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, slots=True)
class Figure:
    """A sherd's picture and the size of the whole picture, mm."""

    sherd: str
    url: str
    width_mm: float
    height_mm: float


def figures_html(figures: Sequence[Figure], side_px: int) -> str:
    """Figures in a row: each takes a share of the width as its width in mm, so that one scale holds for all of them.

    side_px: none gets wider or higher than this on the screen.
    """
    if not figures:
        return ""
    px_per_mm = side_px / max(max(figure.width_mm, figure.height_mm) for figure in figures)
    return '<div class="m-figures">' + "".join(_figure(figure, px_per_mm) for figure in figures) + "</div>"


def _figure(figure: Figure, px_per_mm: float) -> str:
    share = f"flex:{figure.width_mm:.2f} 1 0;max-width:{figure.width_mm * px_per_mm:.0f}px"
    name = safe(figure.sherd)
    return f'<figure style="{share}"><img src="{safe(figure.url)}" alt="sherd {name}"><figcaption>{name}</figcaption></figure>'
