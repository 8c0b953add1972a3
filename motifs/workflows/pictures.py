"""Small pictures to show: sherds cut out on nothing, at one scale, rim up where that is known; photographs for a screen."""

from __future__ import annotations

import io
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from motifs.catalogue.derived_files import crop_path
from motifs.catalogue.files import write_atomically
from motifs.errors import CollectionNotWritable
from motifs.workflows.covered import crop_to_show, photo_to_show
from motifs.workflows.crops import crops_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from motifs.catalogue import Catalogue, PhotoRow, SherdRow
    from motifs.records import SherdCrop

THUMBNAIL_PX_PER_MM = 4.0
SMALL_SUFFIX = ".small.webp"
WEBP_QUALITY = 82
JPEG_QUALITY = 85
SCREEN_PX = 1600
COPY_SIDES_PX = (360, SCREEN_PX, 4000)
"""Longer sides of the copies of a photograph; a photograph that is smaller stays as it is."""

SCREEN = "screen"
"""Folder of the copies, under derived/."""

TURNED_MARGIN_MM = 3.0
"""Left around a sherd that was turned, as crops have it around one that was not."""


@dataclass(frozen=True, slots=True)
class SherdPicture:
    """A sherd as WebP with a transparent backdrop. width_mm, height_mm: of the whole picture, margin included.

    is_scaled False: the photograph has no scale, and the size is nominal.
    """

    webp: bytes
    width_mm: float
    height_mm: float
    is_scaled: bool


@dataclass(frozen=True, slots=True)
class PhotoCopies:
    """A photograph as JPEG, in the sizes of COPY_SIDES_PX: to show at once, on the whole screen, and from near."""

    small: bytes
    screen: bytes
    detail: bytes


def picture_key(sherd: SherdRow) -> str:
    """What a sherd's picture depends on: its content, and how it is turned. A key for caches."""
    return sherd.content_key if not sherd.rim_up_deg else f"{sherd.content_key}@{sherd.rim_up_deg:g}"


def small_pictures(cat: Catalogue, sherds: Sequence[SherdRow]) -> Iterator[tuple[SherdRow, SherdPicture]]:
    """Every sherd at THUMBNAIL_PX_PER_MM, from a file beside its crop; drawn and kept there where there is none yet.

    Raises
    ------
    CollectionDamaged
        An original that a crop must be cut from is gone.
    """
    absent = []
    for sherd in sherds:
        kept = _kept_picture(_small_file(cat, sherd), sherd)
        if kept is None:
            absent.append(sherd)
        else:
            yield sherd, _rim_up(kept, sherd)
    for sherd, crop in crops_of(cat, absent):
        picture = _picture(crop, THUMBNAIL_PX_PER_MM)
        # A folder that cannot be written to is no reason not to show the picture. Kept as it lies in the photograph, so
        # that another angle needs no other file.
        with suppress(CollectionNotWritable):
            write_atomically(_small_file(cat, sherd), picture.webp, is_lasting=False)
        yield sherd, _rim_up(picture, sherd)


def sherd_pictures(
    cat: Catalogue, sherds: Sequence[SherdRow], *, px_per_mm: float = THUMBNAIL_PX_PER_MM
) -> Iterator[tuple[SherdRow, SherdPicture]]:
    """Draw every sherd at px_per_mm, photo by photo; CollectionDamaged where an original is gone."""
    for sherd, crop in crops_of(cat, sherds):
        yield sherd, _picture(crop, px_per_mm, sherd.rim_up_deg)


def crop_jpeg(cat: Catalogue, sherd: SherdRow) -> tuple[bytes, int, int]:
    """The whole crop with its backdrop as JPEG, and its width and height in px: what a box is drawn on.

    Never turned: a box is kept in px of the crop.
    """
    _, crop = next(crops_of(cat, [sherd]))
    return _jpeg(Image.fromarray(crop_to_show(cat, sherd, crop))), crop.image.shape[1], crop.image.shape[0]


def photo_jpeg(cat: Catalogue, photo: PhotoRow, *, longest_px: int = SCREEN_PX) -> bytes:
    """The oriented photograph as JPEG, its longer side at most longest_px; nothing of the file's own notes comes along."""
    image = Image.fromarray(photo_to_show(cat, photo).rgb)
    image.thumbnail((longest_px, longest_px), Image.Resampling.BOX)
    return _jpeg(image)


