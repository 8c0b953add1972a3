"""Sheets to take to the table: the sorted lot with crop, number, vessel and support; and questions for one walk round it."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import TYPE_CHECKING

from PIL import Image

from motifs.workflows.pictures import THUMBNAIL_PX_PER_MM, small_pictures
from motifs.workflows.sheet_pages import MARGIN_MM, SheetPages
from motifs.workflows.table import lay_out_table

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from motifs.catalogue import Catalogue
    from motifs.workflows.pictures import SherdPicture
    from motifs.workflows.sorting import PairQuestion
    from motifs.workflows.table import LotTable, TableSherd, TableVessel

SORTING_SCALE = 0.5
"""Half size: a lot of 300 sherds on some ten pages."""

QUESTION_SCALE = 1.0
QUESTIONS_A_WALK = 10
CAPTION_MM, GAP_MM, LEAST_TILE_MM = 8.5, 3.0, 21.0
SIDE_MM = 74.0
ANSWERS = ("same vessel", "different vessels", "can't tell")
PROPOSAL_LINE = (
    "A vessel that nobody accepted is a proposal by evidence. Support s: of 100 sherds with such evidence about 100 s lie right. "
    "A tick stands for a person's word. Sizes are comparable unless a sherd is marked."
)


def sorting_sheet_pdf(cat: Catalogue, lot: str) -> bytes:
    """The sorting table of a lot as a PDF: vessel by vessel, crops at 1:2, number, support, a box to tick; UnknownName for the lot."""
    table = lay_out_table(cat, lot)
    pictures = _pictures(cat, lot)
    pages = SheetPages(f"Lot {lot}: sorting table", scale=SORTING_SCALE, title=f"Sorting table of lot {lot}")
    pages.words(_standing(table), is_small=False)
    pages.words(PROPOSAL_LINE, is_small=True)
    pages.down(2.0)
    for vessel in table.vessels:
        pages.title(_vessel_title(vessel))
        _tiles(pages, vessel.sherds, pictures)
    if table.unassigned:
        pages.title(f"Unassigned: {len(table.unassigned)}")
        _tiles(pages, table.unassigned, pictures)
    return pages.finish()


def question_sheet_pdf(cat: Catalogue, lot: str, *, most: int = QUESTIONS_A_WALK) -> bytes:
    """The open questions of a lot as a PDF to fill in, the most useful first; UnknownName for the lot."""
    table = lay_out_table(cat, lot)
    asked = table.questions[:most]
    pictures = _pictures(cat, lot, {number for question in asked for number in (question.a, question.b)})
    pages = SheetPages(f"Lot {lot}: questions for one walk", scale=QUESTION_SCALE, title=f"Questions on lot {lot}")
    pages.words(
        "Lay the two sherds side by side in one light. Look at paste, break, line and surface before you answer."
    )
    pages.down(3.0)
    for place, question in enumerate(asked, 1):
        _question(pages, place, question, table, pictures)
    if not asked:
        pages.words("No question is open." if table.is_sorted else "The lot is not sorted yet: no question is known.")
    return pages.finish()


def _pictures(cat: Catalogue, lot: str, only: Iterable[str] | None = None) -> dict[str, SherdPicture]:
    wanted = None if only is None else set(only)
    sherds = [sherd for sherd in cat.sherds(lot) if wanted is None or sherd.number in wanted]
    return {sherd.number: _of_its_pixels(picture) for sherd, picture in small_pictures(cat, sherds)}


def _of_its_pixels(picture: SherdPicture) -> SherdPicture:
    """The picture with the size that its pixels say, as a kept one has it, so that the first sheet is the same as the next."""
    with Image.open(io.BytesIO(picture.webp), formats=["WEBP"]) as image:
        width_px, height_px = image.size
    return replace(picture, width_mm=width_px / THUMBNAIL_PX_PER_MM, height_mm=height_px / THUMBNAIL_PX_PER_MM)


def _standing(table: LotTable) -> str:
    if table.vessels_range is None:
        return f"{len(table.sherds)} sherds, not sorted yet."
    low, high = table.vessels_range
    allowed = f"{low}" if low == high else f"{low} to {high}"
    return (
        f"{len(table.sherds)} sherds, {len(table.vessels)} vessels on the table (the evidence allows {allowed}), "
        f"{len(table.unassigned)} unassigned."
    )


def _vessel_title(vessel: TableVessel) -> str:
    words = [f"Vessel {vessel.name}: {len(vessel.sherds)}"]
    if vessel.is_accepted:
        who = sorted({str(sherd.judged_by) for sherd in vessel.sherds})
        when = max(str(sherd.judged_at) for sherd in vessel.sherds)[:10]
        words.append(f"accepted by {', '.join(who)}, {when}")
    if vessel.locked_by is not None:
        words.append(f"locked by {vessel.locked_by}")
    return "; ".join(words)


def _tiles(pages: SheetPages, sherds: Sequence[TableSherd], pictures: Mapping[str, SherdPicture]) -> None:
    """Rows of crops, each row as high as its highest."""
    row: list[tuple[TableSherd, float]] = []
    used_mm = 0.0
    for sherd in sherds:
        picture = pictures[sherd.number]
        wide_mm = max(LEAST_TILE_MM, picture.width_mm * pages.scale, pages.text_mm(sherd.number, is_bold=True)) + GAP_MM
        if row and used_mm + wide_mm > pages.width_mm:
            _row(pages, row, pictures)
            row, used_mm = [], 0.0
        row.append((sherd, wide_mm))
        used_mm += wide_mm
    _row(pages, row, pictures)


def _row(pages: SheetPages, row: Sequence[tuple[TableSherd, float]], pictures: Mapping[str, SherdPicture]) -> None:
    height_mm = max(pictures[sherd.number].height_mm * pages.scale for sherd, _ in row)
    pages.room(height_mm + CAPTION_MM)
    x_mm, foot_mm = MARGIN_MM, pages.y_mm - height_mm
    for sherd, wide_mm in row:
        picture = pictures[sherd.number]
        pages.picture(picture, x_mm, foot_mm)
        pages.label(x_mm, foot_mm - 3.2, sherd.number, is_bold=True)
        pages.label(x_mm, foot_mm - 6.4, _standing_of(sherd, picture))
        pages.box(x_mm + wide_mm - GAP_MM - 3.8, foot_mm - 6.8, 2.8)
        x_mm += wide_mm
    pages.down(height_mm + CAPTION_MM)


def _standing_of(sherd: TableSherd, picture: SherdPicture) -> str:
    if sherd.judged_by is not None:
        words = f"✓ {sherd.judged_by}"
    elif sherd.support is None:
        words = "not sorted"
    else:
        words = f"s {sherd.support:.2f}"
    return words if picture.is_scaled else f"{words}, no scale"


def _question(
    pages: SheetPages, place: int, question: PairQuestion, table: LotTable, pictures: Mapping[str, SherdPicture]
) -> None:
    """Two sherds side by side at true size, or smaller where one is larger than its half of the page."""
    two = (pictures[question.a], pictures[question.b])
    longest = max(max(picture.width_mm, picture.height_mm) for picture in two)
    scale = min(1.0, SIDE_MM / longest)
    height_mm = max(picture.height_mm for picture in two) * scale
    pages.room(height_mm + 30.0)
    size = "" if scale == 1.0 else f" (here at 1:{1 / scale:.1f})"
    pages.title(f"{place}. Are {question.a} and {question.b} of one vessel?{size}")
    foot_mm = pages.y_mm - height_mm
    for number, picture, x_mm in zip((question.a, question.b), two, (MARGIN_MM, MARGIN_MM + SIDE_MM + 14), strict=True):
        pages.picture(picture, x_mm, foot_mm, scale=scale)
        lies = table.sherd(number).vessel
        pages.label(
            x_mm, foot_mm - 3.6, f"{number}, {'unassigned' if lies is None else f'with vessel {lies}'}", is_bold=True
        )
    pages.down(height_mm + 6.0)
    pages.words(f"Why asked: {question.why}.", is_small=True)
    pages.down(5.5)
    for answer, x_mm in zip(ANSWERS, (MARGIN_MM, MARGIN_MM + 45, MARGIN_MM + 95), strict=True):
        pages.box(x_mm, pages.y_mm)
        pages.label(x_mm + 5.5, pages.y_mm + 0.5, answer, is_small=False)
    pages.down(7.0)
