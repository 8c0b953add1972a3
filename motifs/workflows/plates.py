"""Plates: sherds laid out at a true scale with a scale bar, as vector drawings that hold the crops as JPEG."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image
from reportlab.lib.units import mm

from motifs.workflows import drawings as d
from motifs.workflows.crops import crops_of
from motifs.workflows.pictures import TURNED_MARGIN_MM, picture_key, turned

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from reportlab.graphics.shapes import Drawing

    from motifs.catalogue import Catalogue, SherdRow
    from motifs.records import SherdCrop

PLATE_WIDTH_MM = 170.0
PLATE_HEIGHT_MM = 225.0
"""What a page holds beside its caption."""
GAP_MM = 3.0
LABEL_MM = 4.0
BAR_MM = 50.0
PRINTED_PX_PER_MM = 10.0
"""254 dots an inch on paper."""
JPEG_QUALITY = 88


@dataclass(frozen=True, slots=True)
class Piece:
    """One sherd of a plate: its picture, and its true size with margins."""

    number: str
    file: Path
    width_mm: float
    height_mm: float
    is_scaled: bool


def cut_pieces(cat: Catalogue, sherds: Sequence[SherdRow], folder: Path, *, reduction: float) -> dict[str, Piece]:
    """Write every sherd as a JPEG on white into a folder, fine enough for a print at 1 : reduction; by number."""
    px_per_mm = min(PRINTED_PX_PER_MM / reduction, 10.0)
    pieces = {}
    for place, (sherd, crop) in enumerate(crops_of(cat, sherds)):
        image = _cut_out(crop, px_per_mm, sherd.rim_up_deg)
        paper = Image.new("RGB", image.size, (255, 255, 255))
        paper.paste(image, mask=image.getchannel("A"))
        file = folder / f"{place:05d}-{picture_key(sherd)[:12]}.jpg"
        paper.save(file, "JPEG", quality=JPEG_QUALITY)
        size_mm = image.width / px_per_mm, image.height / px_per_mm
        pieces[sherd.number] = Piece(sherd.number, file, *size_mm, crop.is_scaled)
    return pieces


def _cut_out(crop: SherdCrop, px_per_mm: float, rim_up_deg: float | None) -> Image.Image:
    """The sherd on nothing (RGBA), at px_per_mm, rim up where that is known."""
    factor = px_per_mm / crop.px_per_mm
    size = max(1, round(crop.mask.shape[1] * factor)), max(1, round(crop.mask.shape[0] * factor))
    image = Image.fromarray(crop.image).resize(size, Image.Resampling.BOX)
    image.putalpha(Image.fromarray(crop.mask.astype(np.uint8) * 255).resize(size, Image.Resampling.BOX))
    return turned(image, rim_up_deg, margin_px=round(TURNED_MARGIN_MM * px_per_mm)) if rim_up_deg else image


def plates(
    pieces: Sequence[Piece], title: str, *, reduction: float, captions: Mapping[str, str] | None = None
) -> tuple[d.Figure, ...]:
    """Lay pieces out row by row at 1 : reduction; those without a scale come last, on plates that say so.

    Parameters
    ----------
    pieces : in the order in which they are to lie.
    reduction : 1 for true size, 2 for half.
    captions : a few words under a sherd, by number.
    """
    figures = []
    for is_scaled in (True, False):
        chosen = [piece for piece in pieces if piece.is_scaled is is_scaled]
        for page in _pages(chosen, reduction):
            figures.append(_plate(page, title, reduction, captions or {}, is_scaled=is_scaled))
    return tuple(figures)


def _pages(pieces: Sequence[Piece], reduction: float) -> list[list[list[Piece]]]:
    """Rows that fit the width, and pages of rows that fit the height."""
    rows: list[list[Piece]] = []
    used = PLATE_WIDTH_MM
    for piece in pieces:
        wide = _room(piece, reduction)[0]
        if used + wide > PLATE_WIDTH_MM:
            rows.append([])
            used = 0.0
        rows[-1].append(piece)
        used += wide
    pages: list[list[list[Piece]]] = []
    free = 0.0
    for row in rows:
        high = max(_room(piece, reduction)[1] for piece in row)
        if high > free:
            pages.append([])
            free = PLATE_HEIGHT_MM - 12.0
        pages[-1].append(row)
        free -= high
    return pages


def _room(piece: Piece, reduction: float) -> tuple[float, float]:
    """Width and height that a piece takes on paper, its label and gap with it, mm."""
    label_mm = d.text_width(piece.number, 6.5) / mm
    return max(piece.width_mm / reduction, label_mm, 12.0) + GAP_MM, piece.height_mm / reduction + 2 * LABEL_MM


def _plate(
    rows: Sequence[Sequence[Piece]], title: str, reduction: float, captions: Mapping[str, str], *, is_scaled: bool
) -> d.Figure:
    highs = [max(_room(piece, reduction)[1] for piece in row) for row in rows]
    height = sum(highs) + 12.0
    drawing = d.new_drawing(PLATE_WIDTH_MM * mm, height * mm)
    y = height
    for row, high in zip(rows, highs, strict=True):
        x = 0.0
        for piece in row:
            wide, _ = _room(piece, reduction)
            printed = piece.width_mm / reduction, piece.height_mm / reduction
            d.picture(drawing, x * mm, (y - printed[1]) * mm, printed[0] * mm, printed[1] * mm, piece.file)
            below = (y - printed[1] - 2.6) * mm
            d.label(drawing, x * mm, below, piece.number, size=6.5)
            d.label(drawing, x * mm, below - 7, captions.get(piece.number, ""), size=6, fillColor=d.QUIET)
            x += wide
        y -= high
    numbers = [piece.number for row in rows for piece in row]
    if is_scaled:
        scale_bar(drawing, 0.0, 4.0 * mm, reduction)
        scale = f"at 1 : {reduction:g}"
    else:
        scale = "without a scale: sizes cannot be compared"
    return d.Figure(
        drawing,
        f"{title}, {scale}.",
        f"Plate of {len(numbers)} sherd(s), left to right and top to bottom: {', '.join(numbers)}.",
    )


def scale_bar(drawing: Drawing, x: float, y: float, reduction: float) -> None:
    """A bar of 50 mm in black and white centimetres, drawn at 1 : reduction."""
    block = 10.0 / reduction * mm
    for k in range(round(BAR_MM / 10.0)):
        d.box(drawing, x + k * block, y, block, 1.6 * mm, fill=d.INK if k % 2 == 0 else d.WHITE, edge=d.INK)
    d.label(drawing, x, y + 2.4 * mm, "0", size=6.5)
    d.label(drawing, x + BAR_MM / 10 * block + 3, y, f"{BAR_MM:g} mm, 1 : {reduction:g}", size=6.5)
