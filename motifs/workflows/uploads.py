"""Photographs that come as bytes under a name, as a page hands them over."""

from __future__ import annotations

import tempfile
from collections import deque
from dataclasses import dataclass, replace
from pathlib import Path, PurePath
from typing import TYPE_CHECKING

from motifs.catalogue import Catalogue, check_name
from motifs.errors import InputError, PhotoError, PhotoTooLarge, PhotoUnreadable
from motifs.imaging.formats import is_heif, is_raw
from motifs.workflows.intake import catalogue_photos, read_photos
from motifs.workflows.mat import settle_lot
from motifs.workflows.pictures import photo_copies, small_pictures
from motifs.workflows.views import take_backs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.workflows import Progress
    from motifs.workflows.intake import ReadPhoto, TakenPhoto
    from motifs.workflows.views import TakenViews


MOST_PHOTOS = 100
"""At once; more are taken in another time."""
MOST_BYTES = 400_000_000
"""Of one photograph; `.streamlit/config.toml` says the same, so that the server refuses it while it arrives."""
MOST_BYTES_TOGETHER = 2_000_000_000
_STARTS = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")
"""Of JPEG (ITU-T T.81, B.1.1.3), PNG (ISO/IEC 15948, 5.2), TIFF 6.0 and BigTIFF, as files begin whatever they are called."""


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
    check_uploads(uploads)
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
    check_uploads(uploads)
    with tempfile.TemporaryDirectory() as folder:
        paths = [_written(Path(folder), place, upload) for place, upload in enumerate(uploads)]
        try:
            return take_backs(cat, lot, paths, px_per_mm=px_per_mm, bar_mm=bar_mm, by=by, progress=progress)
        except PhotoError as wrong:
            raise type(wrong)(_without_folders(str(wrong), paths)) from wrong


def check_uploads(uploads: Sequence[Upload]) -> None:
    """Refuse what is no photograph by its content, too many or too much, before anything is written or decoded.

    Pixels are counted where a photograph is read (`motifs.imaging.MAX_SIDE_PX`), before they are decoded.

    Raises
    ------
    InputError
        None, or more than MOST_PHOTOS.
    PhotoTooLarge
        One is larger than MOST_BYTES, or all are larger than MOST_BYTES_TOGETHER.
    PhotoUnreadable
        One is empty or begins as no photograph does.
    """
    if not uploads:
        raise InputError("no photograph chosen; choose one file or several first")
    if len(uploads) > MOST_PHOTOS:
        raise InputError(f"{len(uploads)} photographs at once; {MOST_PHOTOS} are taken, add the others afterwards")
    for upload in uploads:
        name, size = _file_name(upload.file_name), len(upload.content)
        if not size:
            raise PhotoUnreadable(f"{name} is empty (0 bytes); copy it from the camera again.")
        if size > MOST_BYTES:
            raise PhotoTooLarge(
                f"{name} has {size / 1e6:.0f} MB; up to {MOST_BYTES / 1e6:.0f} MB are taken. Save it smaller."
            )
        if not is_photograph(upload.content, name):
            raise PhotoUnreadable(f"{name} is not an image; give a JPEG, PNG, TIFF, HEIC or camera raw photograph.")
    together = sum(len(upload.content) for upload in uploads)
    if together > MOST_BYTES_TOGETHER:
        raise PhotoTooLarge(
            f"the photographs have {together / 1e9:.1f} GB together; {MOST_BYTES_TOGETHER / 1e9:.0f} GB are taken at once. "
            "Add them in several steps."
        )


def is_photograph(content: bytes, name: str) -> bool:
    """Whether a file begins as one of the kinds of photograph does that are read; its name decides nothing by itself."""
    return content.startswith(_STARTS) or is_heif(content) or is_raw(content, name)


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
    """Each in a folder of its own, so that two cameras' IMG_0001.JPG stay apart."""
    (folder / str(place)).mkdir()
    return written_upload(folder / str(place), upload)


def written_upload(folder: Path, upload: Upload) -> Path:
    """Write an upload into a folder under its own name, which cannot lead out of it."""
    path = folder / _file_name(upload.file_name)
    path.write_bytes(upload.content)
    return path


def _file_name(given: str) -> str:
    """The name as it can be a file's: signs no file name holds become '_'."""
    name = "".join("_" if sign in "/\\:" or not sign.isprintable() else sign for sign in given).strip(". ") or "upload"
    # File systems take 255 bytes; the ending says what the file is, so the beginning goes.
    while len(name.encode("utf-8", "replace")) > 200:
        name = name[1:]
    return name.encode("utf-8", "replace").decode("utf-8")


def _without_folders(message: str, paths: Sequence[Path]) -> str:
    for path in paths:
        message = message.replace(str(path), path.name).replace(f"{path.parent}/", "")
    return message
