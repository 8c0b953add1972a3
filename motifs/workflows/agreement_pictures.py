"""Crops with the region on them where two decorations agree."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw

from motifs.workflows.crops import crops_of
from motifs.workflows.pictures import SherdPicture

if TYPE_CHECKING:
    from motifs.catalogue import BoxPx, Catalogue, SherdRow
    from motifs.records import SherdCrop
    from motifs.workflows.agreeing import MatchedRegions, Ring

PAPER = (255, 255, 255)
FADE = 0.6
"""How far what lies outside the region fades into the paper."""
MARGIN_PX = 12
INNER, CASING = (20, 80, 140), (255, 255, 255)
"""A dark line in a white casing shows on any ware, in grey print too."""


def agreement_pictures(
    cat: Catalogue, query: SherdRow, other: SherdRow, regions: MatchedRegions, box_px: BoxPx | None = None
) -> tuple[SherdPicture, SherdPicture]:
    """Both sherds with the regions that agree, at the crops' scale, rim up; box_px is drawn on the query.

    Raises
    ------
    CollectionDamaged
        An original that a crop must be cut from is gone.
    """
    crops = {sherd.number: crop for sherd, crop in crops_of(cat, [query, other])}
    return (
        _drawn(crops[query.number], regions.query_px, box_px, query.rim_up_deg),
        _drawn(crops[other.number], regions.other_px, None, other.rim_up_deg),
    )


def _drawn(crop: SherdCrop, ring: Ring, box_px: BoxPx | None, rim_up_deg: float | None) -> SherdPicture:
    height, width = crop.mask.shape
    shape = Image.new("L", (width, height), 0)
    if len(ring) > 2:
        ImageDraw.Draw(shape).polygon(list(ring), fill=255)
    shown = np.where(crop.mask[..., None], crop.image, np.array(PAPER, np.uint8)).astype(np.float32)
    if len(ring) > 2:
        is_inside = np.asarray(shape)[..., None] > 0
        shown = np.where(is_inside, shown, shown + FADE * (np.array(PAPER, np.float32) - shown))
    image = Image.fromarray(np.rint(shown).astype(np.uint8))
    pen, line = ImageDraw.Draw(image), max(2, round(max(width, height) / 160))
    for ring_of, colour, thickness in _lines(ring, box_px, line):
        pen.line([*ring_of, ring_of[0]], fill=colour, width=thickness, joint="curve")
    if rim_up_deg:
        image = _upright(image, Image.fromarray(crop.mask), rim_up_deg)
    stream = io.BytesIO()
    image.save(stream, "WEBP", quality=88, method=2)
    return SherdPicture(stream.getvalue(), image.width / crop.px_per_mm, image.height / crop.px_per_mm, crop.is_scaled)


def _upright(image: Image.Image, mask: Image.Image, rim_up_deg: float) -> Image.Image:
    """The picture turned clockwise on paper, and trimmed to the sherd with a margin."""
    whole = image.rotate(-rim_up_deg, Image.Resampling.BICUBIC, expand=True, fillcolor=PAPER)
    left, top, right, bottom = mask.rotate(-rim_up_deg, expand=True).getbbox() or (0, 0, *whole.size)
    room = min(MARGIN_PX, left, top, whole.width - right, whole.height - bottom)
    return whole.crop((left - room, top - room, right + room, bottom + room))


def _lines(ring: Ring, box_px: BoxPx | None, line: int) -> list[tuple[Ring, tuple[int, int, int], int]]:
    lines: list[tuple[Ring, tuple[int, int, int], int]] = []
    if box_px is not None:
        x, y, width, height = box_px
        lines.append((((x, y), (x + width, y), (x + width, y + height), (x, y + height)), (90, 90, 90), line))
    if len(ring) > 2:
        lines += [(ring, CASING, 3 * line), (ring, INNER, line)]
    return lines
