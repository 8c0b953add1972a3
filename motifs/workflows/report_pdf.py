"""A report as PDF: letters embedded, figures as vectors, bookmarks, the same bytes for the same report."""

from __future__ import annotations

import io
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

from reportlab import rl_config
from reportlab.graphics import renderPDF
from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_LEFT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    KeepTogether,
    LongTable,
    PageTemplate,
    Paragraph,
    Spacer,
)

from motifs.workflows.drawings import BOLD, FACE, use_letters
from motifs.workflows.report_parts import Grid, Listing, Shown, Words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from reportlab.graphics.shapes import Drawing

    from motifs.workflows.report_parts import Block, Report, Section

MARGIN = 20 * mm
WIDTH = A4[0] - 2 * MARGIN
INK, QUIET, RULE = HexColor("#1d242b"), HexColor("#4d4a44"), HexColor("#8c8577")


def _style(name: str, size: float, **more: Any) -> ParagraphStyle:
    settings = {"fontName": FACE, "leading": size * 1.35, "textColor": INK, "alignment": TA_LEFT, "splitLongWords": 1}
    return ParagraphStyle(name, fontSize=size, **(settings | more))


BODY = _style("body", 9, spaceAfter=4)
CELL = _style("cell", 7.5)
HEAD_CELL = _style("head cell", 7.5, fontName=BOLD)
CAPTION = _style("caption", 8, textColor=QUIET, spaceBefore=2, spaceAfter=7)
TABLE_CAPTION = _style("table caption", 8, textColor=QUIET, spaceBefore=2, spaceAfter=1, keepWithNext=1)
CAUTION = _style("caution", 9, borderColor=INK, borderWidth=0.8, borderPadding=5, spaceBefore=6, spaceAfter=9)
TITLE = _style("title", 19, fontName=BOLD, spaceAfter=2)
SUBTITLE = _style("subtitle", 11, textColor=QUIET, spaceAfter=8)
HEADINGS = {1: _style("heading", 13, fontName=BOLD, spaceBefore=12, spaceAfter=4, keepWithNext=1)}
HEADINGS[2] = _style("heading below", 10.5, fontName=BOLD, spaceBefore=8, spaceAfter=3, keepWithNext=1)


class _Document(BaseDocTemplate):  # type: ignore[misc]
    """Numbers its pages, and makes a bookmark of every heading."""

    def __init__(self, stream: io.BytesIO, report: Report) -> None:
        super().__init__(
            stream,
            pagesize=A4,
            leftMargin=MARGIN,
            rightMargin=MARGIN,
            topMargin=MARGIN,
            bottomMargin=MARGIN,
            title=report.title,
            author="",
            subject=report.subtitle,
            creator="motifs",
            lang="en",
            invariant=1,
        )
        frame = Frame(MARGIN, MARGIN, WIDTH, A4[1] - 2 * MARGIN, 0, 0, 0, 0)
        self.addPageTemplates([PageTemplate("page", [frame], onPage=self._foot)])
        self._report = report
        self._headings = 0

    def _foot(self, canvas: Any, _document: Any) -> None:
        canvas.setFont(FACE, 7.5)
        canvas.setFillColor(QUIET)
        canvas.drawString(MARGIN, 11 * mm, f"{self._report.title} · as of {self._report.as_of}")
        canvas.drawRightString(A4[0] - MARGIN, 11 * mm, f"page {canvas.getPageNumber()}")

    def afterFlowable(self, flowable: Flowable) -> None:  # noqa: N802 - the library's name
        """Note a heading in the outline."""
        style = getattr(flowable, "style", None)
        level = next((level for level, heading in HEADINGS.items() if heading is style), None)
        if level is not None:
            key = f"h{self._headings}"
            self._headings += 1
            self.canv.bookmarkPage(key)
            self.canv.addOutlineEntry(flowable.getPlainText(), key, level - 1 if self._headings > 1 else 0)


