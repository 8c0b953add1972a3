"""Journey: two people at one lot in two windows. Neither edit is lost, and the second is told where the two meet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.lab import choose, eventually, go, press, said, settle, type_name
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


def test_an_undo_does_not_take_back_what_the_other_did_meanwhile(
    tab: Page, beside: Page, address: str, cat: Catalogue, step: Steps
) -> None:
    one, other = (sherd.number for sherd in cat.sherds(LOT)[2:4])
    open_table(beside, address, SECOND, other)
    move(beside, "Unassigned")
    said(beside, f"{other} → Unassigned")
    open_table(tab, address, FIRST, one)
    move(tab, "Unassigned")
    said(tab, f"{one} → Unassigned")
    # The second presses Undo for her own move; the latest change of the lot is now another's.
    press(beside, "Undo")
    said(beside, f"{FIRST} changed lot {LOT} in another window since this one was drawn")
    step("told", of=beside)
    assert {cat.attributions(LOT)[number].by for number in (one, other)} == {FIRST, SECOND}
    # She has seen it now: the same press again is meant.
    press(beside, "Undo")
    said(beside, "Taken back")
    assert one not in cat.attributions(LOT)
    assert cat.attributions(LOT)[other].by == SECOND


def test_the_second_is_told_where_the_first_has_locked(
    tab: Page, beside: Page, address: str, cat: Catalogue, step: Steps
) -> None:
    sherd = next(s.number for s in cat.sherds(LOT)[4:])
    open_table(tab, address, FIRST, sherd)
    open_table(beside, address, SECOND, sherd)
    row = str(tab.locator(f'section[data-row]:has(.tile[data-sherd="{sherd}"])').get_attribute("data-row"))
    goal = "1" if row != "vessel:1" else "2"
    tab.locator(f'section[data-row="vessel:{goal}"] header').get_by_role("button", name="Lock", exact=True).click()
    said(tab, f"Vessel {goal} locked")
    # Her window still offers the vessel; the record does not take the sherd, and says whose word stands.
    move(beside, f"Vessel {goal}")
    said(beside, f"vessel '{goal}' is locked and takes no sherd")
    step("locked meanwhile", of=beside)
    assert sherd not in cat.attributions(LOT)
    press(tab, "Undo")
    said(tab, "Taken back")


def test_two_words_on_one_sherd_the_second_stands_and_is_told_of_the_first(
    tab: Page, beside: Page, address: str, cat: Catalogue, step: Steps
) -> None:
    sherd = cat.sherds(LOT)[6].number
    open_table(tab, address, FIRST, sherd)
    open_table(beside, address, SECOND, sherd)
    move(tab, "Unassigned")
    said(tab, f"{sherd} → Unassigned")
    # By a key on the tile, which sends the word without drawing the page anew before: it still shows what was there.
    beside.locator(f'.tile[data-sherd="{sherd}"]').focus()
    beside.keyboard.press("n")
    said(beside, f"{sherd} (attributed by {FIRST}). Your word came second")
    step("second word", of=beside)
    assert cat.attributions(LOT)[sherd].by == SECOND
    assert {event.by for event in cat.history(LOT) if event.subject == sherd and event.verb == "attributed"} == {
        FIRST,
        SECOND,
    }
    press(beside, "Undo")
    said(beside, "Taken back")
    assert eventually(lambda: cat.attributions(LOT)[sherd].by == FIRST)
    assert cat.attributions(LOT)[sherd].vessel is None
