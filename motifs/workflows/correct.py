"""What the analyst corrects after intake: outlines, scale, lot, site, vessel; every step can be undone."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from motifs.catalogue import SherdPiece
from motifs.errors import InputError
from motifs.imaging import drawn_outline, merge_outlines, outline_measures, overlap_share, rim_up_deg, split_by_stroke
from motifs.records import Scale
from motifs.workflows.crops import store_crops
from motifs.workflows.word import lot_links

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    from motifs.catalogue import Catalogue, EventRow, LotRow, PhotoRow, SherdRow

TYPED_RELATIVE_SD = 0.005
"""Standard uncertainty taken for a scale that a person typed, relative; common practice, no source."""

MOST_OVERLAP = 0.5
"""A drawn outline may share this part of the smaller of two sherds with another; more means that one of them is the other."""


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


def redraw(cat: Catalogue, number: str, outline_px: ArrayLike, *, by: str) -> SherdRow:
    """Replace an outline by one that a person drew, (N, 2) px of the oriented photograph, N >= 3.

    Raises
    ------
    InputError
        Not a simple polygon on the photograph, too small, or over another sherd.
    """
    photo = cat.photo(cat.sherd(number).photo_id)
    points = _drawn(cat, photo, outline_px, f"'{number}'", number)
    measures = outline_measures(points, photo.scale)
    with cat.transaction(by=by):
        changed = cat.replace_outline(
            number, points, area_mm2=measures.area_mm2, max_dimension_mm=measures.max_dimension_mm
        )
        store_crops(cat, [changed])
    return changed


def add_missed(cat: Catalogue, photo_id: int, outline_px: ArrayLike, *, by: str) -> SherdRow:
    """Catalogue a sherd that intake missed, by the outline a person drew around it (as for `redraw`).

    Raises
    ------
    InputError
        Not a simple polygon on the photograph, too small, or a sherd that is catalogued already.
    """
    photo = cat.photo(photo_id)
    points = _drawn(cat, photo, outline_px, "a new sherd", None)
    measures = outline_measures(points, photo.scale)
    with cat.transaction(by=by):
        added = cat.add_sherd(
            photo_id,
            points,
            area_mm2=measures.area_mm2,
            max_dimension_mm=measures.max_dimension_mm,
            is_by_hand=True,
        )
        store_crops(cat, [added])
    return added


def split(cat: Catalogue, number: str, stroke_px: ArrayLike, *, by: str) -> tuple[SherdRow, ...]:
    """Make several sherds of one outline along a stroke, (N, 2) px of the oriented photograph, N >= 2.

    The largest piece keeps the number and what was said of the sherd; the others get new numbers.

    Raises
    ------
    InputError
        The stroke leaves the photograph or does not cut the sherd.
    """
    sherd = cat.sherd(number)
    photo = cat.photo(sherd.photo_id)
    outlines = split_by_stroke(sherd.outline_px, stroke_px, (photo.width_px, photo.height_px), f"'{number}'")
    measured = [outline_measures(outline_px, photo.scale) for outline_px in outlines]
    pieces = [
        SherdPiece(outline_px, measures.area_mm2, measures.max_dimension_mm)
        for outline_px, measures in zip(outlines, measured, strict=True)
    ]
    with cat.transaction(by=by):
        sherds = cat.split_sherd(number, pieces)
        store_crops(cat, sherds)
    return sherds


def set_rim_up(cat: Catalogue, numbers: Sequence[str], turn_deg: float | None, *, by: str) -> None:
    """Say how far the photograph has to be turned clockwise for these sherds to stand rim up; None: not known."""
    if not numbers:
        raise InputError("no sherd is chosen; choose the one whose rim is to be up")
    with cat.transaction(by=by):
        for number in numbers:
            cat.set_rim_up(number, turn_deg)


def point_to_rim(cat: Catalogue, number: str, body_px: ArrayLike, rim_px: ArrayLike, *, by: str) -> SherdRow:
    """Turn a sherd rim up by an arrow from its body to its rim, both (2,) px of the oriented photograph."""
    set_rim_up(cat, [number], rim_up_deg(body_px, rim_px), by=by)
    return cat.sherd(number)


def accept_outlines(cat: Catalogue, numbers: Sequence[str], *, by: str) -> None:
    """Record that a person has looked at these outlines and lets them stand."""
    if not numbers:
        raise InputError("no outline is chosen; choose the one that you have looked at")
    with cat.transaction(by=by):
        for number in numbers:
            cat.accept_outline(number)


def said_of(cat: Catalogue, numbers: Sequence[str]) -> tuple[str, ...]:
    """What people said of these sherds, in words, for a warning before they are dropped; empty for nothing."""
    tags = cat.tags_of(numbers)
    lines = []
    for number in numbers:
        lot = cat.sherd(number).lot
        links = sum(number in (link.a, link.b) for link in cat.links(lot))
        judged = cat.attributions(lot).get(number)
        said = [
            _number_of(len(tags.get(number, ())), "tag"),
            _number_of(links, "link"),
            f"put to vessel {judged.vessel} by {judged.by}" if judged and judged.vessel is not None else "",
        ]
        if any(said):
            lines.append(f"{number}: {', '.join(part for part in said if part)}")
    return tuple(lines)


def boxes_to_check(cat: Catalogue, number: str) -> str:
    """A sentence on the boxes that tags of the sherd carry, which lie in px of the crop; empty where there are none."""
    terms = [tag.term for tag in cat.tags(number) if tag.box_px is not None]
    if not terms:
        return ""
    return f" Look the boxes of its tags over ({', '.join(terms)}): they were drawn before the outline changed."


def _number_of(count: int, what: str) -> str:
    return f"{count} {what}{'s' if count > 1 else ''}" if count else ""


def _drawn(cat: Catalogue, photo: PhotoRow, outline_px: ArrayLike, of: str, number: str | None) -> NDArray[np.float32]:
    """The outline, checked, and not that of another sherd of the photograph."""
    points = drawn_outline(outline_px, (photo.width_px, photo.height_px), of)
    for other in cat.sherds(photo_id=photo.photo_id):
        if other.number != number and overlap_share(points, other.outline_px) > MOST_OVERLAP:
            raise InputError(
                f"the outline of {of} lies over sherd '{other.number}'; redraw that one, merge the two, or drop one first"
            )
    return points


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
            lot_links(cat, lot, cat.sherd_numbers(lot))


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


def redo(cat: Catalogue, lot: str, *, by: str) -> str:
    """Do again what was taken back last, and say what; InputError where there is nothing to do again."""
    with cat.transaction(by=by):
        (undoing,) = cat.redo(lot)
        store_crops(cat, cat.sherds(lot))
    return undoing.subject