class _Renderer(renderPDF._PDFRenderer):  # type: ignore[misc]
    """Puts a JPEG in as it is, named by its content, where the library would write it out in letters."""

    def drawImage(self, image: Any) -> None:  # noqa: N802 - the library's name
        """Draw a JPEG file."""
        jpeg = ImageReader(io.BytesIO(Path(image.path).read_bytes()))
        self._canvas.drawImage(jpeg, image.x, image.y, image.width, image.height)


class _Drawn(Flowable):  # type: ignore[misc]
    """A drawing on the page, made narrower where it is wider than the text."""

    def __init__(self, drawing: Drawing) -> None:
        super().__init__()
        self._drawing = drawing
        self._scale = min(1.0, WIDTH / drawing.width)

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """The room it takes."""
        return self._drawing.width * self._scale, self._drawing.height * self._scale

    def draw(self) -> None:
        """Draw it where the page is."""
        self.canv.saveState()
        self.canv.scale(self._scale, self._scale)
        _Renderer().draw(self._drawing, self.canv, 0, 0)
        self.canv.restoreState()


def report_pdf(report: Report) -> bytes:
    """The report as a PDF file."""
    use_letters()
    stream = io.BytesIO()
    story: list[Flowable] = [_words(report.title, TITLE), _words(report.subtitle, SUBTITLE)]
    story.append(_table(Grid(("", ""), report.facts, "", (0.3, 0.7)), has_head=False))
    for section in report.sections:
        story += _section(section)
    with _binary_streams():
        _Document(stream, report).build(story)
    return stream.getvalue()


@contextmanager
def _binary_streams() -> Iterator[None]:
    """Let the library write pictures as they are: as letters (its default) they take a quarter more room and most of the time."""
    before = rl_config.useA85
    rl_config.useA85 = 0
    try:
        yield
    finally:
        rl_config.useA85 = before


def _section(section: Section) -> list[Flowable]:
    heading = _words(section.title, HEADINGS[section.level])
    first, *others = section.blocks or (None,)
    if isinstance(first, Shown):
        # The library does not carry "keep with next" into a group, so the heading joins the group.
        parts: list[Flowable] = [KeepTogether([heading, *_shown(first)])]
    else:
        parts = [heading, *(_block(first) if first is not None else ())]
    for block in others:
        parts += _block(block)
    return parts


def _block(block: Block) -> list[Flowable]:
    if isinstance(block, Words):
        return [_words(block.text, CAUTION if block.is_caution else BODY)]
    if isinstance(block, Listing):
        return [Paragraph(f"<bullet>•</bullet>{escape(item)}", _ITEM) for item in block.items]
    if isinstance(block, Grid):
        return [_words(block.caption, TABLE_CAPTION), _table(block), Spacer(0, 6)]
    if isinstance(block, Shown):
        return [KeepTogether(_shown(block))]
    raise TypeError(block)


_ITEM = _style("item", 9, leftIndent=11, bulletIndent=2, spaceAfter=2)


def _shown(block: Shown) -> list[Flowable]:
    """The figure, its caption, and what it shows in words, which this PDF cannot carry as hidden text."""
    figure = block.figure
    return [_Drawn(figure.drawing), _words(f"{figure.caption} {figure.alt}", CAPTION)]


def _words(text: str, style: ParagraphStyle) -> Paragraph:
    return Paragraph(escape(text).replace("\n", "<br/>"), style)


def _table(block: Grid, *, has_head: bool = True) -> LongTable:
    shares = block.widths or (1.0 / max(len(block.head), 1),) * len(block.head)
    rows = [[_words(text, CELL) for text in row] for row in block.rows]
    if has_head:
        rows.insert(0, [_words(text, HEAD_CELL) for text in block.head])
    lines = [
        ("LINEBELOW", (0, 0), (-1, -1), 0.3, RULE),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
        ("LEFTPADDING", (0, 0), (-1, -1), 2),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
    ]
    if has_head:
        lines.append(("LINEBELOW", (0, 0), (-1, 0), 0.9, INK))
    return LongTable(
        rows, [share * WIDTH for share in shares], style=lines, repeatRows=1 if has_head else 0, hAlign="LEFT"
    )
