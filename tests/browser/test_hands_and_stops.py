"""Two fingers on the layout; long work stopped in the middle: what is seen, and that the catalogue is as it was."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.lab import go, press, said, type_name
from tests.browser.shared_collection import LOTS

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page

    from motifs.catalogue import Catalogue

pytestmark = pytest.mark.browser

LOT, BY = LOTS.whole, "M. Oduya"


def window(tab: Page) -> list[float]:
    """The part of the layout that is shown: x, y, width, height in mm."""
    shown = tab.locator(".layout svg").first.get_attribute("viewBox")
    return [float(value) for value in str(shown).split()]


def test_two_fingers_bring_the_layout_nearer_and_move_no_sherd(tab: Page, address: str, cat: Catalogue) -> None:
    go(tab, f"{address}/layout?lot={LOT}&vessel=1")
    type_name(tab, BY)
    sherd = tab.locator(".layout g.sherd").first
    sherd.wait_for()
    sherd.scroll_into_view_if_needed()
    box, before, version = sherd.bounding_box(), window(tab), cat.version(LOT)
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    hand = tab.context.new_cdp_session(tab)

    def touch(kind: str, *gaps_px: float) -> None:
        points = [{"x": x + gap, "y": y, "id": place} for place, gap in enumerate(gaps_px)]
        hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    touch("touchStart", 0.0)
    touch("touchStart", 0.0, 60.0)
    for gap in (75.0, 90.0, 105.0, 120.0):
        touch("touchMove", 0.0, gap)
    touch("touchEnd")
    after = window(tab)
    assert after[2] == pytest.approx(before[2] / 2, rel=0.05)
    assert after[2] / after[3] == pytest.approx(before[2] / before[3], rel=1e-6)
    tab.wait_for_timeout(500)
    assert cat.version(LOT) == version
    tab.get_by_role("button", name="All of it", exact=True).click()
    assert window(tab) == pytest.approx(before)


def test_a_report_that_is_stopped_is_not_there_and_a_whole_one_can_be_saved(
    tab: Page, address: str, cat: Catalogue, collection: Path
) -> None:
    go(tab, f"{address}/report?lot={LOT}")
    type_name(tab, BY)
    before = cat.version()
    press_only(tab, "Make the report")
    tab.get_by_role("button", name="Stop", exact=True).click()
    said(tab, "Stopped. The catalogue is as it was")
    assert cat.version() == before
    assert not list((collection / "exports").rglob("report*"))
    press(tab, "Make the report")
    said(tab, "is made and kept")
    with tab.expect_download() as saved:
        tab.get_by_role("button", name="Save the PDF").click()
    assert saved.value.path().read_bytes().startswith(b"%PDF")
    tab.reload()
    expect(tab.get_by_text("Up to date.")).to_be_visible(timeout=30_000)


def test_a_sort_that_is_stopped_proposes_nothing(tab: Page, address: str, cat: Catalogue) -> None:
    go(tab, f"{address}/sorting_table?lot={LOTS.second}")
    type_name(tab, BY)
    assert not cat.has_proposal(LOTS.second, "vessels")
    press_only(tab, "Sort")
    tab.get_by_role("button", name="Stop", exact=True).click()
    expect(tab.locator(".m-notice", has_text=re.compile("Stopped. The catalogue is as it was"))).to_be_visible()
    assert not cat.has_proposal(LOTS.second, "vessels")


def press_only(tab: Page, label: str) -> None:
    """Press without waiting for the page to come to rest."""
    tab.get_by_role("button", name=label, exact=True).first.click()
