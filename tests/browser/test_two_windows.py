"""Journey: two people at one lot in two windows. Neither edit is lost, and the second is told where the two meet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.lab import choose, go, press, said, settle, type_name
from tests.browser.shared_collection import LOTS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page

    from motifs.catalogue import Catalogue
    from tests.browser.lab import Steps

pytestmark = pytest.mark.browser

LOT, FIRST, SECOND = LOTS.whole, "M. Oduya", "R. Vance"


@pytest.fixture
def beside(browser: Browser) -> Iterator[Page]:
    """The window of somebody else: nothing shared with the first but the server."""
    page = browser.new_context(viewport={"width": 1440, "height": 900}).new_page()
    yield page
    page.context.close()


def open_table(window: Page, address: str, who: str, sherd: str) -> None:
    go(window, f"{address}/sorting_table?lot={LOT}&sherd={sherd}")
    type_name(window, who)
    window.locator(".tile").first.wait_for()


def move(window: Page, place: str) -> None:
    choose(window, "Move to", place)
    press(window, "Move")


def test_each_moves_another_sherd_and_both_stand(
    tab: Page, beside: Page, address: str, cat: Catalogue, step: Steps
) -> None:
    one, other = (sherd.number for sherd in cat.sherds(LOT)[:2])
    open_table(tab, address, FIRST, one)
    open_table(beside, address, SECOND, other)
    move(tab, "Unassigned")
    said(tab, f"{one} → Unassigned")
    move(beside, "Unassigned")
    said(beside, f"{other} → Unassigned")
    assert {number: row.by for number, row in cat.attributions(LOT).items()} == {one: FIRST, other: SECOND}
    # The second sees at once what the first did.
    expect(beside.locator(f'section[data-row="unassigned"] .tile[data-sherd="{one}"]')).to_be_visible()
    step("second window", of=beside)
    tab.reload()
    settle(tab)
    expect(tab.locator(f'section[data-row="unassigned"] .tile[data-sherd="{other}"]')).to_be_visible()
    step("first window")
