"""Photographs as they may be shown: sherds and views that are restricted are covered before anybody sees the picture."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from motifs.imaging import read_photo

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue, PhotoRow, SherdRow
    from motifs.records import PhotoImage, SherdCrop

COVER = (128, 128, 128)
COVER_MARGIN_SHARE = 0.004
"""A cover reaches over the outline by this share of the photograph's longer side, so that no edge of the sherd shows."""


def photo_to_show(cat: Catalogue, photo: PhotoRow) -> PhotoImage:
    """Read a photograph and cover what is kept back.

    Raises
    ------
    PhotoError, CollectionDamaged
        The original cannot be read, or is gone.
    """
    read = read_photo(cat.photo_file(photo))
    outlines = cat.covered_outlines(photo.photo_id)
    return replace(read, rgb=_covered(read, outlines)) if outlines else read


def crop_to_show(cat: Catalogue, sherd: SherdRow, crop: SherdCrop) -> np.ndarray:
    """Return the crop as (h, w, 3) uint8 with its backdrop; that is covered where a restricted sherd may lie in it."""
    if not cat.covered_outlines(sherd.photo_id):
        return crop.image
    return np.where(crop.mask[..., None], crop.image, np.array(COVER, np.uint8))


def _covered(photo: PhotoImage, outlines: Sequence[Sequence[Sequence[float]]]) -> np.ndarray:
    height, width = photo.rgb.shape[:2]
    cover = Image.new("L", (width, height), 0)
    pen = ImageDraw.Draw(cover)
    margin = 2 * math.ceil(COVER_MARGIN_SHARE * max(width, height)) + 1
    for outline in outlines:
        corners = [(x, y) for x, y in outline]
        pen.polygon(corners, fill=255)
        pen.line([*corners, corners[0]], fill=255, width=margin, joint="curve")
    hidden = np.asarray(cover.filter(ImageFilter.MaxFilter(3))) > 0
    return np.where(hidden[..., None], np.array(COVER, np.uint8), photo.rgb)
