"""Photographs to catalogued sherds.

Reading comes first, for all photographs, and touches no collection; cataloguing follows in one transaction. So one
bad photograph among twenty changes nothing. Crops are derived: they are cut after the sherds are safe.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from motifs.catalogue import check_name
from motifs.errors import InputError
from motifs.imaging import outline_measures, read_photo, read_tray
from motifs.workflows.crops import store_crops
from motifs.workflows.measurements import ensure_figures

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue, PhotoRow, SherdRow
    from motifs.records import Scale, TrayReading
    from motifs.workflows import Progress


@dataclass(frozen=True, slots=True)
class ReadPhoto:
    """A photograph as read, before anything is catalogued.

    sha256: of the file's bytes. reading: None where the collection has the photograph already, so that nobody needs it.
    """

    path: Path
    sha256: str
    width_px: int = 0
    height_px: int = 0
    reading: TrayReading | None = None


@dataclass(frozen=True, slots=True)
class TakenSherd:
    """One catalogued sherd of a photograph. outline_px: (N, 2) float32; sizes and their sd None where there is no scale."""

    sherd: str
    outline_px: NDArray[np.float32]
    area_mm2: float | None
    max_dimension_mm: float | None
    look: str | None
    area_mm2_sd: float | None = None
    max_dimension_mm_sd: float | None = None


@dataclass(frozen=True, slots=True)
class TakenPhoto:
    """One photograph as it stands in the catalogue.

    is_known: it was there before and nothing was added. light_from: what told the light; light_de: median CIEDE2000 of the
    reference patches after correction, None where there were none.
    """

    file: str
    photo_id: int
    lot: str
    width_px: int
    height_px: int
    mm_per_px: float | None
    sherds: tuple[TakenSherd, ...]
    crumbs: int
    warnings: tuple[str, ...]
    is_known: bool
    mm_per_px_sd: float | None = None
    scale_from: str | None = None
    light_from: str | None = None
    light_de: float | None = None


def known_photos(cat: Catalogue) -> frozenset[str]:
    """Sha256 of every photograph that the collection has."""
    return frozenset(photo.sha256 for photo in cat.photos())


def read_photos(
    paths: Sequence[Path],
    *,
    known: Collection[str] = (),
    px_per_mm: float | None = None,
    bar_mm: float | None = None,
    progress: Progress | None = None,
) -> tuple[ReadPhoto, ...]:
    """Read every photograph: sherds, scale, light.

    Parameters
    ----------
    paths : files, JPEG, PNG, TIFF, HEIC or camera raw.
    known : sha256 of photographs that need not be read again.
    px_per_mm : the scale, where the analyst knows it; overrides a scale bar.
    bar_mm : length of the scale bar, where it is neither 50 nor 100 mm.

    Raises
    ------
    PhotoError
        Any of them cannot be used; names the file.
    """
    if not paths:
        raise InputError("no photograph given; name at least one file")
    readings = []
    for done, path in enumerate(paths):
        _tell(progress, "reading photographs", done, len(paths))
        sha256 = _sha256_of(path) if known else ""
        is_known = sha256 in known
        readings.append(ReadPhoto(path, sha256) if is_known else _read(path, px_per_mm=px_per_mm, bar_mm=bar_mm))
    _tell(progress, "reading photographs", len(paths), len(paths))
    return tuple(readings)


def _sha256_of(path: Path) -> str:
    """Of the file's bytes; empty for a file that cannot be read, which `read_photo` refuses in its own words."""
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:
        return ""


def _read(path: Path, *, px_per_mm: float | None, bar_mm: float | None) -> ReadPhoto:
    photo = read_photo(path)
    reading = read_tray(photo, px_per_mm=px_per_mm, bar_mm=bar_mm)
    height_px, width_px = photo.rgb.shape[:2]
    return ReadPhoto(path, photo.sha256, width_px, height_px, reading)


