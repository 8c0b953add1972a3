"""Journey: a vessel laid out dry, a join judged, a sherd laid by hand, the order of assembly read, the plan saved."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pypdfium2
import pytest
from playwright.sync_api import expect

from tests.browser.lab import choose, eventually, go, press, said, settle, type_name
from tests.browser.shared_collection import LOTS

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from motifs.catalogue import Catalogue
    from tests.browser.lab import Steps

pytestmark = pytest.mark.browser

LOT, BY = LOTS.whole, "M. Oduya"


def open_tab(tab: Page, name: str) -> None:
    tab.get_by_role("tab", name=name, exact=True).click()
    settle(tab)


def opened(tab: Page, address: str, vessel: str = "1") -> None:
    go(tab, f"{address}/layout?lot={LOT}&vessel={vessel}")
    type_name(tab, BY)
    tab.locator(".layout g.sherd").first.wait_for()


def test_a_join_is_judged_and_the_layout_follows(tab: Page, address: str, cat: Catalogue, step: Steps) -> None:
    opened(tab, address)
    step("laid out")
    open_tab(tab, "Joins")
    words = tab.get_by_role("combobox", name="Join").first.input_value()
    a, b = [number for number in (sherd.number for sherd in cat.sherds(LOT)) if number in words][:2]
    press(tab, "They fit")
    said(tab, "accepted")
    row = next(row for row in cat.join_words(LOT) if {row.a, row.b} == {a, b})
    assert (row.answer, row.by) == ("accepted", BY)
    expect(tab.get_by_text(re.compile(r"^[2-9]\d* of \d+ sherds lie by their joins"))).to_be_visible()
    step("join accepted")
    press(tab, "Undo")
    said(tab, "Taken back")
    assert eventually(lambda: cat.join_words(LOT) == ())


def test_a_sherd_is_laid_by_hand_by_keys_and_by_numbers(tab: Page, address: str, cat: Catalogue, step: Steps) -> None:
    opened(tab, address)
    sherd = tab.locator(".layout g.sherd").first
    number = str(sherd.get_attribute("data-sherd"))
    sherd.scroll_into_view_if_needed()
    box = sherd.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    tab.mouse.move(x, y)
    tab.mouse.down()
    tab.mouse.move(x + 60, y + 30, steps=6)
    tab.mouse.up()
    said(tab, f"{number} is laid at")
    laid = cat.placements(LOT)[number]
    assert (laid.is_locked, laid.by) == (True, BY)
    step("laid by hand")

    choose(tab, "Sherd", number)
    tab.get_by_role("spinbutton", name="turn, °").fill("30")
    press(tab, "Lay it here and lock")
    said(tab, f"{number} is laid at {laid.x_mm:.1f}, {laid.y_mm:.1f} mm")
    assert cat.placements(LOT)[number].turn_deg == pytest.approx(30)
    again = tab.locator(f'.layout g.sherd[data-sherd="{number}"]')
    expect(again).to_have_class(re.compile(r"\blocked chosen\b"))
    again.press("l")
    said(tab, f"{number} is left to its joins again")
    assert eventually(lambda: number not in cat.placements(LOT))


def test_the_order_is_read_and_the_plan_is_saved(tab: Page, address: str, step: Steps) -> None:
    opened(tab, address)
    open_tab(tab, "Joins")
    press(tab, "They fit")
    said(tab, "accepted")
    open_tab(tab, "Order")
    rows = tab.locator(".m-table tbody tr:visible")
    steps = [row.split("\t") for row in rows.all_inner_texts()]
    assert len(steps) >= 2
    added = [cells[1] for cells in steps]
    # No piece is added twice, and none onto what is not there yet.
    assert len(set(added)) == len(added)
    for place, cells in enumerate(steps):
        onto = [name for name in added if name in cells[2].split(", ")]
        assert all(name in added[:place] for name in onto)
    step("order")
    open_tab(tab, "Print")
    press(tab, "Make the file")
    with tab.expect_download() as fetched:
        tab.get_by_role("button", name="Save the file").click()
    pdf = pypdfium2.PdfDocument(fetched.value.path())
    text = "".join(pdf[page].get_textpage().get_text_range() for page in range(len(pdf)))
    assert [name for name in added if name not in text] == []
    step("plan")


def test_what_was_decided_is_kept_with_the_cautions_above(tab: Page, address: str, cat: Catalogue, step: Steps) -> None:
    opened(tab, address)
    open_tab(tab, "Record")
    expect(tab.get_by_role("tabpanel").get_by_text("Ask a conservator; local rules").first).to_be_visible()
    choose(tab, "Kind of entry", "decision")
    choose(tab, "Answer", "leave apart")
    press(tab, "Keep this entry")
    said(tab, "Kept: decision of vessel 1")
    latest = cat.treatments(LOT, "1")[-1]
    assert (latest.kind, latest.fields["answer"], latest.by) == ("decision", "leave apart", BY)
    step("decision")
