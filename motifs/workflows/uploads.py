"""Photographs that come as bytes under a name, as a page hands them over."""

from __future__ import annotations

import tempfile
from collections import deque
from dataclasses import dataclass, replace
from pathlib import Path, PurePath
from typing import TYPE_CHECKING

from motifs.catalogue import Catalogue, check_name
from motifs.errors import InputError, PhotoError
from motifs.workflows.intake import catalogue_photos, read_photos
from motifs.workflows.mat import settle_lot
from motifs.workflows.pictures import photo_copies, small_pictures
from motifs.workflows.views import take_backs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.workflows import Progress
    from motifs.workflows.intake import ReadPhoto, TakenPhoto
    from motifs.workflows.views import TakenViews


@dataclass(frozen=True, slots=True)
class Upload:
    """One photograph as handed over."""

    file_name: str
    content: bytes


def take_in_uploads(
    collection: Path,
    uploads: Sequence[Upload],
    *,
    lot: str | None,
    site: str | None = None,
    px_per_mm: float | None = None,
    bar_mm: float | None = None,
    by: str,
    progress: Progress | None = None,
) -> tuple[TakenPhoto, ...]:
    """Read the photographs, then catalogue all of them or none; the collection is made if it is not there.

    Parameters
    ----------
    collection : its folder.
    lot, site : None where the code of a photo mat in the photographs names them, or no site is known.
    px_per_mm, bar_mm : as `read_photos`.

    Raises
    ------
    NameRefused
        Lot, site or person cannot be a name.
    PhotoError
        A photograph cannot be used; the message names it as it was called, not where it lay meanwhile.
    InputError
        No photograph; or no lot, and no mat that names one.
    """
    for what, name in (("lot", lot), ("site", site)):
        if name is not None:
            check_name(name, what)
    if not uploads:
        raise InputError("no photograph chosen; choose one file or several first")
    with tempfile.TemporaryDirectory() as folder:
        paths = [_written(Path(folder), place, upload) for place, upload in enumerate(uploads)]
        try:
            readings = read_photos(paths, px_per_mm=px_per_mm, bar_mm=bar_mm, progress=progress)
        except PhotoError as wrong:
            raise type(wrong)(_without_folders(str(wrong), paths)) from wrong
        readings, lot, site = _settled(readings, lot, site)
        with Catalogue.open(collection, create=True) as cat:
            taken = catalogue_photos(cat, readings, lot=lot, site=site, by=by, progress=progress)
            _draw_small_pictures(cat, taken, progress)
    return tuple(replace(photo, file=PurePath(photo.file).name) for photo in taken)


def take_back_uploads(
    cat: Catalogue,
    uploads: Sequence[Upload],
    *,
    lot: str,
    px_per_mm: float | None = None,
    bar_mm: float | None = None,
    by: str,
    progress: Progress | None = None,
) -> TakenViews:
    """Take in photographs of a lot's sherds turned over, as `take_backs`; messages name files as they were called.

    Raises
    ------
    PhotoError, UnknownName, InputError
        As `take_backs`; no photograph.
    """
    if not uploads:
        raise InputError("no photograph chosen; choose one file or several first")
    with tempfile.TemporaryDirectory() as folder:
        paths = [_written(Path(folder), place, upload) for place, upload in enumerate(uploads)]
        try:
            return take_backs(cat, lot, paths, px_per_mm=px_per_mm, bar_mm=bar_mm, by=by, progress=progress)
        except PhotoError as wrong:
            raise type(wrong)(_without_folders(str(wrong), paths)) from wrong


def _settled(
    readings: tuple[ReadPhoto, ...], lot: str | None, site: str | None
) -> tuple[tuple[ReadPhoto, ...], str, str | None]:
    """Lot and site as typed, or as the mats say; without either, in words that fit a page."""
    if lot is None and not any(photo.reading is not None and photo.reading.lot for photo in readings):
        raise InputError(
            "the lot is missing: choose one, or type the name that is on the bag; no photograph shows a mat that names it"
        )
    return settle_lot(readings, lot=lot, site=site)


def _draw_small_pictures(cat: Catalogue, taken: Sequence[TakenPhoto], progress: Progress | None) -> None:
    """Now, while somebody waits anyway, rather than when the table is opened."""
    fresh = [photo for photo in taken if not photo.is_known]
    for done, photo in enumerate(fresh, start=1):
        deque(small_pictures(cat, cat.sherds(photo_id=photo.photo_id)), maxlen=0)
        photo_copies(cat, cat.photo(photo.photo_id))
        if progress is not None:
            progress("drawing small pictures", done, len(fresh))


def _written(folder: Path, place: int, upload: Upload) -> Path:
    """Each in a folder of its own, so that two cameras' IMG_0001.JPG stay apart; signs no file name holds become '_'."""
    name = "".join("_" if sign in "/\\:\0" else sign for sign in upload.file_name).strip(". ") or "photograph"
    # File systems take 255 bytes; the ending says what the photograph is, so the beginning goes.
    while len(name.encode()) > 200:
        name = name[1:]
    path = folder / str(place) / name
    path.parent.mkdir()
    path.write_bytes(upload.content)
    return path


def _without_folders(message: str, paths: Sequence[Path]) -> str:
    for path in paths:
        message = message.replace(str(path), path.name).replace(f"{path.parent}/", "")
    return message
