"""Journey: on a demo photograph an outline is redrawn around a sherd, looked over, split and put together again, and taken back."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from playwright.sync_api import expect

from motifs.imaging import outline_measures
from tests.browser.board import Board
from tests.browser.lab import eventually, go, press, said, type_name
from tests.browser.shared_collection import LOTS

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from motifs.catalogue import Catalogue
    from tests.browser.lab import Steps

pytestmark = pytest.mark.browser

LOT, BY = LOTS.second, "M. Oduya"


def area_mm2(cat: Catalogue, number: str) -> float:
    area = cat.sherd(number).area_mm2
    assert area is not None
    return area


def test_an_outline_is_redrawn_measured_anew_and_taken_back(
    tab: Page, address: str, cat: Catalogue, step: Steps
) -> None:
    number = cat.sherds(LOT)[2].number
    before, area_before = cat.sherd(number).outline_px, area_mm2(cat, number)
    go(tab, f"{address}/photographs?lot={LOT}")
    tab.locator("g.sherd").first.wait_for()
    type_name(tab, BY)
    board = Board(tab, cat)
    # What lies below the fold of the window cannot be clicked: the board is brought into sight first.
    board.svg.evaluate("svg => svg.scrollIntoView({block: 'end'})")
    board.choose(number)
    board.tool("redraw")
    turn = np.linspace(0, 2 * np.pi, 40)
    radius = 0.35 * float(np.ptp(before, axis=0).min())
    board.drag(board.middle(number) + radius * np.column_stack([np.cos(turn), np.sin(turn)]))
    step("drawn")
    board.accept(f"{number} is redrawn")
    step("accepted")
    changed = cat.sherd(number)
    assert changed.outline_by == BY
    # The area of a circle; a polygon of 40 corners holds sin(2 pi / 40) / (2 pi / 40), 0.4 % less.
    assert outline_measures(changed.outline_px, None).area_px == pytest.approx(math.pi * radius**2, rel=0.02)
    scale = cat.photo(changed.photo_id).scale
    assert scale is not None
    assert area_mm2(cat, number) == pytest.approx(math.pi * (radius / scale.px_per_mm) ** 2, rel=0.03)
    expect(tab.locator(f'g.sherd.hand[data-sherd="{number}"]')).to_have_count(1)
    press(tab, "Undo")
    said(tab, "Taken back: outline replaced")
    assert eventually(lambda: cat.sherd(number).outline_px.tolist() == before.tolist())
    assert area_mm2(cat, number) == pytest.approx(area_before)
