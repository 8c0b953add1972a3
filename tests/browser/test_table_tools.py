"""The sorting table's tools in a real browser: find, narrow, order, move by keys, answer by keys; what survives a reload."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from motifs.catalogue import Catalogue
from motifs.workflows.intake import catalogue_photos, read_photos
from tests.browser.lab import ARTEFACTS, eventually, go, said, served, settle, type_name
from tests.ui.conftest import propose
from tests.workflows.tray import save_tray

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

LOT, OTHER, BY = "slip:red 5*3*2", "0012", "M. Oduya"
NUMBERS = [f"{LOT}-{place:03d}" for place in range(1, 9)]


@pytest.fixture(scope="module")
def collection(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two lots: one sorted into two vessels with a question, one not sorted."""
    scratch = tmp_path_factory.mktemp("tools")
    trays = [save_tray(scratch / f"tray_{seed}.jpg", seed) for seed in (1, 2, 3)]
    with Catalogue.open(scratch / "collection", create=True) as cat:
        catalogue_photos(cat, read_photos(trays[:2]), lot=LOT, site="Kestrel Ford", by="setup")
        catalogue_photos(cat, read_photos(trays[2:]), lot=OTHER, by="setup")
        propose(cat, LOT, [0, 1] * 4, asked=(0, 2))
    return scratch / "collection"


@pytest.fixture(scope="module")
def address(collection: Path) -> Iterator[str]:
    ARTEFACTS.mkdir(exist_ok=True)
    with served(collection, ARTEFACTS / "tools_server.log") as at:
        yield at


@pytest.fixture
def cat(collection: Path) -> Iterator[Catalogue]:
    """The rows; what a test said is taken back after it."""
    with Catalogue.open(collection) as opened:
        before = opened.version()
        yield opened
        while any(e.event_id > before and e.is_undoable and not e.is_undone for e in opened.history(LOT)):
            with opened.transaction(by="test"):
                opened.undo(LOT)


def shown(tab: Page) -> list[str]:
    """Numbers of the tiles in sight, row by row."""
    return tab.locator(".tiles li:not([hidden]) > .tile").evaluate_all("found => found.map(t => t.dataset.sherd)")


def test_find_narrow_and_order(tab: Page, address: str, cat: Catalogue) -> None:
    go(tab, f"{address}/sorting_table?lot={LOT}")
    tab.locator("li:not([hidden]) > .tile").first.wait_for()
    assert set(shown(tab)) == set(NUMBERS)
    tab.locator("[data-tool=find]").fill("-003")
    assert shown(tab) == [NUMBERS[2]]
    expect(tab.locator(".sift .told")).to_have_text("1 of 8 shown")
    tab.reload()
    tab.locator("li:not([hidden]) > .tile").first.wait_for()
    settle(tab)
    assert shown(tab) == [NUMBERS[2]]
    tab.get_by_role("button", name="Show all", exact=True).click()
    tab.locator("[data-tool=order]").select_option("number")
    assert shown(tab) == NUMBERS[::2] + NUMBERS[1::2]
    tab.locator("[data-tool=order]").select_option("size")
    area = {sherd.number: sherd.area_mm2 or 0.0 for sherd in cat.sherds(LOT)}
    first = shown(tab)[:4]
    assert max(area[number] for number in first) == area[first[0]]
    with cat.transaction(by=BY):
        cat.attribute(NUMBERS[0], "1")
    go(tab, f"{address}/sorting_table?lot={LOT}")
    tab.locator("[data-tool=show]").select_option("word")
    assert NUMBERS[0] not in shown(tab)
    assert len(shown(tab)) == 7


def test_what_narrows_one_lot_does_not_empty_another(tab: Page, address: str) -> None:
    go(tab, f"{address}/sorting_table?lot={LOT}")
    tab.locator("[data-tool=find]").fill("-003")
    go(tab, f"{address}/sorting_table?lot={OTHER}")
    tab.locator("li:not([hidden]) > .tile").first.wait_for()
    assert len(shown(tab)) == 4


def test_keys_move_and_answer_and_take_back(tab: Page, address: str, cat: Catalogue) -> None:
    go(tab, f"{address}/sorting_table?lot={LOT}")
    type_name(tab, BY)
    tile = tab.locator(f'.tile[data-sherd="{NUMBERS[0]}"]')
    tile.focus()
    tab.keyboard.press("2")
    said(tab, "Vessel 2")
    assert eventually(lambda: cat.attributions(LOT)[NUMBERS[0]].vessel == "2")
    tab.locator(f'.tile[data-sherd="{NUMBERS[1]}"]').focus()
    tab.keyboard.press("x")
    tab.locator(f'.tile[data-sherd="{NUMBERS[3]}"]').focus()
    tab.keyboard.press("x")
    tab.keyboard.press("u")
    assert eventually(
        lambda: {n for n, row in cat.attributions(LOT).items() if row.vessel is None} == {NUMBERS[1], NUMBERS[3]}
    )
    settle(tab)
    tab.locator("h1").click()
    tab.keyboard.press("Alt+z")
    assert eventually(lambda: set(cat.attributions(LOT)) == {NUMBERS[0]})
    settle(tab)
    tab.keyboard.press("Alt+z")
    assert eventually(lambda: not cat.attributions(LOT))
    settle(tab)
    tab.keyboard.press("Alt+d")
    assert eventually(
        lambda: [(link.a, link.b, link.relation) for link in cat.links(LOT)] == [(NUMBERS[0], NUMBERS[2], "different")]
    )


def test_what_is_open_survives_a_reload(tab: Page, address: str) -> None:
    go(tab, f"{address}/sorting_table")
    tab.locator("li:not([hidden]) > .tile").first.wait_for()
    assert "lot=" in tab.url
    tab.locator(f'.tile[data-sherd="{NUMBERS[1]}"]').click()
    tab.get_by_text("Speaks for vessel 2").or_(tab.get_by_text("Nothing was measured")).first.wait_for()
    tab.get_by_text("Counts", exact=True).first.click()
    tab.get_by_text("Numbers of vessels, each by its own method").wait_for()
    assert "view=Counts" in tab.url
    tab.reload()
    tab.get_by_text("Numbers of vessels, each by its own method").wait_for()
    tab.get_by_text("Table", exact=True).first.click()
    tab.locator(f'.tile[data-sherd="{NUMBERS[1]}"][aria-pressed=true]').wait_for()
    go(tab, f"{address}/?find=5%2A3&order=name")
    expect(tab.get_by_text("1 lot of 2")).to_be_visible()
    expect(tab.get_by_role("textbox", name="Find a lot or site")).to_have_value("5*3")
