"""One analyst's way through a lot of demo photographs, in a real browser: visible text and rows in the catalogue."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from motifs.catalogue import Catalogue
from motifs.workflows.demo import demo_lots
from motifs.workflows.intake import catalogue_photos, read_photos
from tests.browser.lab import ARTEFACTS, choose, eventually, go, press, said, settle, type_name

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

LOT, SITE, BY = "5*3*2 cm", "slip:red <b> $x$ _a_", "M. Oduya"
DEMO = demo_lots()[0]


@pytest.fixture(scope="module")
def collection(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A collection that holds one demo photograph of another site, so that there is something to compare with."""
    folder = tmp_path_factory.mktemp("browser") / "collection"
    other = demo_lots()[-1]
    with Catalogue.open(folder, create=True) as cat:
        catalogue_photos(cat, read_photos(other.photos[:1]), lot=other.lot, site=other.site, by="setup")
    return folder


def snap(tab: Page, name: str) -> None:
    """Keep a picture of the whole page."""
    tab.screenshot(path=ARTEFACTS / f"{name}.png", full_page=True)


def test_photographs_are_uploaded_and_an_outline_is_dropped(tab: Page, address: str, cat: Catalogue) -> None:
    go(tab, f"{address}/photographs")
    type_name(tab, BY)
    tab.get_by_text("Add photographs", exact=True).click()
    tab.locator("input[type=file]").set_input_files([str(path) for path in DEMO.photos])
    choose(tab, "Lot, as on the bag", LOT)
    choose(tab, "Site", SITE)
    press(tab, "Find the sherds")
    said(tab, "outlined and numbered")
    sherds = cat.sherds(LOT)
    said(tab, f"{len(sherds)} sherds outlined and numbered")
    assert cat.lot(LOT).site == SITE
    assert cat.lot(LOT).photos == len(DEMO.photos)
    settle(tab)
    first = cat.sherds(photo_id=cat.photos(LOT)[0].photo_id)
    expect(tab.locator("g.sherd")).to_have_count(len(first))
    label = first[0].number.removeprefix(f"{LOT}-")
    assert tab.locator("g.sherd text").first.text_content() == label
    snap(tab, "photographs")

    tab.locator(f'g.sherd[data-sherd="{first[0].number}"]').press("Enter")
    settle(tab)
    tab.locator("g.sherd.chosen").wait_for()
    press(tab, "Drop")
    said(tab, f"Dropped {first[0].number}")
    assert eventually(lambda: cat.sherd(first[0].number).state == "dropped")
    expect(tab.locator("g.sherd")).to_have_count(len(first) - 1)
    press(tab, "Undo")
    said(tab, "Taken back")
    assert eventually(lambda: cat.sherd(first[0].number).state == "kept")
    expect(tab.locator("g.sherd")).to_have_count(len(first))


def test_the_same_photograph_twice_says_so(tab: Page, address: str, cat: Catalogue) -> None:
    before = len(cat.sherds())
    go(tab, f"{address}/photographs")
    type_name(tab, BY)
    tab.get_by_text("Add photographs", exact=True).click()
    tab.locator("input[type=file]").set_input_files(str(DEMO.photos[0]))
    choose(tab, "Lot, as on the bag", "another")
    press(tab, "Find the sherds")
    said(tab, "Nothing new")
    said(tab, f"already catalogued in lot '{LOT}'")
    assert len(cat.sherds()) == before


def test_a_long_job_is_stopped_and_nothing_is_kept(tab: Page, address: str, cat: Catalogue) -> None:
    before = cat.version()
    go(tab, f"{address}/photographs")
    type_name(tab, BY)
    tab.get_by_text("Add photographs", exact=True).click()
    tab.locator("input[type=file]").set_input_files([str(path) for path in demo_lots()[1].photos])
    choose(tab, "Lot, as on the bag", "stopped")
    tab.get_by_role("button", name="Find the sherds", exact=True).click()
    tab.get_by_role("button", name="Stop", exact=True).click()
    said(tab, "Stopped.")
    said(tab, "The catalogue is as it was.")
    assert cat.version() == before
    assert "stopped" not in [lot.name for lot in cat.lots()]


def test_a_lot_is_sorted_a_sherd_moved_a_word_said_and_undone(tab: Page, address: str, cat: Catalogue) -> None:
    go(tab, f"{address}/sorting_table?lot={LOT}")
    type_name(tab, BY)
    press(tab, "Sort")
    said(tab, "is sorted.")
    kept = cat.latest_proposal(LOT, "vessels")
    assert kept is not None
    assert kept.by == BY
    expect(tab.locator(".tile")).to_have_count(len(cat.sherds(LOT)))
    rows = tab.locator("section[data-row]")
    assert rows.count() >= 2
    assert one_scale(tab) < 0.02
    snap(tab, "sorting_table")

    tile = tab.locator(".tile").first
    number = str(tile.get_attribute("data-sherd"))
    tile.click()
    tab.locator(".st-key-side figcaption").get_by_text(number, exact=True).first.wait_for()
    settle(tab)
    assert re.search(r"support \d\.\d\d", tab.locator(".st-key-side").inner_text())
    assert tab.locator(".m-reasons li").count() > 0
    choose(tab, "Move to", "Unassigned")
    press(tab, "Move")
    said(tab, f"{number} → Unassigned")
    assert cat.attributions(LOT)[number].by == BY
    assert tab.locator('section[data-row="unassigned"]').get_by_text(number, exact=True).is_visible()
    snap(tab, "moved")

    press(tab, "Undo")
    said(tab, "Taken back")
    assert eventually(lambda: cat.attributions(LOT) == {})

    other = str(tab.locator(".tile").nth(1).get_attribute("data-sherd"))
    choose(tab, "Compare with", other)
    press(tab, "Same vessel")
    said(tab, f"{number} and {other}: one vessel.")
    assert {(link.a, link.b, link.relation, link.by) for link in cat.links(LOT)} == {(number, other, "same", BY)}
    press(tab, "Undo")
    said(tab, "Taken back")
    assert eventually(lambda: cat.links(LOT) == ())


