"""Printed sheets, read back with another library's PDF reader: every number once, crops at the stated size, same bytes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pypdfium2
import pypdfium2.raw
import pytest

from motifs.errors import UnknownName
from motifs.workflows.moves import accept_vessel, lock_vessel
from motifs.workflows.pictures import small_pictures
from motifs.workflows.sorting_sheets import SORTING_SCALE, question_sheet_pdf, sorting_sheet_pdf
from motifs.workflows.tell import tell_pairs
from tests.workflows.conftest import LOT
from tests.workflows.test_table import BY, NUMBERS, A, B, C, D, propose

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

MM_A_POINT = 25.4 / 72
PIXEL_MM = 0.25 / 2 + 0.01
"""Half a pixel of the small pictures, to which their size is rounded."""


def text_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    text = " ".join(page.get_textpage().get_text_range() for page in document)
    document.close()
    return " ".join(text.split())


def picture_widths_mm(pdf: bytes) -> list[float]:
    document = pypdfium2.PdfDocument(pdf)
    widths = []
    for page in document:
        for item in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_IMAGE]):
            left, _, right, _ = item.get_bounds()
            widths.append((right - left) * MM_A_POINT)
    document.close()
    return widths


def test_the_sorting_sheet_names_every_sherd_once_with_vessel_and_support(cat: Catalogue) -> None:
    propose(cat, [0, 1, 0, 1, 0, 1, 0, None])
    accept_vessel(cat, LOT, "2", by=BY)
    lock_vessel(cat, LOT, "1", by=BY)
    pdf = sorting_sheet_pdf(cat, LOT)
    text = text_of(pdf)
    assert [text.count(number) for number in NUMBERS] == [1] * len(NUMBERS)
    assert f"Vessel 1: 4; locked by {BY}" in text
    assert f"Vessel 2: 3; accepted by {BY}, 20" in text
    assert "Unassigned: 1" in text
    assert text.count("✓") == 3
    assert pdf == sorting_sheet_pdf(cat, LOT)


def test_crops_are_printed_at_half_size(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    true_mm = sorted(picture.width_mm for _, picture in small_pictures(cat, cat.sherds(LOT)))
    printed_mm = sorted(picture_widths_mm(sorting_sheet_pdf(cat, LOT)))
    assert printed_mm == pytest.approx([width * SORTING_SCALE for width in true_mm], abs=PIXEL_MM * SORTING_SCALE)


def test_questions_are_printed_at_true_size_with_three_answers(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    pdf = question_sheet_pdf(cat, LOT)
    text = text_of(pdf)
    assert f"1. Are {A} and {C} of one vessel?" in text
    assert f"2. Are {B} and {D} of one vessel?" in text
    assert text.count("can't tell") == 2
    pictures = {sherd.number: picture for sherd, picture in small_pictures(cat, cat.sherds(LOT))}
    asked = sorted(pictures[number].width_mm for number in (A, B, C, D))
    assert sorted(picture_widths_mm(pdf)) == pytest.approx(asked, abs=PIXEL_MM)
    tell_pairs(cat, LOT, cannot_tell=[(A, C), (B, D)], by=BY)
    assert "No question is open." in text_of(question_sheet_pdf(cat, LOT))


def test_sheets_of_a_lot_that_was_never_sorted(cat: Catalogue) -> None:
    assert "8 sherds, not sorted yet." in text_of(sorting_sheet_pdf(cat, LOT))
    assert "not sorted yet" in text_of(question_sheet_pdf(cat, LOT))
    for make in (sorting_sheet_pdf, question_sheet_pdf):
        with pytest.raises(UnknownName):
            make(cat, "never")