def photo_copies(cat: Catalogue, photo: PhotoRow) -> PhotoCopies:
    """The photograph as JPEG in three sizes, from files under derived/; made and kept there where there are none yet.

    Raises
    ------
    CollectionDamaged, PhotoError
        The original is gone or cannot be read, and no copies were kept.
    """
    files = [_copy_file(cat, photo, side_px) for side_px in COPY_SIDES_PX]
    # A copy with something covered is never kept: it would outlast the restriction, or a kept one would come before it.
    is_covered = bool(cat.covered_outlines(photo.photo_id))
    kept = [b"" if is_covered else _kept_copy(file) for file in files]
    if all(kept):
        return PhotoCopies(*kept)
    rgb = Image.fromarray(photo_to_show(cat, photo).rgb)
    made = []
    for side_px, file in zip(COPY_SIDES_PX, files, strict=True):
        smaller = rgb.copy()
        smaller.thumbnail((side_px, side_px), Image.Resampling.BOX, reducing_gap=None)
        made.append(_jpeg(smaller))
        if is_covered:
            continue
        with suppress(CollectionNotWritable):
            write_atomically(file, made[-1], is_lasting=False)
    return PhotoCopies(*made)


def _copy_file(cat: Catalogue, photo: PhotoRow, side_px: int) -> Path:
    """Where a copy lies; under the photograph's content hash, so that it can never be of another one."""
    return cat.derived_folder / SCREEN / photo.sha256[:2] / f"{photo.sha256}.{side_px}.jpg"


def _kept_copy(file: Path) -> bytes:
    """A whole JPEG, or nothing for a missing or damaged one."""
    try:
        jpeg = file.read_bytes()
    except OSError:
        return b""
    return jpeg if jpeg.startswith(b"\xff\xd8") and jpeg.endswith(b"\xff\xd9") else b""


def _small_file(cat: Catalogue, sherd: SherdRow) -> Path:
    """Where the small picture lies; under the content key, so that a changed outline never meets an old one."""
    return crop_path(cat.derived_folder, sherd.content_key).with_suffix(SMALL_SUFFIX)


def _kept_picture(file: Path, sherd: SherdRow) -> SherdPicture | None:
    """The picture of a whole file; None for a missing or a damaged one."""
    try:
        webp = file.read_bytes()
        with Image.open(io.BytesIO(webp), formats=["WEBP"]) as image:
            width_px, height_px = image.size
    except (OSError, ValueError):
        return None
    if int.from_bytes(webp[4:8], "little") + 8 != len(webp):
        return None
    is_scaled = sherd.max_dimension_mm is not None
    return SherdPicture(webp, width_px / THUMBNAIL_PX_PER_MM, height_px / THUMBNAIL_PX_PER_MM, is_scaled)


def _picture(crop: SherdCrop, px_per_mm: float, turn_deg: float | None = None) -> SherdPicture:
    height, width = crop.mask.shape
    factor = px_per_mm / crop.px_per_mm
    size = (max(1, round(width * factor)), max(1, round(height * factor)))
    opaque = crop.mask.astype(np.uint8) * 255
    image = Image.fromarray(np.dstack([crop.image, opaque])).resize(size, Image.Resampling.BOX)
    if turn_deg:
        image = turned(image, turn_deg, margin_px=round(TURNED_MARGIN_MM * px_per_mm))
        width, height = round(image.width / factor), round(image.height / factor)
    return SherdPicture(_webp(image), width / crop.px_per_mm, height / crop.px_per_mm, crop.is_scaled)


def turned(image: Image.Image, turn_deg: float, *, margin_px: int = 0) -> Image.Image:
    """Turn a picture clockwise on nothing (RGBA), and trim it to what is not transparent and a margin."""
    whole = image.convert("RGBA").rotate(-turn_deg, resample=Image.Resampling.BICUBIC, expand=True)
    box = whole.getchannel("A").getbbox() or (0, 0, *whole.size)
    return whole.crop((box[0] - margin_px, box[1] - margin_px, box[2] + margin_px, box[3] + margin_px))


def _rim_up(picture: SherdPicture, sherd: SherdRow) -> SherdPicture:
    """The picture of THUMBNAIL_PX_PER_MM turned as the sherd stands; as it is where nobody said how."""
    if not sherd.rim_up_deg:
        return picture
    with Image.open(io.BytesIO(picture.webp), formats=["WEBP"]) as image:
        upright = turned(image, sherd.rim_up_deg, margin_px=round(TURNED_MARGIN_MM * THUMBNAIL_PX_PER_MM))
    width_mm, height_mm = (side / THUMBNAIL_PX_PER_MM for side in upright.size)
    return SherdPicture(_webp(upright), width_mm, height_mm, picture.is_scaled)


def _webp(image: Image.Image) -> bytes:
    stream = io.BytesIO()
    image.save(stream, "WEBP", quality=WEBP_QUALITY, method=2)
    return stream.getvalue()


def _jpeg(image: Image.Image) -> bytes:
    stream = io.BytesIO()
    image.save(stream, "JPEG", quality=JPEG_QUALITY)
    return stream.getvalue()