def catalogue_photos(
    cat: Catalogue,
    photos: Sequence[ReadPhoto],
    *,
    lot: str,
    site: str | None = None,
    by: str,
    progress: Progress | None = None,
) -> tuple[TakenPhoto, ...]:
    """Give every sherd of the photographs a catalogue number in the lot; all of them or none.

    A photograph that the collection already has, in this lot or another, is recognised by its content and reported
    as it stands there; nothing is doubled.
    """
    check_name(lot, "lot")
    with cat.transaction(by=by):
        known = [cat.photo_by_hash(photo.sha256) for photo in photos]
        # Photographs that all lie in other lots must not leave an empty lot behind.
        if any(row is None or row.lot == lot for row in known):
            cat.ensure_lot(lot, site=site)
        taken = tuple(_take(cat, photo, lot) for photo in photos)
    fresh = [photo for photo in taken if not photo.is_known]
    for done, photo in enumerate(fresh):
        _tell(progress, "cutting crops", done, len(fresh))
        with cat.transaction(by=by):
            sherds = cat.sherds(photo_id=photo.photo_id)
            ensure_figures(cat, sherds, by=by, crops=store_crops(cat, sherds))
        _tell(progress, "cutting crops", done + 1, len(fresh))
    return taken


def _take(cat: Catalogue, photo: ReadPhoto, lot: str) -> TakenPhoto:
    known = cat.photo_by_hash(photo.sha256)
    if known is not None:
        taken = taken_photo(cat, known, file=str(photo.path), is_known=True)
        return replace(taken, warnings=(*taken.warnings, _known_line(known, photo.path.name, lot)))
    reading = photo.reading
    if reading is None:
        raise taken_out(photo)
    row = keep_photo(cat, photo, reading, lot)
    for found in reading.sherds:
        measures = outline_measures(found.outline_px, reading.scale)
        cat.add_sherd(
            row.photo_id,
            found.outline_px,
            area_mm2=measures.area_mm2,
            max_dimension_mm=measures.max_dimension_mm,
            look=found.look,
        )
    return taken_photo(cat, row, file=str(photo.path), is_known=False)


def _known_line(known: PhotoRow, name: str, lot: str) -> str:
    elsewhere = f" to lot '{lot}'" if known.lot != lot else ""
    return f"'{name}' is already catalogued in lot '{known.lot}'; nothing was added{elsewhere}; to change its lot or scale, use the page"


def taken_photo(cat: Catalogue, row: PhotoRow, *, file: str, is_known: bool) -> TakenPhoto:
    """A photograph as it stands in the catalogue now."""
    return TakenPhoto(
        file=file,
        photo_id=row.photo_id,
        lot=row.lot,
        width_px=row.width_px,
        height_px=row.height_px,
        mm_per_px=None if row.scale is None else 1.0 / row.scale.px_per_mm,
        sherds=tuple(_taken_sherd(sherd, row.scale) for sherd in cat.sherds(photo_id=row.photo_id)),
        crumbs=row.crumbs,
        warnings=row.warnings,
        is_known=is_known,
        mm_per_px_sd=None if row.scale is None else row.scale.relative_sd / row.scale.px_per_mm,
        scale_from=None if row.scale is None else row.scale.source,
        light_from=None if row.light is None else row.light.reference,
        light_de=None if row.light is None else row.light.reference_de,
    )


def _taken_sherd(sherd: SherdRow, scale: Scale | None) -> TakenSherd:
    measures = outline_measures(sherd.outline_px, scale)
    return TakenSherd(
        sherd.number,
        sherd.outline_px,
        sherd.area_mm2,
        sherd.max_dimension_mm,
        sherd.look,
        measures.area_mm2_sd,
        measures.max_dimension_mm_sd,
    )


def _tell(progress: Progress | None, stage: str, done: int, total: int) -> None:
    if progress is not None:
        progress(stage, done, total)


def keep_photo(cat: Catalogue, photo: ReadPhoto, reading: TrayReading, lot: str) -> PhotoRow:
    """Put a photograph that was read on record, inside a transaction: of faces and of backs alike."""
    return cat.add_photo(
        lot,
        photo.path,
        file_name=photo.path.name,
        width_px=photo.width_px,
        height_px=photo.height_px,
        scale=reading.scale,
        light=reading.light,
        crumbs=reading.crumbs,
        warnings=reading.warnings,
        sha256=photo.sha256,
    )


def taken_out(photo: ReadPhoto) -> InputError:
    """What to say of a photograph that was known while it was read, and no longer is."""
    return InputError(
        f"'{photo.path.name}' has just been taken out of the collection by somebody else; bring it in again"
    )
