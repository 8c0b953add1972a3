"""Plates of chosen sherds, to look at and to print: the same drawings as an export's, in one PDF of true size."""

from __future__ import annotations

import io
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from reportlab.graphics import renderPDF
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from motifs.errors import InputError
from motifs.workflows.drawings import FACE, SMALL, svg, use_letters
from motifs.workflows.plates import PLATE_WIDTH_MM, cut_pieces, plates

if TYPE_CHECKING:
    from collections.abc import Sequence

    from motifs.catalogue import Catalogue
    from motifs.workflows import Progress
    from motifs.workflows.drawings import Figure
    from motifs.workflows.plates import Piece

REDUCTIONS: Final = (1, 2, 3, 4)
MOST: Final = 200
"""More sherds than this are printed by an export, not from a page."""
TOP_MM: Final = 16.0


@dataclass(frozen=True, slots=True)
class Plate:
    """One page: an SVG element, what stands under it, and what it shows in words."""

    svg: str
    caption: str
    alt: str


@dataclass(frozen=True, slots=True)
class PlateSheets:
    """Plates of some sherds, and all of them as one PDF (A4, true to the stated reduction when printed unscaled)."""

    plates: tuple[Plate, ...]
    pdf: bytes


def plate_sheets(
    cat: Catalogue, numbers: Sequence[str], title: str, *, reduction: int, progress: Progress | None = None
) -> PlateSheets:
    """Lay sherds out on plates in the order given.

    Parameters
    ----------
    numbers : catalogue numbers, 1 to MOST; doubles count once.
    reduction : one of REDUCTIONS; 2 draws them at half their size.

    Raises
    ------
    InputError
        No sherd or too many; another reduction.
    UnknownName, Restricted, CollectionDamaged
        A sherd that is not there, is kept back, or whose photograph is gone.
    """
    wanted = list(dict.fromkeys(numbers))
    if not 1 <= len(wanted) <= MOST:
        raise InputError(f"{len(wanted)} sherds cannot be laid out here; choose 1 to {MOST}, or export the lot")
    if reduction not in REDUCTIONS:
        raise InputError(f"a reduction of 1 : {reduction} cannot be; choose one of {', '.join(map(str, REDUCTIONS))}")
    sherds = [cat.sherd(number) for number in wanted]
    pieces: list[Piece] = []
    with tempfile.TemporaryDirectory() as scratch:
        for place, sherd in enumerate(sherds):
            folder = Path(scratch) / str(place)
            folder.mkdir()
            pieces += cut_pieces(cat, [sherd], folder, reduction=reduction).values()
            if progress is not None:
                progress("laying out plates", place + 1, len(sherds))
        figures = plates(pieces, title, reduction=reduction)
        shown = tuple(Plate(svg(figure), figure.caption, figure.alt) for figure in figures)
        return PlateSheets(shown, _printed(figures, title))


def _printed(figures: Sequence[Figure], title: str) -> bytes:
    use_letters()
    stream = io.BytesIO()
    canvas = Canvas(stream, pagesize=A4, invariant=1, pageCompression=1)
    canvas.setTitle(title)
    left = (A4[0] - PLATE_WIDTH_MM * mm) / 2
    for figure in figures:
        top = A4[1] - TOP_MM * mm
        renderPDF.draw(figure.drawing, canvas, left, top - figure.drawing.height)
        canvas.setFont(FACE, SMALL)
        canvas.drawString(left, 10 * mm, figure.caption)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()
