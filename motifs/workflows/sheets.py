"""Sheets to look at: outlines on the photograph, vessels as rows of crops, a sherd beside its comparanda.

Crops stand at one common scale, so that sizes can be compared by eye.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from motifs.imaging import draw_outlines
from motifs.workflows.covered import photo_to_show
from motifs.workflows.crops import crops_of
from motifs.workflows.file_names import file_stem
from motifs.workflows.pictures import turned
from motifs.workflows.vessel_names import table_name

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    from motifs.catalogue import Catalogue
    from motifs.records import SherdCrop
    from motifs.workflows.comparanda import Comparanda
    from motifs.workflows.sorting import LotSorting

SHEET_WIDTH_PX = 1500
SHEET_PX_PER_MM = 2.5
MARGIN_PX = 16
TITLE_PX = 22
CAPTION_PX = 15
PAPER = (255, 255, 255)
INK = (25, 25, 25)
QUIET = (110, 110, 110)
BAR_MM = 50


@dataclass(frozen=True, slots=True)
class Tile:
    """A small picture with one or two lines under it."""

    image: Image.Image
    captions: tuple[str, ...]

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height with its captions."""
        wide = max([self.image.width, *(int(_font(CAPTION_PX).getlength(line)) for line in self.captions)])
        return wide, self.image.height + len(self.captions) * (CAPTION_PX + 4)


@dataclass(frozen=True, slots=True)
class Row:
    """A title and the tiles under it, wrapped to the sheet's width."""

    title: str
    tiles: tuple[Tile, ...]


def outline_sheets(cat: Catalogue, lot: str, *, sorting: LotSorting | None = None) -> list[Path]:
    """Draw every photograph of a lot with its outlines; labels are sherd numbers, with the vessel where it is known."""
    vessel = {} if sorting is None else {placed.sherd: placed.vessel for placed in sorting.assignments}
    sheets = []
    for row in cat.photos(lot):
        sherds = cat.sherds(photo_id=row.photo_id)
        labels = [_outline_label(sherd.number, lot, vessel) for sherd in sherds]
        drawn = draw_outlines(photo_to_show(cat, row), [sherd.outline_px for sherd in sherds], labels)
        sheets.append(_save(cat, Image.fromarray(drawn), f"{lot} outlines {row.photo_id}.jpg"))
    return sheets


def sorting_sheet(cat: Catalogue, sorting: LotSorting) -> Path:
    """Draw a sorted lot: a row of crops for each vessel, the surest first, and the unassigned pile last."""
    pictures = _pictures_by_number(cat, [placed.sherd for placed in sorting.assignments])
    rows = []
    for vessel in [*range(sorting.vessels), None]:
        members = [placed for placed in sorting.assignments if placed.vessel == vessel]
        members.sort(key=lambda placed: (-placed.support, placed.sherd))
        title = "Unassigned" if vessel is None else f"Vessel {table_name(vessel)}"
        tiles = tuple(Tile(pictures[p.sherd], (p.sherd, f"support {p.support:.2f}")) for p in members)
        if tiles:
            rows.append(Row(f"{title}: {len(tiles)} sherds", tiles))
    low, high = sorting.vessels_range
    heading = f"Lot {sorting.lot}: {sorting.vessels} vessels proposed (between {low} and {high})"
    return _save(cat, _sheet(heading, rows), f"{sorting.lot} vessels.png")


def comparanda_sheet(cat: Catalogue, found: Comparanda) -> Path:
    """Draw a sherd and its nearest neighbours in order."""
    pictures = _pictures_by_number(cat, [found.query, *(near.sherd for near in found.neighbours)])
    query = Row(f"Sherd {found.query}", (Tile(pictures[found.query], (found.query,)),))
    near = tuple(
        Tile(
            pictures[n.sherd],
            (f"{n.rank}. {n.sherd}", f"{n.site or 'site unknown'}", f"similarity {n.similarity:.2f}"),
        )
        for n in found.neighbours
    )
    return _save(cat, _sheet("Comparanda", [query, Row("Nearest decorations", near)]), f"{found.query} comparanda.png")


def _outline_label(number: str, lot: str, vessel: Mapping[str, int | None]) -> str:
    short = number.removeprefix(f"{lot}-")
    placed = vessel.get(number)
    return short if placed is None else f"{short} v{table_name(placed)}"


