"""A layout on paper: as a picture, as a numbered plan to scale, at true size over several pages, and as a sheet for a dry run."""

from __future__ import annotations

import io
import math
from typing import TYPE_CHECKING, Final

import numpy as np
from PIL import Image
from reportlab.graphics import renderPDF
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from motifs.catalogue.files import write_atomically
from motifs.errors import InputError
from motifs.joins import SherdCutOut
from motifs.joins.layout_picture import draw_layout, extent_mm
from motifs.workflows.crops import crops_of
from motifs.workflows.drawings import BOLD, FACE, PALETTE, QUIET, Figure, label, new_drawing, stroke, svg, use_letters
from motifs.workflows.joins import outlines_mm
from motifs.workflows.mending_cautions import MENDING
from motifs.workflows.sheet_pages import SheetPages

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray
    from reportlab.graphics.shapes import Drawing

    from motifs.catalogue import Catalogue
    from motifs.workflows.layout import VesselLayout

PICTURE_PX_PER_MM: Final = 8.0
PRINT_PX_PER_MM: Final = 6.0
A4_MM: Final = (210.0, 297.0)
TILE_MM: Final = (186.0, 255.0)
"""What one page shows of a layout at true size."""
OVERLAP_MM: Final = 6.0
LEFT_MM, TOP_MM = 12.0, 14.0
PLAN_MM: Final = (180.0, 230.0)
SCALES: Final = (1, 2, 3, 4, 5, 8, 10, 20)
NOT_JOINED: Final = {"band": "height by band only", "loose": "loose: place unknown"}


def picture_of_layout(cat: Catalogue, laid: VesselLayout, *, px_per_mm: float = PICTURE_PX_PER_MM) -> NDArray[np.uint8]:
    """Every sherd laid where it goes, (H, W, 3) uint8 sRGB."""
    corner, size = extent_mm([one.outline_mm for one in laid.sherds], 6.0)
    sherds, poses = cut_outs(cat, laid)
    return draw_layout(sherds, poses, corner, size, px_per_mm=px_per_mm)


def save_picture(cat: Catalogue, laid: VesselLayout, file: Path) -> None:
    """Write the layout as PNG; InputError for another ending, or a folder that is not there."""
    check_file(file, (".png",))
    save_bytes(file, _png(picture_of_layout(cat, laid)))


def save_plan(laid: VesselLayout, file: Path) -> None:
    """Write the numbered plan as SVG or PDF; InputError for another ending, or a folder that is not there."""
    check_file(file, (".svg", ".pdf"))
    figure, _ = plan_figure(laid)
    if file.suffix.lower() == ".svg":
        wide = figure.drawing.width / mm
        save_bytes(file, svg(figure, width=f"{wide:.1f}mm").encode())
    else:
        save_bytes(file, drawing_pdf(figure.drawing, figure.caption))


def plan_figure(laid: VesselLayout) -> tuple[Figure, int]:
    """Outlines with the number of their step, and the scale 1:N at which they are drawn to fit a page."""
    corner, size = extent_mm([one.outline_mm for one in laid.sherds], 8.0)
    ratio = next((n for n in SCALES if size[0] / n <= PLAN_MM[0] and size[1] / n <= PLAN_MM[1]), 0) or math.ceil(
        max(size[0] / PLAN_MM[0], size[1] / PLAN_MM[1])
    )
    unit = mm / ratio
    drawing = new_drawing(max(size[0] * unit, 150 * mm), size[1] * unit + 22 * mm)
    step_of = {number: line.step for line in laid.steps for number in line.adds if len(line.adds) == 1}
    block_of = {number: line.block for line in laid.steps for number in line.adds if len(line.adds) == 1}
    foot = 20 * mm
    for one in laid.sherds:
        points = [
            (float(x - corner[0]) * unit, foot + float(size[1] - (y - corner[1])) * unit)
            for x, y in one.outline_mm[::2]
        ]
        dash = None if one.by == "joins" else (3, 2)
        stroke(drawing, [*points, points[0]], width=0.9 if one.by == "joins" else 0.6, dash=dash)
        middle = np.mean(points, axis=0)
        if one.sherd in step_of:
            shown = f"{block_of[one.sherd]}{step_of[one.sherd]}"
            colour = PALETTE[(ord(block_of[one.sherd][-1]) - 65) % len(PALETTE)]
            label(drawing, middle[0], middle[1] - 2, shown, anchor="middle", size=9, fontName=BOLD, fillColor=colour)
        label(drawing, middle[0], middle[1] - 9, one.sherd, anchor="middle", size=5.5, fillColor=QUIET)
        if one.by != "joins":
            label(drawing, middle[0], middle[1] - 15, NOT_JOINED[one.by], anchor="middle", size=4.5, fillColor=QUIET)
    _foot(drawing, laid, ratio)
    caption = f"Vessel {laid.vessel} of lot {laid.lot}, plan of assembly at 1:{ratio}"
    alt = f"{caption}: {len(laid.sherds)} outlines with the number of their step; dashed outlines are not joined"
    return Figure(drawing, caption, alt), ratio


