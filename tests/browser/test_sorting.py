"""The sorting table in a real browser: pick, drag, split, merge, lock, questions, map, sheets; what is seen and what is on record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from motifs.catalogue import Catalogue
from motifs.workflows.intake import catalogue_photos, read_photos
from tests.browser.lab import ARTEFACTS, choose, eventually, go, press, said, served, settle, type_name
from tests.ui.conftest import propose
from tests.workflows.tray import save_tray

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

LOT, BY = "slip:red 5*3*2", "M. Oduya"
NUMBERS = [f"{LOT}-{place:03d}" for place in range(1, 9)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A collection with a lot of eight sherds, two vessels proposed in turn and two questions open."""
    scratch = tmp_path_factory.mktemp("table")
    trays = [save_tray(scratch / f"tray_{seed}.jpg", seed) for seed in (1, 2)]
    with Catalogue.open(scratch / "collection", create=True) as cat:
        catalogue_photos(cat, read_photos(trays), lot=LOT, site="Kestrel Ford", by="setup")
        propose(cat, LOT, [0, 1] * 4, asked=(0, 2))
    return scratch / "collection"


@pytest.fixture(scope="module")
def table(folder: Path) -> Iterator[str]:
    """Where its page is served."""
    ARTEFACTS.mkdir(exist_ok=True)
    with served(folder, ARTEFACTS / "table_server.log") as at:
        yield f"{at}/sorting_table?lot={LOT}"


@pytest.fixture
def words(folder: Path) -> Iterator[Catalogue]:
    """The rows behind the page; what a test said is taken back after it."""
    with Catalogue.open(folder) as cat:
        before = cat.version()
        yield cat
        while any(event.event_id > before and event.is_undoable and not event.is_undone for event in cat.history(LOT)):
            with cat.transaction(by="test"):
                cat.undo(LOT)


@pytest.fixture
def tab(browser: Browser) -> Iterator[Page]:
    """A fresh window as narrow as the table is made for; errors of the page's own code fail the test."""
    page = browser.new_page(viewport={"width": 1024, "height": 860})
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    yield page
    page.close()
    assert wrong == []


def opened(tab: Page, table: str) -> None:
    go(tab, table)
    type_name(tab, BY)
    tab.locator(".tile").nth(7).wait_for()


def pick(tab: Page, number: str, **how: object) -> None:
    tab.locator(f'.pick[data-pick="{number}"]').click(**how)  # type: ignore[arg-type]


def row_of(tab: Page, number: str) -> str:
    return str(tab.locator(f'section[data-row]:has(.tile[data-sherd="{number}"])').get_attribute("data-row"))


def test_two_are_picked_and_moved_and_the_move_is_undone_and_redone(tab: Page, table: str, words: Catalogue) -> None:
    opened(tab, table)
    for number in (NUMBERS[0], NUMBERS[2]):
        pick(tab, number)
    expect(tab.locator(".moving .many")).to_have_text("2 picked")
    expect(tab.locator(f'.pick[data-pick="{NUMBERS[2]}"]')).to_be_checked()
    tab.screenshot(path=ARTEFACTS / f"picked_{tab.viewport_size['width']}.png")  # type: ignore[index]
    tab.locator(".moving select").select_option("vessel:2")
    tab.locator(".moving button", has_text="Move").click()
    said(tab, "→ Vessel 2.")
    assert {row_of(tab, NUMBERS[0]), row_of(tab, NUMBERS[2])} == {"vessel:2"}
    assert {row.vessel for row in words.attributions(LOT).values()} == {"2"}
    assert sorted(words.attributions(LOT)) == [NUMBERS[0], NUMBERS[2]]
    expect(tab.locator(".moving .many")).to_have_text("Tick sherds to move several at once")
    press(tab, "Undo")
    said(tab, "Taken back")
    assert words.attributions(LOT) == {}
    assert row_of(tab, NUMBERS[0]) == "vessel:1"
    press(tab, "Redo")
    said(tab, "Done again")
    assert sorted(words.attributions(LOT)) == [NUMBERS[0], NUMBERS[2]]


def test_a_sherd_is_dragged_to_another_vessel(tab: Page, table: str, words: Catalogue) -> None:
    opened(tab, table)
    tab.locator(f'.tile[data-sherd="{NUMBERS[0]}"]').drag_to(tab.locator('section[data-row="vessel:2"] header'))
    said(tab, f"{NUMBERS[0]} → Vessel 2.")
    assert words.attributions(LOT)[NUMBERS[0]].by == BY
    assert row_of(tab, NUMBERS[0]) == "vessel:2"


def test_a_part_is_split_off_by_keyboard_and_kept_apart(tab: Page, table: str, words: Catalogue) -> None:
    opened(tab, table)
    tab.locator(f'.tile[data-sherd="{NUMBERS[0]}"]').focus()
    tab.keyboard.press("x")
    expect(tab.locator(".moving .many")).to_have_text("1 picked")
    tab.locator(".moving select").select_option("new")
    tab.locator(".moving button", has_text="Move").press("Enter")
    said(tab, "→ Vessel 3. Kept as: another vessel than")
    assert words.attributions(LOT)[NUMBERS[0]].vessel == "3"
    assert [link.relation for link in words.links(LOT)] == ["different"]