def _pictures_by_number(cat: Catalogue, numbers: Iterable[str]) -> dict[str, Image.Image]:
    sherds = [cat.sherd(number) for number in numbers]
    return {sherd.number: _picture(crop, sherd.rim_up_deg) for sherd, crop in crops_of(cat, sherds)}


def _picture(crop: SherdCrop, turn_deg: float | None) -> Image.Image:
    """The sherd on paper white, at the sheet's scale, rim up where that is known."""
    on_paper = np.where(crop.mask[..., None], crop.image, np.uint8(255))
    factor = SHEET_PX_PER_MM / crop.px_per_mm
    width, height = (max(1, round(side * factor)) for side in (crop.mask.shape[1], crop.mask.shape[0]))
    if turn_deg:
        upright = turned(Image.fromarray(np.dstack([on_paper, crop.mask.astype(np.uint8) * 255])), turn_deg)
        paper = Image.new("RGB", upright.size, PAPER)
        paper.paste(upright, mask=upright.getchannel("A"))
        width, height = (max(1, round(side * factor)) for side in paper.size)
        return paper.resize((width, height), Image.Resampling.LANCZOS)
    return Image.fromarray(on_paper).resize((width, height), Image.Resampling.LANCZOS)


def _sheet(heading: str, rows: Sequence[Row]) -> Image.Image:
    placed, height_px = _laid_out(rows)
    sheet = Image.new("RGB", (SHEET_WIDTH_PX, height_px), PAPER)
    pen = ImageDraw.Draw(sheet)
    pen.text((MARGIN_PX, MARGIN_PX), heading, fill=INK, font=_font(TITLE_PX))
    _draw_bar(pen)
    for item, x, y in placed:
        if isinstance(item, str):
            pen.text((x, y), item, fill=INK, font=_font(TITLE_PX))
            continue
        sheet.paste(item.image, (x, y))
        for line, caption in enumerate(item.captions):
            at = (x, y + item.image.height + 2 + line * (CAPTION_PX + 4))
            pen.text(at, caption, fill=QUIET if line else INK, font=_font(CAPTION_PX))
    return sheet


def _laid_out(rows: Sequence[Row]) -> tuple[list[tuple[str | Tile, int, int]], int]:
    """Where everything goes, left to right and downwards; and the sheet's height."""
    placed: list[tuple[str | Tile, int, int]] = []
    y = 2 * MARGIN_PX + 2 * TITLE_PX
    for row in rows:
        placed.append((row.title, MARGIN_PX, y))
        y += TITLE_PX + MARGIN_PX
        x, tallest = MARGIN_PX, 0
        for tile in row.tiles:
            wide, tall = tile.size_px
            if x > MARGIN_PX and x + wide > SHEET_WIDTH_PX - MARGIN_PX:
                x, y, tallest = MARGIN_PX, y + tallest + MARGIN_PX, 0
            placed.append((tile, x, y))
            x, tallest = x + wide + MARGIN_PX, max(tallest, tall)
        y += tallest + 2 * MARGIN_PX
    return placed, y


def _draw_bar(pen: ImageDraw.ImageDraw) -> None:
    """A 5 cm bar in blocks of 1 cm, top right."""
    block = round(10 * SHEET_PX_PER_MM)
    left = SHEET_WIDTH_PX - MARGIN_PX - 5 * block
    for number in range(5):
        box = (left + number * block, MARGIN_PX, left + (number + 1) * block, MARGIN_PX + 10)
        pen.rectangle(box, fill=INK if number % 2 == 0 else PAPER, outline=INK)
    pen.text((left, MARGIN_PX + 14), f"{BAR_MM // 10} cm", fill=QUIET, font=_font(CAPTION_PX))


def _font(size_px: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """The face that comes with Pillow."""
    return ImageFont.load_default(size=size_px)


def _save(cat: Catalogue, sheet: Image.Image, name: str) -> Path:
    """Write under exports/; signs that file systems dislike become '_'."""
    cat.exports_folder.mkdir(parents=True, exist_ok=True)
    stem, _, ending = name.rpartition(".")
    path = cat.exports_folder / f"{file_stem(stem)}.{ending}"
    sheet.save(path, quality=90)
    return path
