"""A part drawn on a sherd that stands turned, keys along the sheet, drawings moved and enlarged, and all of it after a reload."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from motifs.catalogue import Catalogue
from motifs.workflows.demo import demo_lots
from motifs.workflows.intake import catalogue_photos, read_photos
from motifs.workflows.tagging import tag_sherds
from tests.browser.lab import choose, eventually, go, press, said, settle, type_name

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import FloatRect, Page

    from tests.browser.lab import Steps

pytestmark = pytest.mark.browser

BY, TURN_DEG = "M. Oduya", 90.0


@pytest.fixture(scope="module")
def collection(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One photograph of each of two sites; the first sherd of the first stands turned by a quarter."""
    folder = tmp_path_factory.mktemp("parts") / "collection"
    lots = demo_lots()
    with Catalogue.open(folder, create=True) as cat:
        for lot in (lots[0], lots[-1]):
            catalogue_photos(cat, read_photos(lot.photos[:1]), lot=lot.lot, site=lot.site, by="setup")
            for number, term in zip(cat.sherd_numbers(lot.lot), ("meander", "fish", "meander"), strict=False):
                tag_sherds(cat, [number], "motif", term, by="setup")
        with cat.transaction(by="setup"):
            cat.set_rim_up(cat.sherd_numbers(lots[0].lot)[0], TURN_DEG)
    return folder


def box_of(tab: Page, place: str) -> FloatRect:
    frame = tab.locator(place).first.bounding_box()
    assert frame is not None
    return frame


def test_a_part_drawn_on_a_turned_sherd_is_kept_in_px_of_the_crop(
    tab: Page, address: str, cat: Catalogue, step: Steps
) -> None:
    lot = cat.lots()[0].name
    number = cat.sherd_numbers(lot)[0]
    crop = cat.crop(number)
    assert crop is not None
    height_px, width_px = crop.mask.shape
    go(tab, f"{address}/tagging?lot={lot}&sherd={number}")
    type_name(tab, BY)
    frame = box_of(tab, ".boxed .sheet")
    # Turned by a quarter clockwise the picture is as wide as the crop is high.
    assert frame["width"] / frame["height"] == pytest.approx(height_px / width_px, rel=0.03)
    left, top, right, bottom = 0.1, 0.2, 0.5, 0.6
    tab.mouse.move(frame["x"] + left * frame["width"], frame["y"] + top * frame["height"])
    tab.mouse.down()
    tab.mouse.move(frame["x"] + right * frame["width"], frame["y"] + bottom * frame["height"], steps=4)
    tab.mouse.up()
    tab.get_by_text("The next term goes on the part in the box.").wait_for()
    settle(tab)
    step("drawn")
    choose(tab, "Term", "meander")
    press(tab, "Put on")
    said(tab, f"put on a part of {number}")
    (tag,) = [tag for tag in cat.tags(number) if tag.box_px]
    # What is seen at (u, v) of the turned picture lies at (v, 1 - u) of the crop, as shares of its sides.
    wanted = (top * width_px, (1 - right) * height_px, (bottom - top) * width_px, (right - left) * height_px)
    assert tag.box_px == pytest.approx(wanted, abs=0.02 * max(width_px, height_px))
    assert tag.by == BY
    drawn, frame = box_of(tab, ".boxed .kept"), box_of(tab, ".boxed .sheet")
    assert drawn["x"] == pytest.approx(frame["x"] + left * frame["width"], abs=6)
    assert drawn["y"] == pytest.approx(frame["y"] + top * frame["height"], abs=6)
    step("tagged")


def test_keys_walk_tag_and_a_reload_shows_the_same(tab: Page, address: str, cat: Catalogue, step: Steps) -> None:
    lot = cat.lots()[1].name
    numbers = cat.sherd_numbers(lot)
    go(tab, f"{address}/tagging?lot={lot}")
    type_name(tab, BY)
    tab.locator(".tile").first.wait_for()
    tab.get_by_text("Then go on to the next sherd").click()
    settle(tab)
    tab.locator("body").press("Alt+ArrowDown")
    expect(tab.locator(".tile.dashed")).to_have_attribute("data-sherd", numbers[0])
    first = tab.locator("ol.m-plain li").first.inner_text()
    for at in (0, 1, 2):
        settle(tab)
        tab.locator("body").press("Alt+1")
        expect(tab.locator(".tile.dashed")).to_have_attribute("data-sherd", numbers[at + 1])
    for number in numbers[:3]:
        assert eventually(lambda number=number: first in [tag.term for tag in cat.tags(number)])
    choose(tab, "Order", "largest first")
    tab.reload()
    settle(tab)
    tab.locator(".tile").first.wait_for()
    expect(tab.get_by_role("combobox", name="Lot", exact=False).first).to_have_value(lot)
    tiles = tab.locator(".tile").evaluate_all("found => found.map(tile => tile.dataset.sherd)")
    areas = [cat.sherd(number).area_mm2 for number in tiles]
    assert areas == sorted(areas, reverse=True)
    assert set(tiles) == set(numbers)
    step("after a reload")


def test_a_drawing_is_enlarged_moved_and_shown_whole_again(tab: Page, address: str, step: Steps) -> None:
    go(tab, f"{address}/sites?sites_view=Axes&sites_unit=sherds")
    tab.locator(".zoomed img").first.wait_for()
    settle(tab)
    before = box_of(tab, ".zoomed img")
    press(tab, "Larger")
    larger = box_of(tab, ".zoomed img")
    assert larger["width"] / before["width"] == pytest.approx(1.25, rel=0.01)
    pane = box_of(tab, ".zoomed .pane")
    middle = pane["x"] + pane["width"] / 2, pane["y"] + pane["height"] / 2
    tab.mouse.move(*middle)
    tab.mouse.down()
    tab.mouse.move(middle[0] - 30, middle[1] - 20, steps=3)
    tab.mouse.up()
    moved = box_of(tab, ".zoomed img")
    assert math.hypot(moved["x"] - larger["x"], moved["y"] - larger["y"]) > 10
    step("near")
    tab.locator(".zoomed .pane").press("0")
    assert box_of(tab, ".zoomed img") == pytest.approx(before, abs=1)
    tab.reload()
    settle(tab)
    expect(tab.get_by_text("Correspondence analysis (sherds)").first).to_be_visible()


@pytest.mark.parametrize("width_px", [1024, 768])
@pytest.mark.parametrize("name", ["comparanda", "sites", "tagging", "records", "vocabulary", "second_look", "practice"])
def test_a_page_fits_a_small_screen(name: str, width_px: int, tab: Page, address: str) -> None:
    tab.set_viewport_size({"width": width_px, "height": 768})
    go(tab, f"{address}/{name}")
    assert tab.evaluate("document.documentElement.scrollWidth") <= width_px
