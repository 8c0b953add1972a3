"""Small pictures to show: sherds cut out on nothing, at one scale; photographs no larger than a screen."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from motifs.imaging import read_photo
from motifs.workflows.crops import crops_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from motifs.catalogue import Catalogue, PhotoRow, SherdRow
    from motifs.records import SherdCrop

THUMBNAIL_PX_PER_MM = 4.0
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
