"""The photo mat as a PDF at true size, for any printer.

Everything on it is plain vector drawing in grey, the letters are embedded, and the same input gives the same bytes.
"""

from __future__ import annotations

import importlib.util
import io
import json
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import segno
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont
from reportlab.pdfgen.canvas import Canvas

from motifs.errors import InputError
from motifs.imaging.mat_design import (
    BAR_BLOCKS,
    CROSS_MM,
    FAINT_SRGB,
    LINE_MM,
    Box,
    MatDesign,
    marker_squares,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

PRINT_LINE: Final = "Print at 100 % (no fitting to the page). Check this bar with a ruler: it must be 100 mm long."
USE_LINE: Final = "Sherds inside the crosses; keep the markers clear where you can. Lay the sheet flat."
MAX_CODE_BYTES: Final = 180
"""What the square code may hold, so that its squares stay wide enough to be read from a photograph."""

_FACE: Final = "MatSans"
_INK: Final = 0.0


def mat_pdf(design: MatDesign, *, lot: str | None = None, site: str | None = None) -> bytes:
    """Draw the mat.

    Parameters
    ----------
    design
        Its size.
    lot, site
        Printed on it and held in its square code, so that a photograph says where it belongs; or None.

    Returns
    -------
    bytes
        The PDF file.

    Raises
    ------
    InputError
        Lot and site together are too long for the code.
    """
    stream = io.BytesIO()
    size = (design.width * mm, design.height * mm)
    page = Canvas(stream, pagesize=size, invariant=1, pageCompression=1)
    page.setTitle(f"Photo mat {design.name}")
    page.setViewerPreference("PrintScaling", "None")
    _use_letters()
    # Millimetres, y down from the upper left corner, as in the design.
    page.translate(0, size[1])
    page.scale(mm, -mm)
    _draw_markers(page, design)
    _draw_patches(page, design)
    _draw_bar(page, design)
    _draw_field(page, design)
    _draw_code(page, design, lot, site)
    _draw_words(page, design, lot, site)
    page.showPage()
    page.save()
    return stream.getvalue()


def code_text(lot: str | None, site: str | None) -> str:
    """What the square code holds: JSON in plain ASCII.

    Raises
    ------
    InputError
        Longer than ``MAX_CODE_BYTES``.
    """
    text = json.dumps({"lot": lot, "site": site}, separators=(",", ":"))
    if len(text) > MAX_CODE_BYTES:
        raise InputError(
            f"lot and site are too long for the mat's square code ({len(text)} of {MAX_CODE_BYTES} characters); "
            "shorten the site or leave it out"
        )
    return text


def code_squares(lot: str | None, site: str | None) -> NDArray[np.bool_]:
    """Squares of the code, (n, n) bool, True dark, without a margin (ISO/IEC 18004)."""
    code = segno.make(code_text(lot, site), error="m", micro=False, boost_error=False)
    return np.asarray([list(row) for row in code.matrix]).astype(np.bool_)


def _use_letters() -> None:
    """Register DejaVu Sans, which matplotlib ships (Bitstream Vera licence): it has Latin, Greek and Cyrillic."""
    if _FACE in pdfmetrics.getRegisteredFontNames():
        return
    found = importlib.util.find_spec("matplotlib")
    if found is None or found.origin is None:
        raise InputError("the letters for the mat are missing; install what requirements.txt names")
    path = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf" / "DejaVuSans.ttf"
    try:
        pdfmetrics.registerFont(TTFont(_FACE, str(path)))
    except TTFError as error:
        raise InputError("the letters for the mat are missing; install what requirements.txt names") from error


def _fill(page: Canvas, boxes: list[Box], grey: float) -> None:
    """Fill boxes as one path, so that no hairline shows where two meet."""
    path = page.beginPath()
    for box in boxes:
        path.rect(box.x, box.y, box.width, box.height)
    page.setFillGray(grey)
    page.drawPath(path, stroke=0, fill=1, fillMode=1)


def _squares(squares: NDArray[np.bool_], box: Box) -> list[Box]:
    """Dark squares of a grid in a box, those beside each other in a row joined."""
    step = box.width / len(squares)
    runs = []
    for row, line in enumerate(squares):
        edges = np.flatnonzero(np.diff(np.concatenate([[False], line, [False]]).astype(np.int8)))
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            runs.append(Box(box.x + start * step, box.y + row * step, (end - start) * step, step))
    return runs


def _draw_markers(page: Canvas, design: MatDesign) -> None:
    for marker in design.markers:
        _fill(page, _squares(marker_squares(marker.number), marker.box), _INK)


def _draw_patches(page: Canvas, design: MatDesign) -> None:
    for patch in design.patches:
        _fill(page, [patch.box], patch.level / 255.0)


def _draw_bar(page: Canvas, design: MatDesign) -> None:
    _fill(page, design.bar_blocks(), _INK)
    bar = design.bar
    page.setStrokeGray(_INK)
    page.setLineWidth(LINE_MM)
    # The frame runs outside, so that the blocks' ends stay where they are.
    outer = bar.grown(LINE_MM / 2)
    page.rect(outer.x, outer.y, outer.width, outer.height, stroke=1, fill=0)
    for centimetres in range(0, BAR_BLOCKS + 1, 5):
        at = bar.x + centimetres * bar.width / BAR_BLOCKS
        _write(page, at - 1.0, bar.y + bar.height + 3.6, 2.6, str(centimetres))
    _write(page, bar.x + bar.width - 9.0, bar.y + bar.height + 3.6, 2.6, "cm")


def _draw_field(page: Canvas, design: MatDesign) -> None:
    page.setStrokeGray(FAINT_SRGB / 255.0)
    page.setLineWidth(LINE_MM)
    half = CROSS_MM / 2
    for x, y in design.crosses():
        page.line(x - half, y, x + half, y)
        page.line(x, y - half, x, y + half)
    for words in design.cell_names():
        _write(page, words.x, words.y, words.size, words.text, FAINT_SRGB / 255.0)


def _draw_code(page: Canvas, design: MatDesign, lot: str | None, site: str | None) -> None:
    if lot is None and site is None:
        return
    _fill(page, _squares(code_squares(lot, site), design.code), _INK)


def _draw_words(page: Canvas, design: MatDesign, lot: str | None, site: str | None) -> None:
    zone = design.words_zone()
    line = f"Lot  {lot or '_' * 16}     Site  {site or '_' * 24}"
    _write(page, zone.x, zone.y + 5.0, _fitting(line, 4.4, zone.width), line)
    _write(page, zone.x, zone.y + 9.8, 2.6, f"Photo mat {design.name}.  {USE_LINE}")
    _write(page, zone.x, zone.y + 13.8, 2.6, PRINT_LINE)


def _fitting(text: str, size: float, width: float) -> float:
    """Size of letters, mm, at which a line is no wider than its place."""
    wide = pdfmetrics.stringWidth(text, _FACE, size)
    return size if wide <= width else size * width / wide


def _write(page: Canvas, x: float, y: float, size: float, text: str, grey: float = _INK) -> None:
    page.saveState()
    page.translate(x, y)
    page.scale(1, -1)
    page.setFillGray(grey)
    page.setFont(_FACE, size)
    page.drawString(0, 0, text)
    page.restoreState()