def one_scale(tab: Page) -> float:
    """Largest deviation of a picture's px/mm on the screen from the others', relative; measured, not read off the style."""
    ratios = tab.locator(".tile").evaluate_all(
        "tiles => tiles.map(t => t.querySelector('img').getBoundingClientRect().width / parseFloat(getComputedStyle(t).getPropertyValue('--w')))"
    )
    block = tab.locator(".cm .blocks i").first.evaluate("e => e.getBoundingClientRect().width") / 10
    return max(abs(ratio / block - 1) for ratio in ratios)


def test_a_sherd_is_dragged_to_another_row(tab: Page, address: str, cat: Catalogue) -> None:
    go(tab, f"{address}/sorting_table?lot={LOT}")
    type_name(tab, BY)
    tab.locator(".bar input[type=range]").fill("1")
    pile = tab.locator('section[data-row="unassigned"] header')
    tile = tab.locator("section[data-row^=vessel] .tile").last
    number = str(tile.get_attribute("data-sherd"))
    tab.evaluate("window.scrollTo(0, document.body.scrollHeight)")
    pile.scroll_into_view_if_needed()
    tile.drag_to(pile)
    said(tab, "→ Unassigned")
    said(tab, f"{number} → Unassigned")
    settle(tab)
    assert cat.attributions(LOT)[number].vessel is None
    press(tab, "Undo")
    said(tab, "Taken back")
    assert eventually(lambda: cat.attributions(LOT) == {})


def test_comparanda_at_other_sites_and_of_a_part(tab: Page, address: str, cat: Catalogue) -> None:
    number = cat.sherds(LOT)[0].number
    go(tab, f"{address}/comparanda?lot={LOT}&sherd={number}")
    type_name(tab, BY)
    tab.get_by_text("Other sites only").click()
    press(tab, "Find comparanda")
    near = tab.locator('section[data-row="near"] .tile')
    near.first.wait_for()
    settle(tab)
    texts = near.all_inner_texts()
    assert len(texts) == 12
    assert all(demo_lots()[-1].site in words for words in texts)
    assert not any(SITE in words for words in texts)
    similarities = [float(match[1]) for words in texts if (match := re.search(r"similarity (-?\d\.\d+)", words))]
    assert len(similarities) == 12
    probabilities = [float(match[1]) for words in texts if (match := re.search(r"same motif: (\d\.\d+)", words))]
    assert probabilities == sorted(probabilities, reverse=True)
    tab.get_by_role("heading", name="Look closer").wait_for()
    assert len(tab.locator(".m-figures img").all()) == 2
    snap(tab, "comparanda")

    image = tab.locator(".boxed .sheet")
    image.scroll_into_view_if_needed()
    frame = image.bounding_box()
    assert frame is not None
    tab.mouse.move(frame["x"] + 0.3 * frame["width"], frame["y"] + 0.3 * frame["height"])
    tab.mouse.down()
    tab.mouse.move(frame["x"] + 0.7 * frame["width"], frame["y"] + 0.7 * frame["height"], steps=4)
    tab.mouse.up()
    tab.get_by_text("Compared: the part from").wait_for()
    settle(tab)
    crop = cat.crop(number)
    assert crop is not None
    tab.get_by_text("The part to compare, in numbers").click()
    width = int(tab.get_by_role("spinbutton", name="Width, px").input_value())
    assert width == pytest.approx(0.4 * crop.mask.shape[1], rel=0.03)
    press(tab, "Find comparanda")
    tab.get_by_text("the part in the box").wait_for()
    settle(tab)
    kept = keep_nearest(tab, cat, number)
    assert cat.sherd(kept).site == demo_lots()[-1].site

    second = str(near.nth(1).get_attribute("data-sherd"))
    near.nth(1).click()
    tab.locator(".st-key-side figcaption").get_by_text(second, exact=True).wait_for()
    settle(tab)
    assert f"beside={second}" in tab.url
    press(tab, "Ask with this sherd instead")
    tab.get_by_text("Choose what to compare").wait_for()
    assert f"sherd={second}" in tab.url


def keep_nearest(tab: Page, cat: Catalogue, number: str) -> str:
    """Keep the neighbour that is looked at closer, with a reason; it is on record, and in the list on the page."""
    reason = "the same hook in the zigzag"
    choose(tab, "List", "hooks")
    tab.get_by_role("textbox", name="Reason", exact=True).fill(reason)
    tab.keyboard.press("Tab")
    press(tab, "Keep as comparandum")
    said(tab, f"is kept as a comparandum of {number} in hooks")
    (entry,) = cat.comparanda_in("hooks")
    assert (entry.query, entry.reason, entry.by) == (number, reason, BY)
    snap(tab, "kept")
    return str(entry.sherd)


def test_names_are_seen_as_they_were_typed(tab: Page, address: str, cat: Catalogue) -> None:
    go(tab, address)
    for words in (LOT, SITE):
        assert tab.get_by_text(words, exact=True).first.is_visible()
    go(tab, f"{address}/comparanda?lot={LOT}")
    assert tab.get_by_text(SITE, exact=True).first.is_visible()
    go(tab, f"{address}/photographs?lot={LOT}")
    tab.get_by_text("Site of this lot").click()
    assert tab.get_by_text(SITE, exact=True).first.is_visible()
    snap(tab, "lots")
