"""Small pictures to show: sherds cut out on nothing, at one scale; photographs no larger than a screen."""

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
from motifs.imaging import read_photo
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


@dataclass(frozen=True, slots=True)
class SherdPicture:
    """A sherd as WebP with a transparent backdrop. width_mm, height_mm: of the whole picture, margin included.

    is_scaled False: the photograph has no scale, and the size is nominal.
    """

    webp: bytes
    width_mm: float
    height_mm: float
    is_scaled: bool


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
            yield sherd, kept
    for sherd, picture in sherd_pictures(cat, absent):
        # A folder that cannot be written to is no reason not to show the picture.
        with suppress(CollectionNotWritable):
            write_atomically(_small_file(cat, sherd), picture.webp, is_lasting=False)
        yield sherd, picture


def sherd_pictures(
    cat: Catalogue, sherds: Sequence[SherdRow], *, px_per_mm: float = THUMBNAIL_PX_PER_MM
) -> Iterator[tuple[SherdRow, SherdPicture]]:
    """Draw every sherd at px_per_mm, photo by photo; CollectionDamaged where an original is gone."""
    for sherd, crop in crops_of(cat, sherds):
        yield sherd, _picture(crop, px_per_mm)


def crop_jpeg(cat: Catalogue, sherd: SherdRow) -> tuple[bytes, int, int]:
    """The whole crop with its backdrop as JPEG, and its width and height in px: what a box is drawn on."""
    _, crop = next(crops_of(cat, [sherd]))
    return _jpeg(Image.fromarray(crop.image)), crop.image.shape[1], crop.image.shape[0]


def photo_jpeg(cat: Catalogue, photo: PhotoRow, *, longest_px: int = 1600) -> bytes:
    """The oriented photograph as JPEG, its longer side at most longest_px."""
    image = Image.fromarray(read_photo(cat.photo_file(photo)).rgb)
    image.thumbnail((longest_px, longest_px), Image.Resampling.BOX)
    return _jpeg(image)


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


def _picture(crop: SherdCrop, px_per_mm: float) -> SherdPicture:
    height, width = crop.mask.shape
    factor = px_per_mm / crop.px_per_mm
    size = (max(1, round(width * factor)), max(1, round(height * factor)))
    opaque = crop.mask.astype(np.uint8) * 255
    image = Image.fromarray(np.dstack([crop.image, opaque])).resize(size, Image.Resampling.BOX)
    stream = io.BytesIO()
    image.save(stream, "WEBP", quality=WEBP_QUALITY, method=2)
    return SherdPicture(stream.getvalue(), width / crop.px_per_mm, height / crop.px_per_mm, crop.is_scaled)


def _jpeg(image: Image.Image) -> bytes:
    stream = io.BytesIO()
    image.save(stream, "JPEG", quality=JPEG_QUALITY)
    return stream.getvalue()
