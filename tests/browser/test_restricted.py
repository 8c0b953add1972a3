"""Journey: a sherd is restricted on the page, and then it is nowhere: no page, list, picture, count, neighbour, link or search."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.lab import choose, go, pages, press, said, settle, type_name, unfold, view
from tests.browser.shared_collection import LOTS

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

    from motifs.catalogue import Catalogue
    from tests.browser.lab import Steps

pytestmark = pytest.mark.browser

BY = "M. Oduya"
EVERYTHING = """() => {
  const found = [];
  const walk = (node) => {
    if (node.nodeType === Node.TEXT_NODE) found.push(node.textContent);
    if (node.nodeType === Node.ELEMENT_NODE) {
      for (const attribute of node.attributes) found.push(attribute.value);
      if (node.shadowRoot) walk(node.shadowRoot);
      if ('value' in node) found.push(String(node.value));
    }
    for (const child of node.childNodes) walk(child);
  };
  walk(document.documentElement);
  return found.join('\\n');
}"""
"""Every text, attribute and value of the page, those of its drawn parts too: what is hidden from the eye only is not hidden."""


@pytest.fixture(scope="module")
def hidden(browser: Browser, address: str) -> tuple[str, str]:
    """A sherd of the list of comparanda, and one of the sorted lot with a place in the layout: restricted through the page."""
    tab = browser.new_page(viewport={"width": 1440, "height": 900})
    go(tab, f"{address}/records")
    type_name(tab, BY)
    view(tab, "Restricted")
    numbers = (f"{LOTS.third}-001", f"{LOTS.whole}-029")
    for number in numbers:
        unfold(tab, "Restrict something")
        choose(tab, "What", "sherd")
        tab.get_by_role("textbox", name="Its name or number").fill(number)
        tab.keyboard.press("Tab")
        press(tab, "Do not show it")
        said(tab, f"sherd {number} is not shown any more")
    tab.close()
    return numbers


def everything(tab: Page) -> str:
    settle(tab)
    return str(tab.evaluate(EVERYTHING))


def test_it_is_on_record_with_name_and_ground(
    hidden: tuple[str, str], tab: Page, address: str, cat: Catalogue, step: Steps
) -> None:
    with cat.seeing_all() as all_of_it:
        rows = {(row.kind, row.name, row.by) for row in all_of_it.restrictions()}
    assert rows == {("sherd", number, BY) for number in hidden}
    assert cat.withheld() == 2
    go(tab, f"{address}/records")
    view(tab, "Restricted")
    expect(tab.get_by_text("2 sherds not shown")).to_be_visible()
    step("restricted")


@pytest.mark.parametrize("title", pages())
def test_no_page_has_it_by_itself_or_by_a_link(
    title: str, hidden: tuple[str, str], tab: Page, address: str, step: Steps
) -> None:
    where = pages()[title]
    go(tab, f"{address}/{where}")
    assert not [number for number in hidden if number in everything(tab)]
    # A link that somebody kept: the address is hers, the page must not answer it.
    for number in hidden:
        go(tab, f"{address}/{where}?lot={number.rpartition('-')[0]}&vessel=1&sherd={number}")
        step(f"{where or 'lots'} {number}")
        assert number not in tab.inner_text("body")
        assert number not in everything(tab)


def test_lists_views_and_files_leave_it_out(hidden: tuple[str, str], tab: Page, address: str, step: Steps) -> None:
    go(tab, f"{address}/comparanda?lot={LOTS.whole}")
    expect(tab.get_by_role("heading", name="Lists of comparanda")).to_be_visible()
    assert hidden[0] not in everything(tab)
    for name in ("Questions", "Counts"):
        go(tab, f"{address}/sorting_table?lot={LOTS.whole}")
        tab.get_by_text(name, exact=True).first.click()
        tab.wait_for_timeout(300)
        assert hidden[1] not in everything(tab), name
    go(tab, f"{address}/layout?lot={LOTS.whole}&vessel=1")
    for part in ("Joins", "Order"):
        tab.get_by_role("tab", name=part, exact=True).click()
        assert hidden[1] not in everything(tab), part
    step("layout")


def test_a_search_does_not_find_it_and_a_neighbour_is_another(
    hidden: tuple[str, str], tab: Page, address: str, cat: Catalogue, step: Steps
) -> None:
    go(tab, f"{address}/tagging")
    tab.get_by_label("Search", exact=True).fill(hidden[0])
    tab.keyboard.press("Enter")
    tab.wait_for_timeout(500)
    settle(tab)
    expect(tab.locator(".tile")).to_have_count(0)
    step("search")
    go(tab, f"{address}/comparanda?lot={LOTS.whole}&sherd={LOTS.whole}-001")
    type_name(tab, BY)
    press(tab, "Find comparanda")
    near = tab.locator('section[data-row="near"] .tile')
    near.first.wait_for()
    shown = {str(tile.get_attribute("data-sherd")) for tile in near.all()}
    assert shown
    assert not shown & set(hidden)
    assert not set(hidden) & {sherd.number for sherd in cat.sherds()}


def test_only_who_unlocks_it_with_a_reason_sees_it(
    hidden: tuple[str, str], tab: Page, browser: Browser, address: str, cat: Catalogue, step: Steps
) -> None:
    go(tab, f"{address}/records")
    type_name(tab, BY)
    view(tab, "Restricted")
    tab.get_by_role("textbox", name="Reason, for the record").fill("asked by the council to check the bag")
    tab.keyboard.press("Tab")
    press(tab, "Unlock for me")
    expect(tab.get_by_text(hidden[0]).first).to_be_visible()
    step("unlocked")
    assert any("asked by the council" in str(event) for event in cat.history())
    beside = browser.new_context().new_page()
    go(beside, f"{address}/tagging?lot={LOTS.third}")
    assert hidden[0] not in everything(beside)
    beside.context.close()
