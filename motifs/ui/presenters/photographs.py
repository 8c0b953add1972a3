"""A photograph, what was read off it, and its outlines."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from motifs.errors import InputError
from motifs.ui.presenters.sieves import Sieve
from motifs.ui.presenters.text import counted

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from motifs.catalogue import PhotoRow, SherdRow
    from motifs.workflows.figure_words import FigureLine
    from motifs.workflows.intake import TakenPhoto

MOST_POINTS = 140
"""Points of an outline that are sent to the browser; more cannot be seen on a screen."""

SOURCES = {"bar": "scale bar", "typed": "typed", "mat": "photo mat", "ruler": "ruler"}
REFERENCES = {
    "card": "colours set by the colour card",
    "mat": "colours set by the photo mat",
    "bar": "colours set by the whites of the scale bar",
    "backdrop": "colours set by the backdrop",
    "none": "nothing neutral to set the colours by",
}


def short_number(number: str, lot: str) -> str:
    """The part of a catalogue number that differs within its lot."""
    return number.removeprefix(f"{lot}-")


def board_json(
    photo: PhotoRow,
    sherds: Sequence[SherdRow],
    chosen: Sequence[str],
    urls: Mapping[str, str],
    go_to: str | None = None,
) -> dict[str, Any]:
    """What the drawing board takes; coordinates in px of the oriented photograph.

    urls: addresses of the copies "small", "screen" and "detail". go_to: sherd to bring near. Where one outline is chosen, all
    its points come along, so that what is not redrawn stays as fine as it is.
    """
    there = {sherd.number: sherd for sherd in sherds}
    kept = [number for number in chosen if number in there]
    full = None if len(kept) != 1 else {"sherd": kept[0], "points": there[kept[0]].outline_px.round(2).tolist()}
    return {
        "urls": dict(urls),
        "alt": f"photograph {photo.file_name} with {counted(len(sherds), 'outline')}",
        "width_px": photo.width_px,
        "height_px": photo.height_px,
        "chosen": kept,
        "full": full,
        "go_to": go_to if go_to in there else None,
        "outlines": [_outline_json(sherd) for sherd in sherds],
    }


def _outline_json(sherd: SherdRow) -> dict[str, Any]:
    low, high = sherd.outline_px.min(axis=0), sherd.outline_px.max(axis=0)
    middle = (low + high) / 2
    return {
        "sherd": sherd.number,
        "label": short_number(sherd.number, sherd.lot),
        "polygon": _thinned(sherd.outline_px).round(1).tolist(),
        "at": middle.round(1).tolist(),
        "arrow": None
        if sherd.rim_up_deg is None
        else _arrow(middle, 0.42 * float((high - low).min()), sherd.rim_up_deg),
        "look": sherd.look,
        "is_by_hand": sherd.outline_by is not None,
        "alt": f"sherd {sherd.number}" + (f", look: {sherd.look}" if sherd.look else ""),
    }


def _arrow(middle: NDArray[np.float32], length_px: float, rim_up_deg: float) -> list[float]:
    """From the middle towards the rim: what a turn of rim_up_deg clockwise would bring to the top."""
    turn = math.radians(rim_up_deg)
    tip = (middle[0] - length_px * math.sin(turn), middle[1] - length_px * math.cos(turn))
    return [round(float(value), 1) for value in (*middle, *tip)]


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


def outline_words(sherd: SherdRow) -> str:
    """Whose outline it is."""
    return "as found" if sherd.outline_by is None else f"drawn by {sherd.outline_by}"


def rim_words(sherd: SherdRow) -> str:
    """How the sherd stands."""
    return "not known" if sherd.rim_up_deg is None else f"turned {sherd.rim_up_deg:g}° clockwise"


def figure_facts(figures: Sequence[FigureLine]) -> list[tuple[str, object]]:
    """What was measured, as names and values to show; what to keep in mind stands after the value."""
    return [
        (line.name[:1].upper() + line.name[1:], line.text + (f" ({line.note})" if line.note else ""))
        for line in figures
    ]


def look_first(sherds: Sequence[SherdRow]) -> list[SherdRow]:
    """Sherds whose outline asks for a look, then the others, each in catalogue order."""
    return sorted(sherds, key=lambda sherd: sherd.look is None)


def next_to_look(sherds: Sequence[SherdRow], chosen: Sequence[str]) -> SherdRow | None:
    """The sherd to look at after the chosen one, round the lot; None where none asks for a look."""
    waiting = [place for place, sherd in enumerate(sherds) if sherd.look is not None and sherd.number not in chosen]
    if not waiting:
        return None
    here = max((place for place, sherd in enumerate(sherds) if sherd.number in chosen), default=-1)
    return sherds[next((place for place in waiting if place > here), waiting[0])]


def sherd_sieve(sherds: Sequence[SherdRow]) -> Sieve[SherdRow]:
    """How the list of sherds can be sifted."""
    places = {sherd.number: place for place, sherd in enumerate(sherds)}
    return Sieve(
        text=lambda sherd: f"{sherd.number} {sherd.look or ''} {outline_words(sherd)}",
        kinds={
            "to look at": lambda sherd: sherd.look is not None,
            "drawn by a person": lambda sherd: sherd.outline_by is not None,
            "rim up not known": lambda sherd: sherd.rim_up_deg is None,
        },
        orders={
            "what asks for a look first": lambda sherd: sherd.look is None,
            "number": lambda sherd: places[sherd.number],
            "largest first": lambda sherd: -(sherd.area_mm2 or 0.0),
        },
    )


def sherd_rows(sherds: Sequence[SherdRow]) -> list[tuple[object, ...]]:
    """Rows of the list under the photograph."""
    return [
        (sherd.number, size_words(sherd), sherd.look or "", outline_words(sherd), rim_words(sherd)) for sherd in sherds
    ]


def photo_label(place: int, photo: PhotoRow, to_look: int) -> str:
    """A photograph in the list of the lot's photographs."""
    return f"{place}. {photo.file_name}" + (f" ({to_look} to look at)" if to_look else "")


def points_text(outline_px: NDArray[np.float32]) -> str:
    """An outline as lines of "x, y"."""
    return "\n".join(f"{x:.2f}, {y:.2f}" for x, y in outline_px)


def points_of(text: str) -> list[tuple[float, float]]:
    """Points that a person typed, one "x, y" on each line; blanks or ";" will do for the comma.

    Raises
    ------
    InputError
        A line that is no point; names it.
    """
    points = []
    for place, line in enumerate(text.splitlines(), start=1):
        parts = line.replace(",", " ").replace(";", " ").split()
        if not parts:
            continue
        try:
            x, y = (float(part) for part in parts)
        except ValueError:
            raise InputError(
                f"line {place}, '{line.strip()}', is not a point; write x, y in px, as 412.5, 300"
            ) from None
        points.append((x, y))
    return points


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
