"""What the analyst corrects after intake: outlines, scale, lot, site, vessel; every step can be undone."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from motifs.errors import InputError
from motifs.imaging import merge_outlines, outline_measures
from motifs.records import Scale
from motifs.workflows.crops import store_crops
from motifs.workflows.word import analysts_links

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue, EventRow, LotRow, PhotoRow, SherdRow

TYPED_RELATIVE_SD = 0.005
"""Standard uncertainty taken for a scale that a person typed, relative; common practice, no source."""


def drop(cat: Catalogue, numbers: Sequence[str], *, by: str) -> None:
    """Take out what is no sherd after all; it stays in the history and its number is not used again."""
    with cat.transaction(by=by):
        for number in numbers:
            cat.drop_sherd(number)


def merge(cat: Catalogue, numbers: Sequence[str], *, by: str) -> SherdRow:
    """Make one sherd of several outlines of one photograph.

    Raises
    ------
    InputError
        Fewer than two sherds, or not of one photograph.
    """
    if len(set(numbers)) < 2:
        raise InputError("merging takes at least two sherds; choose another one")
    sherds = [cat.sherd(number) for number in dict.fromkeys(numbers)]
    outline_px = merge_outlines([sherd.outline_px for sherd in sherds])
    measures = outline_measures(outline_px, cat.photo(sherds[0].photo_id).scale)
    with cat.transaction(by=by):
        merged = cat.merge_sherds(
            [sherd.number for sherd in sherds],
            outline_px,
            area_mm2=measures.area_mm2,
            max_dimension_mm=measures.max_dimension_mm,
        )
        store_crops(cat, [merged])
    return merged


def redraw(cat: Catalogue, number: str, outline_px: NDArray[np.float32], *, by: str) -> SherdRow:
    """Replace an outline by one that a person drew, (N, 2) px of the oriented photograph, N >= 3.

    Raises
    ------
    InputError
        Not a polygon, or beyond the photograph.
    """
    photo = cat.photo(cat.sherd(number).photo_id)
    points = np.asarray(outline_px, dtype=np.float32)
    if points.ndim != 2 or points.shape[1] != 2 or len(points) < 3 or not np.isfinite(points).all():
        raise InputError(f"the outline of '{number}' needs at least three points (x, y); draw it again")
    if (points < -0.5).any() or (points > np.array([photo.width_px, photo.height_px]) - 0.5).any():
        raise InputError(f"the outline of '{number}' leaves the photograph '{photo.file_name}'; draw it again")
    measures = outline_measures(points, photo.scale)
    with cat.transaction(by=by):
        changed = cat.replace_outline(
            number, points, area_mm2=measures.area_mm2, max_dimension_mm=measures.max_dimension_mm
        )
        store_crops(cat, [changed])
    return changed


def set_scale(cat: Catalogue, photo_id: int, px_per_mm: float | None, *, by: str) -> PhotoRow:
    """Set the scale of a photograph (None: there is none) and measure its sherds again.

    Raises
    ------
    InputError
        Not a positive number.
    """
    if px_per_mm is not None and not (math.isfinite(px_per_mm) and px_per_mm > 0):
        raise InputError(f"a scale of {px_per_mm} px/mm cannot be; give a number above 0")
    scale = None if px_per_mm is None else Scale(px_per_mm, "typed", TYPED_RELATIVE_SD)
    measured = {}
    for sherd in cat.sherds(photo_id=photo_id):
        measures = outline_measures(sherd.outline_px, scale)
        measured[sherd.number] = (measures.area_mm2, measures.max_dimension_mm)
    with cat.transaction(by=by):
        photo = cat.set_scale(photo_id, scale, measured)
        store_crops(cat, cat.sherds(photo_id=photo_id))
    return photo


def move_photo(cat: Catalogue, photo_id: int, lot: str, *, site: str | None = None, by: str) -> PhotoRow:
    """Give a photograph and its sherds to another lot, made if it is not there. Numbers stay."""
    with cat.transaction(by=by):
        cat.ensure_lot(lot, site=site)
        return cat.move_photo(photo_id, lot)


def set_site(cat: Catalogue, lot: str, site: str | None, *, by: str) -> LotRow:
    """Give a lot to a site, made if it is not there, or to none."""
    with cat.transaction(by=by):
        return cat.set_site(lot, site)


def attribute(cat: Catalogue, numbers: Sequence[str], vessel: str | None, *, by: str, note: str = "") -> None:
    """Record a person's judgement: the sherds are of this vessel (None: left unassigned on purpose).

    Raises
    ------
    LinksContradict
        A link says otherwise.
    """
    with cat.transaction(by=by):
        for number in numbers:
            cat.attribute(number, vessel, note=note)
        for lot in {cat.sherd(number).lot for number in numbers}:
            analysts_links([sherd.number for sherd in cat.sherds(lot)], cat.links(lot), cat.attributions(lot))


def withdraw_attribution(cat: Catalogue, numbers: Sequence[str], *, by: str) -> None:
    """Leave sherds to the proposals again."""
    with cat.transaction(by=by):
        for number in numbers:
            cat.withdraw_attribution(number)


def undo(cat: Catalogue, lot: str, *, by: str) -> tuple[EventRow, ...]:
    """Take back the lot's latest change; InputError where there is nothing to undo."""
    with cat.transaction(by=by):
        events = cat.undo(lot)
        store_crops(cat, cat.sherds(lot))
    return events
