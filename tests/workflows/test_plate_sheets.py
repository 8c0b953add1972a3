"""Plates from the page: true to the reduction they state, one PDF of all, bad wishes refused."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pypdfium2 as pdfium
import pytest

from motifs.errors import InputError, UnknownName
from motifs.workflows.agreeing import MatchedRegions
from motifs.workflows.agreement_pictures import agreement_pictures
from motifs.workflows.pictures import sherd_pictures
from motifs.workflows.plate_sheets import MOST, plate_sheets
from tests.workflows.conftest import LOT

if TYPE_CHECKING:
    from collections.abc import Iterator

    from motifs.catalogue import Catalogue

POINT_MM = 25.4 / 72
A, B = f"{LOT}-001", f"{LOT}-002"


def image_sizes_mm(svg: str) -> Iterator[tuple[float, float]]:
    """Width and height of every picture in a drawing, whose unit is the point (1/72 inch)."""
    for found in re.finditer(r'<image[^>]*?width="([\d.]+)"[^>]*?height="([\d.]+)"', svg):
        yield float(found[1]) * POINT_MM, float(found[2]) * POINT_MM


@pytest.mark.parametrize("reduction", [1, 3])
def test_sherds_are_drawn_at_the_scale_that_is_stated(cat: Catalogue, reduction: int) -> None:
    true = {sherd.number: picture for sherd, picture in sherd_pictures(cat, [cat.sherd(A), cat.sherd(B)])}
    sheets = plate_sheets(cat, [A, B, A], "Rims", reduction=reduction)
    assert len(sheets.plates) == 1
    assert f"1 : {reduction}" in sheets.plates[0].caption
    drawn = list(image_sizes_mm(sheets.plates[0].svg))
    assert len(drawn) == 2  # a number that is named twice is drawn once
    for size_mm, number in zip(drawn, (A, B), strict=True):
        # Within a pixel of the coarsest picture, 0.3 mm of the sherd.
        assert size_mm[0] * reduction == pytest.approx(true[number].width_mm, abs=0.3)
        assert size_mm[1] * reduction == pytest.approx(true[number].height_mm, abs=0.3)


def test_the_print_is_a_page_of_a4_for_each_plate(cat: Catalogue) -> None:
    """ISO 216: A4 is 210 by 297 mm."""
    numbers = [number for lot in cat.lots() for number in cat.sherd_numbers(lot.name)]
    told: list[tuple[str, int, int]] = []
    sheets = plate_sheets(
        cat, numbers, "All", reduction=1, progress=lambda stage, done, total: told.append((stage, done, total))
    )
    with pdfium.PdfDocument(sheets.pdf) as printed:
        assert len(printed) == len(sheets.plates)
        for page in printed:
            assert [side * POINT_MM for side in page.get_size()] == pytest.approx([210, 297], abs=0.1)
            said = page.get_textpage().get_text_range()
            assert all(number in said for number in numbers)
    assert told[-1][1:] == (len(numbers), len(numbers))
    assert sheets == plate_sheets(cat, numbers, "All", reduction=1)


def test_wishes_that_cannot_be_are_refused(cat: Catalogue) -> None:
    with pytest.raises(InputError, match="0 sherds cannot be laid out"):
        plate_sheets(cat, [], "None", reduction=1)
    with pytest.raises(InputError, match="cannot be laid out here"):
        plate_sheets(cat, [f"x{k}" for k in range(MOST + 1)], "Many", reduction=1)
    with pytest.raises(InputError, match="1 : 7"):
        plate_sheets(cat, [A], "One", reduction=7)
    with pytest.raises(UnknownName):
        plate_sheets(cat, ["never"], "One", reduction=1)


def test_two_that_agree_are_shown_as_they_stand(cat: Catalogue) -> None:
    """A quarter turn swaps the sides of the sherd; the margin alone differs."""
    regions = MatchedRegions(A, (), (), 0, 0.0, 0.0, 1.0, is_mirrored=False)
    lying, other = agreement_pictures(cat, cat.sherd(A), cat.sherd(B), regions)
    with cat.transaction(by="test"):
        cat.set_rim_up(A, 90.0)
    standing, same = agreement_pictures(cat, cat.sherd(A), cat.sherd(B), regions)
    assert standing.width_mm == pytest.approx(lying.height_mm, abs=6.5)
    assert standing.height_mm == pytest.approx(lying.width_mm, abs=6.5)
    assert same == other
