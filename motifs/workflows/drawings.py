"""Vector drawings for reports and pages: one drawing, as SVG and inside a PDF, with letters embedded.

Colours are those of Okabe & Ito 2008 (Color Universal Design), which people with any colour vision tell apart; marks and
dashes say the same once more, for prints in grey. Lengths are in points (1/72 inch) unless a name says mm.
"""

from __future__ import annotations

import base64
import importlib.util
import io
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from reportlab.graphics import renderSVG
from reportlab.graphics.shapes import Circle, Drawing, Image, Line, Polygon, PolyLine, Rect, String
from reportlab.lib.colors import Color, HexColor
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont

from motifs.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

FACE: Final = "ReportSans"
BOLD: Final = "ReportSansBold"
SMALL: Final = 7.5
INK: Final = HexColor("#1d242b")
QUIET: Final = HexColor("#5c5c5c")
FAINT: Final = HexColor("#c9c9c9")
TIE: Final = HexColor("#8a8a8a")
WHITE: Final = HexColor("#ffffff")
PALETTE: Final = tuple(map(HexColor, ("#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00", "#56b4e9", "#000000")))
DASHES: Final[tuple[tuple[float, ...] | None, ...]] = (None, (5, 2), (1.5, 1.5), (6, 2, 1.5, 2), (3, 3), (8, 3), (2, 4))
MARKS: Final = ("circle", "square", "triangle", "diamond", "cross", "ring", "bar")
GRAPH_WIDTH: Final = 170 * mm


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing with its caption, and what it shows in words for those who do not see it."""

    drawing: Drawing
    caption: str
    alt: str


def use_letters() -> None:
    """Register DejaVu Sans, which matplotlib ships (Bitstream Vera licence): it has Latin, Greek and Cyrillic.

    Raises
    ------
    InputError
        The font files are not there.
    """
    if FACE in pdfmetrics.getRegisteredFontNames():
        return
    found = importlib.util.find_spec("matplotlib")
    folder = None if found is None or found.origin is None else Path(found.origin).parent / "mpl-data" / "fonts" / "ttf"
    try:
        if folder is None:
            raise TTFError("no matplotlib")
        for name, file in ((FACE, "DejaVuSans.ttf"), (BOLD, "DejaVuSans-Bold.ttf")):
            pdfmetrics.registerFont(TTFont(name, str(folder / file)))
    except TTFError as error:
        raise InputError("the letters for drawings are missing; install what requirements.txt names") from error
    pdfmetrics.registerFontFamily(FACE, normal=FACE, bold=BOLD, italic=FACE, boldItalic=BOLD)


def new_drawing(width: float, height: float) -> Drawing:
    """An empty drawing with its letters ready."""
    use_letters()
    return Drawing(width, height)


def label(
    drawing: Drawing, x: float, y: float, text: object, *, anchor: str = "start", size: float = SMALL, **more: Any
) -> None:
    """Write one line of text; anchor: start, middle or end."""
    shown = "".join(sign if sign.isprintable() else "?" for sign in str(text))
    style = {"fontName": FACE, "fontSize": size, "fillColor": INK, **more}
    drawing.add(String(x, y, shown, textAnchor=anchor, **style))


def fitted(text: str, width: float, size: float = SMALL) -> str:
    """The text, shortened with an ellipsis where it is wider than `width`."""
    use_letters()
    if pdfmetrics.stringWidth(text, FACE, size) <= width:
        return text
    while text and pdfmetrics.stringWidth(text + "…", FACE, size) > width:
        text = text[:-1]
    return text + "…"


def text_width(text: str, size: float = SMALL) -> float:
    """Width of a text."""
    use_letters()
    return float(pdfmetrics.stringWidth(text, FACE, size))


def stroke(
    drawing: Drawing,
    points: Sequence[tuple[float, float]],
    *,
    colour: Color = INK,
    width: float = 0.8,
    dash: Any = None,
) -> None:
    """A line through points."""
    flat = [float(value) for point in points for value in point]
    drawing.add(PolyLine(flat, strokeColor=colour, strokeWidth=width, strokeDashArray=dash))


def box(
    drawing: Drawing, x: float, y: float, width: float, height: float, *, fill: Color | None, edge: Color | None = None
) -> None:
    """A rectangle."""
    drawing.add(Rect(x, y, width, height, fillColor=fill, strokeColor=edge, strokeWidth=0.5))


def area(drawing: Drawing, points: Sequence[tuple[float, float]], *, fill: Color) -> None:
    """A filled polygon with a thin edge."""
    flat = [float(value) for point in points for value in point]
    drawing.add(Polygon(flat, fillColor=fill, strokeColor=INK, strokeWidth=0.4))


def picture(drawing: Drawing, x: float, y: float, width: float, height: float, file: Path) -> None:
    """A JPEG file, put in as it is."""
    drawing.add(Image(x, y, width, height, str(file)))


def mark(drawing: Drawing, x: float, y: float, place: int, *, size: float = 2.6) -> None:
    """A mark of the series `place`: form and colour both tell it apart."""
    colour, form = PALETTE[place % len(PALETTE)], MARKS[place % len(MARKS)]
    if form in {"circle", "ring"}:
        drawing.add(
            Circle(x, y, size, fillColor=colour if form == "circle" else None, strokeColor=colour, strokeWidth=1)
        )
    elif form in {"square", "bar"}:
        high = size if form == "square" else size / 2
        box(drawing, x - size, y - high, 2 * size, 2 * high, fill=colour)
    elif form == "cross":
        for sign in (1, -1):
            drawing.add(Line(x - size, y - sign * size, x + size, y + sign * size, strokeColor=colour, strokeWidth=1.4))
    else:
        top = [(x - size, y - size), (x + size, y - size), (x, y + size * 1.2)]
        wide = [(x - size * 1.2, y), (x, y - size * 1.2), (x + size * 1.2, y), (x, y + size * 1.2)]
        flat = [v for point in (top if form == "triangle" else wide) for v in point]
        drawing.add(Polygon(flat, fillColor=colour, strokeColor=colour, strokeWidth=0.5))


def grey_for(share: float) -> Color:
    """Blue from nearly white (0) to dark (1), whose lightness alone orders the values."""
    share = min(max(share, 0.0), 1.0)
    light, dark = (0.96, 0.97, 0.99), (0.02, 0.22, 0.42)
    return Color(*(a + (b - a) * share for a, b in zip(light, dark, strict=True)))


def svg(figure: Figure, *, width: str = "100%") -> str:
    """The figure as an SVG element with its alternative text; JPEG pictures are put in whole."""
    drawing = figure.drawing
    canvas = _Canvas((drawing.width, drawing.height), useClip=0)
    renderSVG.draw(drawing, canvas, 0, 0, showBoundary=False)
    stream = io.StringIO()
    canvas.save(stream)
    text = stream.getvalue()
    inner = text[text.index("<svg") :]
    body = re.sub(r"<(title|desc)>.*?</\1>", "", inner[inner.index(">") + 1 :], flags=re.S)
    # Ids repeat from drawing to drawing, and nothing refers to them.
    body = re.sub(r'\sid="[^"]*"', "", body)
    for name, family in (
        (BOLD, "DejaVu Sans, Verdana, sans-serif; font-weight: bold"),
        (FACE, "DejaVu Sans, Verdana, sans-serif"),
    ):
        body = re.sub(rf"font-family:\s*'?{name}'?(?=[;\"])", f"font-family: {family}", body)
    words = _attribute(figure.alt)
    high, wide = drawing.height, drawing.width
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" role="img" '
        f'aria-label="{words}" viewBox="0 0 {wide:.2f} {high:.2f}" style="width: {width}; max-width: {wide / mm:.0f}mm; '
        f'height: auto">{body}'
    )


class _Canvas(renderSVG.SVGCanvas):  # type: ignore[misc]
    """Puts a JPEG file in as it is, where the library would code it again as PNG."""

    def drawImage(self, image: Any, x: float, y: float, width: float, height: float, embed: bool = True) -> None:  # noqa: N802
        """Add an <image> with the file's own bytes."""
        jpeg = base64.b64encode(Path(image.filename).read_bytes()).decode()
        # The library opens the file and leaves it open.
        image.close()
        node = self.doc.createElement("image")
        turned = f"matrix(1,0,0,-1,0,{height + 2 * y:.3f})"
        values = {
            "x": f"{x:.3f}",
            "y": f"{y:.3f}",
            "width": f"{width:.3f}",
            "height": f"{height:.3f}",
            "transform": turned,
        }
        for name, value in {**values, "href": f"data:image/jpeg;base64,{jpeg}"}.items():
            node.setAttribute(name, value)
        self.currGroup.appendChild(node)


def _attribute(text: str) -> str:
    for sign, name in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;")):
        text = text.replace(sign, name)
    return text
