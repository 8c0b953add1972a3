"""Reconstruction drawing: centre line, section on one side, outside with its decoration on the other, conjecture dotted, to scale.

Section and interior to the left, exterior to the right is the usual side for each in Britain and North America; some countries draw it
the other way round, which is the option `is_reversed` (common practice).
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from PIL import Image
from reportlab.graphics.shapes import Circle, Group, Wedge
from reportlab.lib.units import mm

from motifs.errors import InputError
from motifs.workflows.drawings import INK, QUIET, WHITE, Figure, area, label, new_drawing, picture, stroke, svg
from motifs.workflows.layout import lay_out_vessel
from motifs.workflows.layout_sheets import check_file, drawing_pdf, save_bytes
from motifs.workflows.vessel_form import (
    bands_of,
    best_facing_deg,
    form_or_cylinder,
    seen_from_outside,
    unroll,
    wall_of_form,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue, FormRow
    from motifs.joins.walls import RoundWall
    from motifs.workflows.vessel_form import Band, Unrolled

MARGIN_MM: Final = 14.0
FOOT_MM: Final = 26.0
DOTS: Final = (0.8, 2.2)
WALL_MM: Final = 6.0
"""Thickness that is drawn, dotted, where none is recorded."""
PRINT_PX_PER_MM: Final = 12.0
SCALES: Final = (1, 2, 3, 4)


@dataclass(frozen=True, slots=True)
class FormSheet:
    """A finished drawing. content: of the file; notes: what it could not show."""

    content: bytes
    notes: tuple[str, ...]


def draw_form(
    cat: Catalogue, lot: str, vessel: str, file: Path, *, scale: int = 2, is_reversed: bool = False, by: str
) -> tuple[str, ...]:
    """Draw a vessel into an SVG or PDF file at 1:scale; returns notes.

    Raises
    ------
    UnknownName
        No such lot or vessel; neither profile nor rim diameter is recorded.
    InputError
        Another ending or scale, or a folder that is not there.
    """
    check_file(file, (".svg", ".pdf"))
    sheet = form_sheet(
        cat, lot, vessel, scale=scale, is_reversed=is_reversed, is_svg=file.suffix.lower() == ".svg", by=by
    )
    save_bytes(file, sheet.content)
    return sheet.notes


def form_sheet(
    cat: Catalogue, lot: str, vessel: str, *, scale: int, is_reversed: bool = False, is_svg: bool, by: str
) -> FormSheet:
    """The drawing as bytes; raises as draw_form."""
    if scale not in SCALES:
        raise InputError(f"1:{scale} is no scale of the drawing; give {', '.join(map(str, SCALES))}")
    form = form_or_cylinder(cat, lot, vessel)
    wall = wall_of_form(form)
    notes: list[str] = []
    outside = None
    share = 0.0
    try:
        laid = lay_out_vessel(cat, lot, vessel, by=by)
        notes += laid.notes
    except InputError as why:
        laid = None
        notes.append(str(why))
    if laid is not None and laid.wall.startswith("unrolled") and laid.is_upright:
        whole = unroll(cat, laid, wall, repeats=form.repeats)
        share = float(whole.there.mean())
        outside = seen_from_outside(whole, wall, px_per_mm=PRINT_PX_PER_MM / scale, facing_deg=best_facing_deg(whole))
    else:
        notes.append(
            "no decoration is drawn: the sherds do not lie on the recorded wall yet (record the rims and which way is up)"
        )
    with TemporaryDirectory() as folder:
        image = None if outside is None else _file_of(outside, Path(folder) / "outside.jpg")
        figure = _figure(form, wall, bands_of(cat, lot, vessel), image, share, scale=scale, is_reversed=is_reversed)
        content = (
            svg(figure, width=f"{figure.drawing.width / mm:.2f}mm").encode()
            if is_svg
            else drawing_pdf(figure.drawing, figure.caption)
        )
    return FormSheet(content, tuple(dict.fromkeys(notes)))


def _file_of(view: Unrolled, file: Path) -> Path:
    """The outside as JPEG: what is there as it is, what was taken from another repeat paler and dotted, the rest white."""
    image = view.image.astype(np.float64)
    image[~view.there & ~view.repeated] = 255.0
    image[view.repeated] = 255.0 - (255.0 - image[view.repeated]) * 0.45
    rows, columns = np.indices(view.there.shape)
    dots = ((rows // 2) % 4 == 0) & ((columns // 2) % 4 == 0)
    image[view.repeated & dots] = 90.0
    held = io.BytesIO()
    Image.fromarray(image.astype(np.uint8)).save(held, "JPEG", quality=92)
    file.write_bytes(held.getvalue())
    return file


def _figure(
    form: FormRow,
    wall: RoundWall,
    bands: tuple[Band, ...],
    image: Path | None,
    share: float,
    *,
    scale: int,
    is_reversed: bool,
) -> Figure:
    unit = mm / scale
    reach, depth = wall.widest_mm, float(wall.drop_mm.max())
    low = float(wall.drop_mm.min())
    width, height = 2 * reach * unit + 2 * MARGIN_MM * mm, (depth - low) * unit + (FOOT_MM + MARGIN_MM) * mm
    drawing = new_drawing(max(width, 120 * mm), height)
    centre, top = drawing.width / 2, height - MARGIN_MM * mm + low * unit
    outward = -1.0 if is_reversed else 1.0
    if image is not None:
        _picture(drawing, image, centre, top, reach * unit, depth * unit, is_reversed=is_reversed)

    def at(radius: float, drop: float, side: float) -> tuple[float, float]:
        return (centre + side * outward * radius * unit, top - drop * unit)

    points = np.stack([wall.radius_mm, wall.drop_mm], axis=1)
    sure = math.inf if form.sure_to_mm is None else form.sure_to_mm
    thick = WALL_MM if form.wall_mm is None else form.wall_mm
    inner = _inner(points, thick)
    _section(drawing, points, inner, at, sure if form.wall_mm is not None else -math.inf)
    _line(drawing, points, lambda r, d: at(r, d, 1.0), sure)
    stroke(drawing, [at(points[0, 0], points[0, 1], -1.0), at(points[0, 0], points[0, 1], 1.0)], width=0.8)
    foot_dash = None if sure >= depth else DOTS
    stroke(
        drawing,
        [at(points[-1, 0], points[-1, 1], -1.0), at(points[-1, 0], points[-1, 1], 1.0)],
        width=0.8,
        dash=foot_dash,
    )
    stroke(
        drawing, [(centre, top - low * unit + 2 * mm), (centre, top - depth * unit - 2 * mm)], width=0.5, colour=QUIET
    )
    _foot(drawing, form, wall, bands, share, scale)
    caption = f"Vessel {form.vessel} of lot {form.lot}, reconstruction at 1:{scale}"
    alt = f"{caption}: section and outside, rim diameter {2 * points[0, 0]:.0f} mm; dotted parts are conjecture"
    return Figure(drawing, caption, alt)


def _inner(points: NDArray[np.float64], thick_mm: float) -> NDArray[np.float64]:
    """The inside of the wall, one thickness from the outside along its normal."""
    along = np.gradient(points, axis=0)
    along /= np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    inner = points + thick_mm * np.stack([-along[:, 1], along[:, 0]], axis=1)
    inner[:, 0] = np.maximum(inner[:, 0], 0.0)
    # The lip is drawn level: how it is rounded nobody recorded.
    inner[:, 1] = np.maximum(inner[:, 1], points[0, 1])
    return np.asarray(inner)


def _section(drawing: Any, points: NDArray[np.float64], inner: NDArray[np.float64], at: Any, sure_mm: float) -> None:
    """Cut through the wall: black where measured, an open dotted outline where not."""
    known = points[:, 1] <= sure_mm
    if known.sum() > 1:
        ring = [*(at(r, d, -1.0) for r, d in points[known]), *(at(r, d, -1.0) for r, d in inner[known][::-1])]
        area(drawing, ring, fill=INK)
    rest = points[:, 1] >= sure_mm
    for line in (points[rest], inner[rest]):
        if len(line) > 1:
            stroke(drawing, [at(r, d, -1.0) for r, d in line], width=0.8, dash=DOTS)


def _line(drawing: Any, points: NDArray[np.float64], at: Any, sure_mm: float) -> None:
    for which, dash in ((points[:, 1] <= sure_mm, None), (points[:, 1] >= sure_mm, DOTS)):
        if which.sum() > 1:
            stroke(drawing, [at(r, d) for r, d in points[which]], width=0.9, dash=dash)


def _picture(
    drawing: Any, image: Path, centre: float, top: float, wide: float, high: float, *, is_reversed: bool
) -> None:
    if not is_reversed:
        picture(drawing, centre, top - high, wide, high, image)
        return
    with Image.open(image) as shown:
        shown.transpose(Image.Transpose.ROTATE_180).transpose(Image.Transpose.FLIP_TOP_BOTTOM).save(
            image, "JPEG", quality=92
        )
    picture(drawing, centre - wide, top - high, wide, high, image)


def _foot(drawing: Any, form: FormRow, wall: RoundWall, bands: tuple[Band, ...], share: float, scale: int) -> None:
    y = 18 * mm
    bar = 50 * mm / scale
    for k in range(5):
        fill = INK if k % 2 == 0 else WHITE
        area(
            drawing,
            [(k * bar / 5, y), ((k + 1) * bar / 5, y), ((k + 1) * bar / 5, y + 4), (k * bar / 5, y + 4)],
            fill=fill,
        )
    label(drawing, bar + 5, y - 1, f"5 cm at 1:{scale}")
    centre = (drawing.width - 8 * mm, y + 2)
    pie = Group(Circle(*centre, 8, fillColor=None, strokeColor=INK, strokeWidth=0.6))
    if share > 0:
        pie.add(Wedge(*centre, 8, 90 - 360 * min(share, 0.999), 90, fillColor=INK, strokeColor=INK))
    drawing.add(pie)
    label(drawing, centre[0] - 12, y - 1, f"{share:.0%} of the wall", anchor="end", size=6.5)
    repeats = "repeats unknown" if form.repeats is None else f"decoration repeats {form.repeats} times round"
    sure = "" if form.sure_to_mm is None else f"; measured down to {form.sure_to_mm:.0f} mm"
    wall_words = "wall not recorded" if form.wall_mm is None else f"wall {form.wall_mm:.1f} mm"
    head = f"Vessel {form.vessel}, lot {form.lot}: rim diameter {2 * wall.radius_mm[0]:.0f} mm, {wall_words}, {repeats}{sure}"
    label(drawing, 0, 12 * mm, head, size=6.5)
    told = "; ".join(f"{band.part}: {', '.join(band.motifs) or 'no motif tagged'}" for band in bands)
    label(drawing, 0, 8 * mm, f"From rim to base: {told}" if told else "No part of the vessel is tagged yet", size=6.5)
    label(drawing, 0, 4 * mm, "Dotted lines, open section and dotted paler decoration are conjecture.", size=6.5)
