"""Reports: the same bytes each time, true scale, everything escaped, what is restricted left out and said so."""

import re

import numpy as np
import pypdfium2 as pdfium
import pytest
from reportlab.graphics.shapes import Image, Rect
from reportlab.lib.units import mm

from motifs.errors import InputError, UnknownName
from motifs.workflows import drawings
from motifs.workflows.pictures import sherd_pictures
from motifs.workflows.plates import Piece, plates
from motifs.workflows.report import write_report
from motifs.workflows.report_html import report_html
from motifs.workflows.report_parts import Listing, Report, Section, Words, grid
from motifs.workflows.report_pdf import report_pdf
from motifs.workflows.vectors import comparanda_encoder, vector_key
from tests.workflows.conftest import LOT, OTHER


@pytest.fixture
def ready(cat):
    """Vectors are there, so that nothing is encoded; a few tags and a judged vessel."""
    spec = comparanda_encoder()
    rng = np.random.default_rng(5)
    numbers = [sherd.number for lot in (LOT, OTHER) for sherd in cat.sherds(lot)]
    rows = rng.normal(size=(len(numbers), spec.dim)).astype(np.float32)
    rows /= np.linalg.norm(rows, axis=1, keepdims=True)
    with cat.transaction(by="M. Oduya"):
        cat.save_vectors(vector_key(spec), dict(zip(numbers, rows, strict=True)))
        for number in numbers[:3]:
            cat.add_tag(number, "<scroll> & comb", "motif")
            cat.attribute(number, "A")
        cat.add_tag(numbers[0], "worn", "condition")
    return cat


def test_a_lot_is_written_up_the_same_twice(ready, tmp_path):
    first = write_report(ready, tmp_path / "a", lot=LOT, by="test")
    second = write_report(ready, tmp_path / "b", lot=LOT, by="test")
    assert first.pdf.read_bytes() == second.pdf.read_bytes()
    assert first.html.read_bytes() == second.html.read_bytes()
    html = first.html.read_text(encoding="utf-8")
    for title in ("What came in", "Method", "Vessels", "Motifs", "Comparanda", "Joins and layout", "Restricted material",
                  "Treatment and cautions", "Uncertainties", "Availability of the data"):  # fmt: skip
        assert f">{title}</h2>" in html
    assert "&lt;scroll&gt; &amp; comb" in html
    assert "<scroll>" not in html
    assert comparanda_encoder().tag in html
    assert "worn" in html
    assert "<script" not in html
    assert all(sherd.number in html for sherd in ready.sherds(LOT))


def test_every_figure_says_what_it_shows(ready, tmp_path):
    html = write_report(ready, tmp_path, lot=LOT, by="test").html.read_text(encoding="utf-8")
    figures = re.findall(r"<figure>(.*?)</figure>", html, flags=re.S)
    assert figures
    assert all('role="img"' in figure and re.search(r'aria-label="[^"]{10,}"', figure) for figure in figures)


def test_the_pdf_carries_its_letters_and_no_time_of_today(ready, tmp_path):
    pdf = write_report(ready, tmp_path, lot=LOT, by="test").pdf.read_bytes()
    assert pdf.startswith(b"%PDF")
    # ISO 32000-1, 9.9: a TrueType font program that is embedded is a FontFile2 stream. The base fonts that the library names
    # by itself are not used on any page.
    assert pdf.count(b"/FontFile2") >= 2
    assert b"D:20000101000000" in pdf


def test_a_site_is_set_beside_the_others(ready, tmp_path):
    made = write_report(ready, tmp_path, site="Kestrel Ford", by="test")
    html = made.html.read_text(encoding="utf-8")
    assert made.pages_of == (LOT,)
    assert "The site beside the others" in html
    assert "Counted: vessels (minimum number)" in html


@pytest.mark.parametrize(("reduction", "printed_mm"), [(1.0, 50.0), (2.0, 25.0), (3.0, 16.67), (4.0, 12.5)])
def test_the_bar_is_true_to_scale(tmp_path, reduction, printed_mm):
    """A bar of 50 mm printed at 1 : 3 is 16.67 mm long (arithmetic)."""
    file = tmp_path / "a.jpg"
    drawings.new_drawing(1, 1)
    figure = plates([Piece("B-1", file, 60.0, 40.0, True)], "Lot B", reduction=reduction)[0]
    blocks = [shape for shape in figure.drawing.contents if isinstance(shape, Rect)]
    assert sum(block.width for block in blocks) / mm == pytest.approx(printed_mm, abs=0.005)
    shown = next(shape for shape in figure.drawing.contents if isinstance(shape, Image))
    assert (shown.width / mm, shown.height / mm) == pytest.approx((60 / reduction, 40 / reduction))


