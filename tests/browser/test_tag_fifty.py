"""Journey: fifty sherds of three lots tagged on the contact sheet, by mouse and by keys; one page of them taken back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.lab import choose, go, press, said, settle, type_name

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from motifs.catalogue import Catalogue
    from tests.browser.lab import Steps

pytestmark = pytest.mark.browser

BY, TERM, MANY = "M. Oduya", "painted", 50


def bearing(cat: Catalogue, kind: str, term: str) -> set[str]:
    """Numbers of the sherds that carry a term, as the rows have it."""
    tags = cat.tags_of([sherd.number for sherd in cat.sherds()])
    return {number for number, found in tags.items() if any((tag.kind, tag.term) == (kind, term) for tag in found)}


def test_fifty_sherds_are_tagged_and_some_are_left_out_by_a_click(
    tab: Page, address: str, cat: Catalogue, step: Steps
) -> None:
    numbers = [sherd.number for sherd in cat.sherds()]
    assert len(numbers) >= MANY
    before = bearing(cat, "technique", TERM)
    go(tab, f"{address}/tagging")
    type_name(tab, BY)
    tab.locator(".tile").nth(MANY).wait_for()
    press(tab, "Choose the page")
    expect(tab.locator(".tile.dashed")).to_have_count(min(60, len(numbers)))
    # A click takes a sherd out again: what is over fifty.
    for _ in range(min(60, len(numbers)) - MANY):
        chosen = tab.locator(".tile.dashed")
        left = chosen.count()
        chosen.last.click()
        expect(tab.locator(".tile.dashed")).to_have_count(left - 1)
    wanted = set(tab.locator(".tile.dashed").evaluate_all("found => found.map(t => t.dataset.sherd)"))
    expect(tab.get_by_text(f"{MANY} sherds chosen", exact=True)).to_be_visible()
    choose(tab, "Kind of tag", "technique")
    choose(tab, "Term", TERM)
    step("chosen")
    press(tab, "Put on")
    said(tab, f"technique '{TERM}' put on {MANY} sherds")
    assert bearing(cat, "technique", TERM) - before == wanted
    assert {tag.by for number in wanted for tag in cat.tags(number) if tag.term == TERM} == {BY}
    first = tab.locator(f'.tile[data-sherd="{sorted(wanted)[0]}"]')
    expect(first).to_contain_text(f"technique: {TERM}")
    step("tagged")


def test_keys_alone_choose_tag_and_take_back(tab: Page, address: str, cat: Catalogue, step: Steps) -> None:
    lot = "CR-1"
    numbers = {sherd.number for sherd in cat.sherds(lot)}
    before = cat.tags_of(numbers)
    go(tab, f"{address}/tagging?lot={lot}")
    type_name(tab, BY)
    tab.locator(".tile").first.wait_for()
    tab.locator("body").press("Alt+a")
    expect(tab.locator(".tile.dashed")).to_have_count(len(numbers))
    settle(tab)
    first = tab.locator("ol.m-plain li").first.inner_text()
    step("the page by keys")
    tab.locator("body").press("Alt+1")
    said(tab, f"motif '{first}' put on")
    assert numbers <= bearing(cat, "motif", first)
    press(tab, "Undo in this lot")
    said(tab, "taken back")
    assert cat.tags_of(numbers) == before
