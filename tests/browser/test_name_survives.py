"""The typed name survives a reload and a link that opens the page anew; another tab asks for it; taken away, it stays away."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.lab import go, settle, type_name

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator, Page

pytestmark = pytest.mark.browser

NAME = "M. Oduya"


def field(page: Page) -> Locator:
    return page.get_by_role("textbox", name="Your name, for the record")


def test_a_name_survives_a_reload_of_its_tab_alone(browser: Browser, address: str) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    go(page, address)
    type_name(page, NAME)
    page.reload()
    settle(page)
    expect(field(page)).to_have_value(NAME)
    go(page, f"{address}/sorting_table")
    expect(field(page)).to_have_value(NAME)
    other = context.new_page()
    go(other, address)
    expect(field(other)).to_have_value("")
    type_name(page, "")
    page.reload()
    settle(page)
    page.wait_for_timeout(500)
    expect(field(page)).to_have_value("")
    context.close()