def test_plates_keep_every_piece_on_the_page_and_tell_those_without_scale(tmp_path):
    rng = np.random.default_rng(2)
    sizes = rng.uniform(10, 120, (80, 2))
    pieces = [Piece(f"B-{k}", tmp_path / "a.jpg", *size, bool(k % 9)) for k, size in enumerate(sizes)]
    figures = plates(pieces, "Lot B", reduction=2)
    images = [shape for figure in figures for shape in figure.drawing.contents if isinstance(shape, Image)]
    assert len(images) == 80
    for figure in figures:
        for shape in figure.drawing.contents:
            if isinstance(shape, Image):
                assert shape.x >= 0
                assert shape.x + shape.width <= figure.drawing.width + 1e-6
                assert shape.y >= 0
                assert shape.y + shape.height <= figure.drawing.height + 1e-6
        has_bar = any(isinstance(shape, Rect) for shape in figure.drawing.contents)
        assert has_bar is ("without a scale" not in figure.caption)
    assert plates([], "Lot B", reduction=2) == ()


def test_hostile_text_passes_through_both_writers():
    hostile = '</svg><script>alert("1")</script> & \x00 <para> 5*3*2 $x$ ñ Ж'
    section = Section(hostile, (Words(hostile), Listing((hostile,)), grid((hostile,), [(hostile,)], hostile)))
    report = Report(hostile, hostile, ((hostile, hostile),), "2020-01-01", (section,))
    assert "<script" not in report_html(report)
    assert report_pdf(report).startswith(b"%PDF")


def test_an_empty_lot_is_written_up_too(cat, tmp_path):
    with cat.transaction(by="test"):
        cat.ensure_lot("empty", site="Marl Hill")
    made = write_report(cat, tmp_path, lot="empty", by="test")
    assert made.sherds == 0
    assert "0 sherds on 0 photographs" in made.html.read_text(encoding="utf-8")


def test_restricted_sherds_are_left_out_and_said_so(ready, tmp_path):
    hidden = ready.sherds(LOT)[0].number
    with ready.transaction(by="test"):
        ready.restrict("sherd", hidden, "burial")
    html = write_report(ready, tmp_path, lot=LOT, by="test").html.read_text(encoding="utf-8")
    assert "1 sherd(s) are restricted and left out" in html
    assert hidden not in html


def test_bad_input_is_refused_and_writes_nothing(cat, tmp_path):
    with pytest.raises(InputError, match="one lot or one site"):
        write_report(cat, tmp_path / "out", by="test")
    with pytest.raises(UnknownName):
        write_report(cat, tmp_path / "out", lot="nowhere", by="test")
    with pytest.raises(UnknownName, match="no site 'Nowhere'"):
        write_report(cat, tmp_path / "out", site="Nowhere", by="test")
    with pytest.raises(InputError, match="1 : 0"):
        write_report(cat, tmp_path / "out", lot=LOT, reduction=0, by="test")
    assert not (tmp_path / "out").exists()


def test_pdfium_finds_every_sherd_at_half_its_size(ready, tmp_path):
    """An outside reader of PDF (pdfium) sees the pictures at 1 : 2 and the catalogue numbers as text."""
    made = write_report(ready, tmp_path, lot=OTHER, by="test")
    document = pdfium.PdfDocument(made.pdf)
    pages = [document[k] for k in range(len(document))]
    text = "\n".join(page.get_textpage().get_text_range() for page in pages)
    sherds = ready.sherds(OTHER)
    assert all(sherd.number in text for sherd in sherds)
    printed = set()
    for page in pages:
        for found in page.get_objects(filter=[pdfium.raw.FPDF_PAGEOBJ_IMAGE]):
            left, bottom, right, top = found.get_bounds()
            printed.add((round((right - left) / mm, 1), round((top - bottom) / mm, 1)))
    for _, shown in sherd_pictures(ready, sherds, px_per_mm=5.0):
        assert any(np.allclose(size, (shown.width_mm / 2, shown.height_mm / 2), atol=0.1) for size in printed)
