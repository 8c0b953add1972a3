"""A drawing that can be moved and enlarged."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.ui.components.browser_code import address_of, component_named
from motifs.ui.presenters.drawn import size_of
from motifs.workflows.drawings import svg as svg_of

if TYPE_CHECKING:
    from motifs.workflows.drawings import Figure

HEIGHT_PX = 460


def show_zoom_picture(svg: str, alt: str, caption: str, *, key: str, height_px: int = HEIGHT_PX) -> None:
    """Mount it: an SVG element as `workflows.drawings.svg` writes it. height_px: of the pane, less on a low screen."""
    width, height = size_of(svg)
    mount = component_named("zoom_picture", '<div class="zoomed m-drawing"></div>')
    mount(
        key=f"zoom_{key}",
        data={
            "url": address_of(svg.encode(), "image/svg+xml", f"zoom-{key}"),
            "alt": alt,
            "caption": caption,
            "ratio": width / height,
            "height_px": height_px,
        },
    )


def show_figure(figure: Figure, *, key: str, height_px: int = HEIGHT_PX) -> None:
    """A drawing with its caption."""
    show_zoom_picture(svg_of(figure), figure.alt, figure.caption, key=key, height_px=height_px)