def save_true_size(cat: Catalogue, laid: VesselLayout, file: Path) -> None:
    """Write the layout at 1:1 over A4 pages, each with a bar of 10 cm; InputError as save_plan."""
    check_file(file, (".pdf",))
    save_bytes(file, true_size_pdf(cat, laid))


def true_size_pdf(cat: Catalogue, laid: VesselLayout) -> bytes:
    """Draw it: page by page, left to right and down, neighbouring pages overlapping by OVERLAP_MM."""
    use_letters()
    corner, size = extent_mm([one.outline_mm for one in laid.sherds], 4.0)
    sherds, poses = cut_outs(cat, laid)
    across, down = (
        max(1, math.ceil((side - OVERLAP_MM) / (tile - OVERLAP_MM))) for side, tile in zip(size, TILE_MM, strict=True)
    )
    stream = io.BytesIO()
    page = Canvas(stream, pagesize=(A4_MM[0] * mm, A4_MM[1] * mm), invariant=1, pageCompression=1)
    page.setTitle(f"Vessel {laid.vessel} of lot {laid.lot} at true size")
    page.setViewerPreference("PrintScaling", "None")
    for row in range(down):
        for column in range(across):
            at = (corner[0] + column * (TILE_MM[0] - OVERLAP_MM), corner[1] + row * (TILE_MM[1] - OVERLAP_MM))
            image = draw_layout(sherds, poses, at, TILE_MM, px_per_mm=PRINT_PX_PER_MM)
            _tile(page, laid, image, at, f"{chr(65 + row % 26)}{column + 1} of {chr(64 + down % 27)}{across}")
            page.showPage()
    page.save()
    return stream.getvalue()


def save_step_sheet(laid: VesselLayout, file: Path) -> None:
    """Write the sheet for a dry run with tape as PDF; InputError as save_plan."""
    check_file(file, (".pdf",))
    save_bytes(file, step_sheet_pdf(laid))


def step_sheet_pdf(laid: VesselLayout) -> bytes:
    """Every step with a box to tick, what it rests on and what to watch, under the cautions."""
    sheet = SheetPages(f"Dry run with tape: vessel {laid.vessel}, lot {laid.lot}", scale=1.0, title="Dry run with tape")
    sheet.words(
        "Low-tack tape across the joins, not on friable paint or slip. No adhesive on this sheet: it is a rehearsal."
    )
    for line in MENDING:
        sheet.words(f"- {line}", is_small=True)
    sheet.down(3)
    for step in laid.steps:
        sheet.room(12)
        sheet.box(14.0, sheet.y_mm - 4)
        onto = f" onto {', '.join(step.to)}" if step.to else " first"
        way = f", from the side: {step.from_side}" if step.from_side else ""
        turn = (
            ""
            if step.box_turn_deg is None
            else f"; turn the group {step.box_turn_deg:.0f} degrees clockwise in the box"
        )
        sheet.words(
            f"{step.step}. Group {step.block}: {', '.join(step.adds)}{onto}{way}{turn}", x_mm=20.0, width_mm=172.0
        )
        if step.warning:
            sheet.words(f"Watch: {step.warning}", x_mm=24.0, width_mm=168.0, is_small=True)
        sheet.down(1.5)
    if not laid.steps:
        sheet.words("No two sherds are joined yet, so there is nothing to rehearse.")
    return sheet.finish()


def drawing_pdf(drawing: Drawing, title: str) -> bytes:
    """One drawing on one page of its own size, at the size it was drawn."""
    stream = io.BytesIO()
    page = Canvas(stream, pagesize=(drawing.width + 20 * mm, drawing.height + 20 * mm), invariant=1, pageCompression=1)
    page.setTitle(title)
    page.setViewerPreference("PrintScaling", "None")
    renderPDF.draw(drawing, page, 10 * mm, 10 * mm)
    page.showPage()
    page.save()
    return stream.getvalue()


