"""Pages of a printed sheet: A4, letters embedded, crops at one stated scale, and the same bytes for the same input."""

from __future__ import annotations

import importlib.util
import io
from pathlib import Path
from typing import TYPE_CHECKING, Final

from PIL import Image
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader, simpleSplit
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont
from reportlab.pdfgen.canvas import Canvas

from motifs.errors import InputError

if TYPE_CHECKING:
    from motifs.workflows.pictures import SherdPicture

WIDTH_MM: Final[float] = float(A4[0] / mm)
HEIGHT_MM: Final[float] = float(A4[1] / mm)
MARGIN_MM: Final = 14.0
FOOT_MM: Final = 12.0
TEXT_PT, SMALL_PT, TITLE_PT = 9.0, 7.5, 13.0
JPEG_QUALITY: Final = 88

_FACE, _BOLD = "SheetSans", "SheetSansBold"
_FILES = {_FACE: "DejaVuSans.ttf", _BOLD: "DejaVuSans-Bold.ttf"}


class SheetPages:
    """A PDF that is filled from top to bottom; `room` starts a new page where what comes next does not fit.

    heading: printed on top of every page. scale: print millimetres to a millimetre of the sherd, stated with a 5 cm bar.
    """

    def __init__(self, heading: str, *, scale: float, title: str) -> None:
        _use_letters()
        self._stream = io.BytesIO()
        self._canvas = Canvas(self._stream, pagesize=A4, invariant=1, pageCompression=1)
        self._canvas.setTitle(title)
        self._heading = heading
        self.scale = scale
        self._page = 0
        self._begin()

    @property
    def width_mm(self) -> float:
        """Between the margins."""
        return WIDTH_MM - 2 * MARGIN_MM

    def room(self, height_mm: float) -> None:
        """Go on to a new page unless this much is left on this one, or the page is empty anyway."""
        if self.y_mm - height_mm < MARGIN_MM + FOOT_MM and not self._is_fresh():
            self._canvas.showPage()
            self._begin()

    def down(self, height_mm: float) -> None:
        """Move down."""
        self.y_mm -= height_mm

    def title(self, text: str) -> None:
        """A line in bold with a rule under it."""
        self.room(40.0)
        self._text(MARGIN_MM, self.y_mm - 4.5, text, _BOLD, TEXT_PT + 1.5)
        self._canvas.setLineWidth(0.4)
        self._canvas.line(MARGIN_MM * mm, (self.y_mm - 6.2) * mm, (WIDTH_MM - MARGIN_MM) * mm, (self.y_mm - 6.2) * mm)
        self.down(8.5)

    def words(
        self, text: str, *, x_mm: float = MARGIN_MM, width_mm: float | None = None, is_small: bool = False
    ) -> None:
        """Text, wrapped to a width; goes down by its height."""
        size = SMALL_PT if is_small else TEXT_PT
        wide = (self.width_mm if width_mm is None else width_mm) * mm
        for line in simpleSplit(text, _FACE, size, wide):
            self.room(size * 0.5)
            self._text(x_mm, self.y_mm - size * 0.36, line, _FACE, size)
            self.down(size * 0.45)

    def label(self, x_mm: float, y_mm: float, text: str, *, is_bold: bool = False, is_small: bool = True) -> None:
        """One line at a place; nothing moves."""
        self._text(x_mm, y_mm, text, _BOLD if is_bold else _FACE, SMALL_PT if is_small else TEXT_PT)

    def text_mm(self, text: str, *, is_bold: bool = False, is_small: bool = True) -> float:
        """How wide a line is."""
        size = SMALL_PT if is_small else TEXT_PT
        return float(pdfmetrics.stringWidth(text, _BOLD if is_bold else _FACE, size) / mm)

    def box(self, x_mm: float, y_mm: float, side_mm: float = 3.6) -> None:
        """A box to tick, its lower left corner given."""
        self._canvas.setLineWidth(0.5)
        self._canvas.rect(x_mm * mm, y_mm * mm, side_mm * mm, side_mm * mm, stroke=1, fill=0)

    def picture(self, picture: SherdPicture, x_mm: float, y_mm: float, *, scale: float | None = None) -> None:
        """A sherd with its lower left corner at a place; at the sheet's scale unless another one is given."""
        factor = self.scale if scale is None else scale
        with Image.open(io.BytesIO(picture.webp), formats=["WEBP"]) as image:
            rgba = image.convert("RGBA")
        paper = Image.new("RGB", rgba.size, (255, 255, 255))
        paper.paste(rgba, mask=rgba.getchannel("A"))
        stream = io.BytesIO()
        paper.save(stream, "JPEG", quality=JPEG_QUALITY)
        stream.seek(0)
        size = (picture.width_mm * factor * mm, picture.height_mm * factor * mm)
        self._canvas.drawImage(ImageReader(stream), x_mm * mm, y_mm * mm, width=size[0], height=size[1])

    def finish(self) -> bytes:
        """The PDF file."""
        self._canvas.showPage()
        self._canvas.save()
        return self._stream.getvalue()

    def _begin(self) -> None:
        self._page += 1
        self._text(MARGIN_MM, HEIGHT_MM - MARGIN_MM - 4, self._heading, _BOLD, TITLE_PT)
        self._text(WIDTH_MM - MARGIN_MM - 16, MARGIN_MM - 4, f"page {self._page}", _FACE, SMALL_PT)
        self._bar()
        self.y_mm: float = HEIGHT_MM - MARGIN_MM - 11
        self._top_mm: float = self.y_mm

    def _is_fresh(self) -> bool:
        return self.y_mm == self._top_mm

    def _bar(self) -> None:
        """5 cm in blocks of 1 cm at the sheet's scale, at the foot."""
        block = 10.0 * self.scale
        for number in range(5):
            self._canvas.setFillGray(0.0 if number % 2 == 0 else 1.0)
            self._canvas.setLineWidth(0.4)
            left = (MARGIN_MM + number * block) * mm
            self._canvas.rect(left, (MARGIN_MM - 4) * mm, block * mm, 2.2 * mm, stroke=1, fill=1)
        self._canvas.setFillGray(0.0)
        ratio = f"1:{1 / self.scale:g}"
        self._text(MARGIN_MM + 5 * block + 3, MARGIN_MM - 4, f"5 cm at {ratio}; print at 100 %", _FACE, SMALL_PT)

    def _text(self, x_mm: float, y_mm: float, text: str, face: str, size_pt: float) -> None:
        self._canvas.setFont(face, size_pt)
        self._canvas.drawString(x_mm * mm, y_mm * mm, text)


def _use_letters() -> None:
    """Register DejaVu Sans, which matplotlib ships (Bitstream Vera licence): it has Latin, Greek and Cyrillic."""
    absent = [face for face in _FILES if face not in pdfmetrics.getRegisteredFontNames()]
    if not absent:
        return
    found = importlib.util.find_spec("matplotlib")
    if found is None or found.origin is None:
        raise InputError("the letters for the sheet are missing; install what requirements.txt names")
    folder = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf"
    try:
        for face in absent:
            pdfmetrics.registerFont(TTFont(face, str(folder / _FILES[face])))
    except TTFError as error:
        raise InputError("the letters for the sheet are missing; install what requirements.txt names") from error
