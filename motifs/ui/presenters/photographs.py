"""A photograph, what was read off it, and its outlines."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from motifs.ui.presenters.text import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from motifs.catalogue import PhotoRow, SherdRow
    from motifs.workflows.intake import TakenPhoto

MOST_POINTS = 140
"""Points of an outline that are sent to the browser; more cannot be seen on a screen."""

SOURCES = {"bar": "scale bar", "typed": "typed", "mat": "cutting mat", "ruler": "ruler"}
REFERENCES = {
    "bar": "colours set by the whites of the scale bar",
    "backdrop": "colours set by the backdrop",
    "none": "nothing neutral to set the colours by",
}


def short_number(number: str, lot: str) -> str:
    """The part of a catalogue number that differs within its lot."""
    return number.removeprefix(f"{lot}-")


def outlines_json(photo: PhotoRow, sherds: Sequence[SherdRow], chosen: Sequence[str], url: str) -> dict[str, Any]:
    """What the component takes; coordinates in px of the oriented photograph."""
    return {
        "url": url,
        "alt": f"photograph {photo.file_name} with {counted(len(sherds), 'outline')}",
        "width_px": photo.width_px,
        "height_px": photo.height_px,
        "text_px": round(max(photo.width_px, photo.height_px) / 55),
        "chosen": [number for number in chosen if any(sherd.number == number for sherd in sherds)],
        "outlines": [_outline_json(sherd) for sherd in sherds],
    }


def _outline_json(sherd: SherdRow) -> dict[str, Any]:
    points = _thinned(sherd.outline_px)
    middle = (sherd.outline_px.min(axis=0) + sherd.outline_px.max(axis=0)) / 2
    return {
        "sherd": sherd.number,
        "label": short_number(sherd.number, sherd.lot),
        "points": " ".join(f"{x:.1f},{y:.1f}" for x, y in points),
        "at": [round(float(middle[0]), 1), round(float(middle[1]), 1)],
        "look": sherd.look,
        "alt": f"sherd {sherd.number}" + (f", look: {sherd.look}" if sherd.look else ""),
    }


def _thinned(outline_px: NDArray[np.float32]) -> NDArray[np.float32]:
    step = max(1, -(-len(outline_px) // MOST_POINTS))
    return outline_px[::step]


def scale_words(photo: PhotoRow) -> str:
    """Scale with where it came from and how sure it is."""
    if photo.scale is None:
        return "none: sizes are not known. Give px/mm below, or photograph again with a scale bar"
    scale = photo.scale
    source = SOURCES.get(scale.source, scale.source)
    return f"{scale.px_per_mm:.2f} px/mm ({1 / scale.px_per_mm:.4f} mm/px), from the {source}, ± {scale.relative_sd:.1%}".replace(
        "from the typed", "typed"
    )


def light_words(photo: PhotoRow) -> str:
    """What the colours rest on, and how even the backdrop came out."""
    if photo.light is None:
        return "not recorded"
    reference = REFERENCES.get(photo.light.reference, photo.light.reference)
    return f"{reference}; backdrop even to {photo.light.residual_de:.1f} (CIEDE2000)"


def photo_facts(photo: PhotoRow, sherds: Sequence[SherdRow]) -> list[tuple[str, object]]:
    """Names and values beside the photograph."""
    return [
        ("Photograph", f"{photo.file_name}, {photo.width_px} × {photo.height_px} px"),
        ("Sherds", len(sherds)),
        ("Crumbs", f"{photo.crumbs} counted, not numbered" if photo.crumbs else None),
        ("Scale", scale_words(photo)),
        ("Light", light_words(photo)),
    ]


def size_words(sherd: SherdRow) -> str:
    """Largest dimension and area, or that they are not known."""
    if sherd.max_dimension_mm is None or sherd.area_mm2 is None:
        return "size not known"
    return f"{sherd.max_dimension_mm:.0f} mm, {sherd.area_mm2 / 100:.1f} cm²"


def sherd_rows(sherds: Sequence[SherdRow]) -> list[tuple[object, ...]]:
    """Rows of the list beside the photograph: number, size, why to look."""
    return [(sherd.number, size_words(sherd), sherd.look or "") for sherd in sherds]


def intake_words(taken: Sequence[TakenPhoto]) -> tuple[str, list[str]]:
    """What an intake did in one line, and what to note of it."""
    fresh = [photo for photo in taken if not photo.is_known]
    sherds = sum(len(photo.sherds) for photo in fresh)
    lots = sorted({photo.lot for photo in fresh})
    line = (
        f"{counted(len(fresh), 'photograph')} in lot {', '.join(lots)}: {counted(sherds, 'sherd')} outlined and numbered."
        if fresh
        else "Nothing new: every photograph is in the collection already."
    )
    notes = [f"{photo.file}: {warning}" for photo in taken for warning in photo.warnings]
    return line, notes