def _foot(drawing: Drawing, laid: VesselLayout, ratio: int) -> None:
    """Bar of 10 cm at the scale, and what is missing."""
    length = 100 * mm / ratio
    stroke(drawing, [(0, 12 * mm), (length, 12 * mm)], width=2)
    for k in range(11):
        stroke(drawing, [(k * length / 10, 12 * mm), (k * length / 10, 12 * mm + (4 if k % 5 == 0 else 2))], width=0.6)
    label(drawing, length + 6, 12 * mm - 2, f"10 cm at 1:{ratio}; print at 100 %")
    missing = "" if laid.missing_share is None else f"; {laid.missing_share:.0%} missing of {laid.missing_of}"
    label(drawing, 0, 6 * mm, f"Vessel {laid.vessel}, lot {laid.lot}; {laid.wall}{missing}", size=6.5)
    label(
        drawing,
        0,
        2 * mm,
        "Letter and number: group and step. Dashed: not joined. Try dry with tape; ask a conservator.",
        size=6.5,
    )


def _tile(page: Canvas, laid: VesselLayout, image: NDArray[np.uint8], at: tuple[float, float], name: str) -> None:
    stream = io.BytesIO()
    Image.fromarray(image).save(stream, "JPEG", quality=88)
    stream.seek(0)
    bottom = A4_MM[1] - TOP_MM - TILE_MM[1]
    page.drawImage(ImageReader(stream), LEFT_MM * mm, bottom * mm, width=TILE_MM[0] * mm, height=TILE_MM[1] * mm)
    path = page.beginPath()
    path.rect(LEFT_MM * mm, bottom * mm, TILE_MM[0] * mm, TILE_MM[1] * mm)
    page.saveState()
    page.clipPath(path, stroke=1)
    for one in laid.sherds:
        points = (one.outline_mm - at) * [1, -1] + [LEFT_MM, bottom + TILE_MM[1]]
        line = page.beginPath()
        line.moveTo(*(points[0] * mm))
        for point in points[1:]:
            line.lineTo(*(point * mm))
        line.close()
        page.setLineWidth(0.3)
        page.drawPath(line, stroke=1, fill=0)
        middle = points.mean(axis=0) * mm
        page.setFont(FACE, 7)
        width = page.stringWidth(one.sherd, FACE, 7)
        page.setFillGray(1.0)
        page.rect(middle[0] - width / 2 - 2, middle[1] - 2, width + 4, 10, stroke=0, fill=1)
        page.setFillGray(0.0)
        page.drawCentredString(middle[0], middle[1], one.sherd)
    page.restoreState()
    page.setFont(FACE, 8)
    page.drawString(
        LEFT_MM * mm, (A4_MM[1] - TOP_MM + 3) * mm, f"Vessel {laid.vessel}, lot {laid.lot}, at true size; page {name}"
    )
    page.setLineWidth(0.2)
    for k in range(10):
        page.setFillGray(0.0 if k % 2 == 0 else 1.0)
        page.rect((LEFT_MM + 10 * k) * mm, 12 * mm, 10 * mm, 3 * mm, stroke=1, fill=1)
    page.setFillGray(0.0)
    page.drawString((LEFT_MM + 104) * mm, 12 * mm, "10 cm: check with a ruler; print at 100 %")


def cut_outs(cat: Catalogue, laid: VesselLayout) -> tuple[list[SherdCutOut], NDArray[np.float64]]:
    """Crops, and where each lies: (n, 3) x_mm, y_mm, turn in degrees."""
    sherds = [cat.sherd(one.sherd) for one in laid.sherds]
    outlines = outlines_mm(cat, sherds)
    crops = {sherd.number: crop for sherd, crop in crops_of(cat, sherds)}
    cut = [
        SherdCutOut(crops[s.number].image, crops[s.number].mask, crops[s.number].px_per_mm, outlines[s.number])
        for s in sherds
    ]
    return cut, np.array([[one.x_mm, one.y_mm, one.turn_deg] for one in laid.sherds]).reshape(-1, 3)


def _png(image: NDArray[np.uint8]) -> bytes:
    held = io.BytesIO()
    Image.fromarray(image).save(held, format="PNG")
    return held.getvalue()


def check_file(file: Path, endings: tuple[str, ...]) -> None:
    """Refuse a file that cannot be written: InputError for another ending, or a folder that is not there."""
    if file.suffix.lower() not in endings or not file.parent.is_dir():
        raise InputError(f"'{file}' cannot be written; name a {' or '.join(endings)} file in a folder that is there")


def save_bytes(file: Path, content: bytes) -> None:
    """Write a file whole or not at all."""
    write_atomically(file, content, is_lasting=True)
