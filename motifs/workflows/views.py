"""Further views of the sherds of a lot: a photograph of the turned-over tray, paired with the faces by outline.

A view keeps its photograph and outline, and is never a sherd: intake, evidence, encoding and sorting do not see it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from motifs.catalogue.views import check_kind
from motifs.errors import InputError
from motifs.imaging import cut_crop, outline_in_mm, outline_measures, read_photo
from motifs.imaging.mirror_matching import match_mirrored
from motifs.workflows.intake import keep_photo, known_photos, read_photos, taken_out

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue, PhotoRow, SherdRow, ViewRow
    from motifs.imaging.mirror_matching import MirrorPair
    from motifs.records import Scale, SherdCrop
    from motifs.workflows import Progress
    from motifs.workflows.intake import ReadPhoto

PROGRAM = "program"
"""Who pairs views, in the history, where no person did."""

TURNED_KINDS = ("interior", "other")
"""Views that show a sherd turned over, so that its outline is mirrored."""


@dataclass(frozen=True, slots=True)
class TakenViews:
    """What came of photographs of turned-over sherds.

    views: of these photographs, as they stand. without: sherds of the lot that none of the lot's views of this kind
    shows. is_to_scale: False where a photograph had no scale and shapes alone were compared.
    """

    lot: str
    views: tuple[ViewRow, ...]
    without: tuple[str, ...]
    is_to_scale: bool
    warnings: tuple[str, ...]


def take_backs(
    cat: Catalogue,
    lot: str,
    paths: Sequence[Path],
    *,
    kind: str = "interior",
    px_per_mm: float | None = None,
    bar_mm: float | None = None,
    by: str,
    progress: Progress | None = None,
) -> TakenViews:
    """Take in photographs of a lot's sherds turned over, and pair each outline with a face; all of them or none.

    Parameters
    ----------
    lot : must be there, with its faces.
    paths : photographs; a photograph of views that the collection has already is paired anew, as far as no person has.
    kind : "interior", or "other" where it is another mirrored side.
    px_per_mm, bar_mm : as for intake.

    Raises
    ------
    PhotoError, UnknownName
        A photograph cannot be used; no such lot.
    InputError
        No faces in the lot yet; a photograph is one of faces; not a mirrored side.
    """
    if check_kind(kind) not in TURNED_KINDS:
        raise InputError(
            f"a turned-over tray shows {' or '.join(TURNED_KINDS)}, not '{kind}'; add a {kind} view by hand"
        )
    cat.lot(lot)
    if not cat.sherds(lot):
        raise InputError(f"lot '{lot}' has no sherds yet; take in its faces first, then their backs")
    readings = read_photos(paths, known=known_photos(cat), px_per_mm=px_per_mm, bar_mm=bar_mm, progress=progress)
    with cat.transaction(by=by):
        photos = [_keep_photo(cat, reading, lot) for reading in readings]
    # Apart from the photograph, so that one undo takes the views back and leaves the original.
    with cat.transaction(by=by):
        for photo, reading in zip(photos, readings, strict=True):
            _keep_outlines(cat, photo, reading, kind)
        is_to_scale = [_pair(cat, lot, photo, kind) for photo in photos]
    warnings = tuple(f"{photo.file_name}: {warning}" for photo in photos for warning in photo.warnings)
    return _taken(cat, lot, photos, kind, all(is_to_scale), warnings)


def pair_again(cat: Catalogue, lot: str, *, by: str) -> tuple[ViewRow, ...]:
    """Pair the lot's mirrored views anew, after corrections; a person's pairings stand. Returns all views of the lot."""
    with cat.transaction(by=by):
        for photo_id in sorted({view.photo_id for view in cat.views(lot) if view.kind in TURNED_KINDS}):
            for kind in TURNED_KINDS:
                _pair(cat, lot, cat.photo(photo_id), kind)
    return cat.views(lot)


def confirm_views(cat: Catalogue, view_ids: Sequence[int], *, by: str) -> tuple[ViewRow, ...]:
    """Record that a person has looked: these views are of the sherds they are paired with.

    Raises
    ------
    UnknownName, InputError
        No such view; one is loose, so that there is nothing to confirm.
    """
    with cat.transaction(by=by):
        return tuple(cat.pair_view(view_id, _paired_with(cat.view(view_id))) for view_id in view_ids)


def pair_view(cat: Catalogue, view_id: int, number: str | None, *, by: str) -> ViewRow:
    """Say by hand whose view it is; None: nobody knows. UnknownName, InputError as the catalogue raises them."""
    with cat.transaction(by=by):
        return cat.pair_view(view_id, number)


def add_view(
    cat: Catalogue, number: str, photo_id: int, outline_px: NDArray[np.float32], kind: str, *, by: str
) -> ViewRow:
    """Add one view of a sherd by hand: an outline on a photograph of its lot (a section, a rim from above, ...).

    Raises
    ------
    UnknownName, InputError
        No such sherd or photo; not a polygon or a kind of view; another lot.
    """
    measures = outline_measures(outline_px, cat.photo(photo_id).scale)
    with cat.transaction(by=by):
        added = cat.add_view(
            photo_id, outline_px, kind, area_mm2=measures.area_mm2, max_dimension_mm=measures.max_dimension_mm
        )
        return cat.pair_view(added.view_id, number)


def drop_view(cat: Catalogue, view_id: int, *, by: str) -> None:
    """Take a view out; undo brings it back."""
    with cat.transaction(by=by):
        cat.drop_view(view_id)


def view_crop(cat: Catalogue, view: ViewRow) -> SherdCrop:
    """Cut a view from its original, to look at; nothing is kept."""
    row = cat.photo(view.photo_id)
    if row.light is None:
        raise InputError(f"photo '{row.file_name}' was kept without its light; take it in again")
    return cut_crop(read_photo(cat.photo_file(row)), row.light, row.scale, view.outline_px)


def _keep_photo(cat: Catalogue, photo: ReadPhoto, lot: str) -> PhotoRow:
    known = cat.photo_by_hash(photo.sha256)
    if known is not None:
        if known.lot != lot or cat.sherds(photo_id=known.photo_id, with_dropped=True):
            raise InputError(
                f"'{photo.path.name}' is catalogued as faces in lot '{known.lot}'; name a photograph of the turned-over sherds"
            )
        return known
    reading = photo.reading
    if reading is None:
        raise taken_out(photo)
    return keep_photo(cat, photo, reading, lot)


def _keep_outlines(cat: Catalogue, photo: PhotoRow, reading: ReadPhoto, kind: str) -> None:
    if reading.reading is None or any(view.photo_id == photo.photo_id for view in cat.views(photo.lot)):
        return
    for found in reading.reading.sherds:
        size = outline_measures(found.outline_px, photo.scale)
        cat.add_view(
            photo.photo_id, found.outline_px, kind, area_mm2=size.area_mm2, max_dimension_mm=size.max_dimension_mm
        )


def _pair(cat: Catalogue, lot: str, photo: PhotoRow, kind: str) -> bool:
    """Pair the views of one photograph with the faces that no person's pairing has taken; say whether to scale."""
    views = [view for view in cat.views(lot) if view.kind == kind]
    settled = {view.sherd for view in views if view.standing == "confirmed" or view.photo_id != photo.photo_id}
    open_views = [view for view in views if view.photo_id == photo.photo_id and view.standing != "confirmed"]
    fronts = [sherd for sherd in cat.sherds(lot) if sherd.number not in settled]
    scales = {sherd.photo_id: cat.photo(sherd.photo_id).scale for sherd in fronts}
    is_to_scale = photo.scale is not None and all(scale is not None for scale in scales.values())
    pairs = match_mirrored(
        [_points(sherd, scales[sherd.photo_id], is_to_scale) for sherd in fronts],
        [_points(view, photo.scale, is_to_scale) for view in open_views],
        is_to_scale=is_to_scale,
    )
    by_back = {pair.back: pair for pair in pairs}
    for place, view in enumerate(open_views):
        if place not in by_back and view.sherd is not None:
            cat.pair_view(view.view_id, None, standing="loose")
    for place, pair in by_back.items():
        _keep_pair(cat, open_views[place], fronts[pair.front], pair, is_to_scale=is_to_scale)
    return is_to_scale