def test_all_of_a_vessel_is_picked_and_put_with_another(tab: Page, table: str, words: Catalogue) -> None:
    opened(tab, table)
    tab.get_by_role("button", name="pick all of Vessel 1").click()
    expect(tab.locator(".moving .many")).to_have_text("4 picked")
    tab.locator(".moving select").select_option("vessel:2")
    tab.locator(".moving button", has_text="Move").click()
    said(tab, "→ Vessel 2.")
    assert sorted(words.attributions(LOT)) == NUMBERS[::2]
    expect(tab.locator('section[data-row="vessel:1"]')).to_have_count(0)


def test_a_vessel_is_locked_and_takes_nothing_then_accepted(tab: Page, table: str, words: Catalogue) -> None:
    opened(tab, table)
    head = tab.locator('section[data-row="vessel:2"] header')
    head.get_by_role("button", name="Lock", exact=True).click()
    said(tab, "Vessel 2 locked with 4 sherds")
    assert words.locks(LOT)[0].by == BY
    pick(tab, NUMBERS[0])
    assert "vessel:2" not in tab.locator(".moving option").evaluate_all("found => found.map((one) => one.value)")
    head.get_by_role("button", name="Accept", exact=True).click()
    said(tab, "Vessel 2 accepted: 4 sherds")
    expect(head).to_contain_text(f"accepted by {BY} on 20")
    expect(head).to_contain_text(f"locked by {BY}")
    head.get_by_role("button", name="Unlock", exact=True).click()
    said(tab, "Vessel 2 unlocked")
    assert words.locks(LOT) == ()


def test_why_and_what_would_change_it_for_a_pair(tab: Page, table: str, words: Catalogue) -> None:
    opened(tab, table)
    tab.locator(f'.tile[data-sherd="{NUMBERS[0]}"]').click()
    settle(tab)
    choose(tab, "Compare with", NUMBERS[1])
    side = tab.locator(".st-key-side")
    expect(side.locator(".m-reasons li").first).to_be_visible(timeout=30_000)
    expect(side).to_contain_text("apart (CIEDE2000)")
    expect(side).to_contain_text("Together the cues")
    tab.screenshot(path=ARTEFACTS / f"pair_{tab.viewport_size['width']}.png")  # type: ignore[index]


def test_a_walk_of_questions_cannot_tell_is_kept_and_the_list_is_printed(
    tab: Page, table: str, words: Catalogue
) -> None:
    opened(tab, table)
    tab.get_by_text("Questions", exact=True).click()
    settle(tab)
    expect(tab.get_by_text(f"Are {NUMBERS[0]} and {NUMBERS[2]} of one vessel?")).to_be_visible()
    with tab.expect_download() as fetched:
        tab.get_by_role("button", name="Print the questions").click()
    assert fetched.value.path().read_bytes().startswith(b"%PDF")
    press(tab, "Can't tell")
    said(tab, f"Left open: {NUMBERS[0]} and {NUMBERS[2]}")
    assert [(pair.a, pair.b) for pair in words.open_pairs(LOT)] == [(NUMBERS[0], NUMBERS[2])]
    tab.reload()
    settle(tab)
    expect(tab.get_by_text(f"Are {NUMBERS[0]} and {NUMBERS[2]}")).to_have_count(0)


def test_a_lasso_on_the_map_picks_and_the_table_is_printed(tab: Page, table: str, words: Catalogue) -> None:
    opened(tab, table)
    tab.get_by_text("Map", exact=True).click()
    settle(tab)
    plane = tab.locator(".js-plotly-plot .nsewdrag").first
    plane.wait_for()
    tab.wait_for_timeout(800)
    box = plane.bounding_box()
    assert box is not None
    corners = [(0.01, 0.01), (0.99, 0.01), (0.99, 0.99), (0.01, 0.99), (0.01, 0.03)]
    tab.mouse.move(box["x"] + corners[0][0] * box["width"], box["y"] + corners[0][1] * box["height"])
    tab.mouse.down()
    for x, y in corners[1:]:
        tab.mouse.move(box["x"] + x * box["width"], box["y"] + y * box["height"], steps=5)
    tab.mouse.up()
    expect(tab.get_by_text("8 sherds picked", exact=True)).to_be_visible()
    tab.screenshot(path=ARTEFACTS / f"map_{tab.viewport_size['width']}.png")  # type: ignore[index]
    choose(tab, "Move to", "A new vessel")
    tab.locator(".st-key-move_button_map button").click()
    assert eventually(lambda: {row.vessel for row in words.attributions(LOT).values()} == {"3"})
    assert sorted(words.attributions(LOT)) == NUMBERS
    with tab.expect_download() as fetched:
        tab.get_by_role("button", name="Print the table").click()
    assert fetched.value.path().read_bytes().startswith(b"%PDF")