def _keep_pair(cat: Catalogue, view: ViewRow, front: SherdRow, pair: MirrorPair, *, is_to_scale: bool) -> None:
    cat.pair_view(
        view.view_id,
        front.number,
        standing="paired" if pair.is_sure else "look",
        distance_mm=pair.distance if is_to_scale else None,
        margin=pair.margin,
        turn_deg=pair.turn_deg,
    )


def _points(piece: SherdRow | ViewRow, scale: Scale | None, is_to_scale: bool) -> NDArray[Any]:
    return outline_in_mm(piece.outline_px, scale) if is_to_scale and scale is not None else piece.outline_px


def _taken(
    cat: Catalogue, lot: str, photos: Sequence[PhotoRow], kind: str, is_to_scale: bool, warnings: tuple[str, ...]
) -> TakenViews:
    ids = {photo.photo_id for photo in photos}
    views = cat.views(lot)
    shown = {view.sherd for view in views if view.kind == kind}
    without = tuple(sherd.number for sherd in cat.sherds(lot) if sherd.number not in shown)
    return TakenViews(lot, tuple(view for view in views if view.photo_id in ids), without, is_to_scale, warnings)


def _paired_with(view: ViewRow) -> str:
    if view.sherd is None:
        raise InputError(f"view {view.view_id} is loose; say whose it is instead of confirming it")
    return view.sherd
