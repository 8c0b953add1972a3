"""Journey: a folder with nothing in it, one demo photograph, and every step the page leads to, up to the report."""

from __future__ import annotations

import zipfile
from typing import TYPE_CHECKING

import pypdfium2
import pytest
from playwright.sync_api import expect

from motifs.catalogue import Catalogue
from motifs.workflows.demo import demo_lots
from motifs.workflows.sort import KIND
from tests.browser.lab import choose, go, press, said, settle, type_name

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page

    from tests.browser.lab import Steps

pytestmark = pytest.mark.browser

LOT, SITE, BY = "0012", "Kestrel Ford", "M. Oduya"


@pytest.fixture(scope="module")
def collection(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Nothing: not even the folder is there."""
    return tmp_path_factory.mktemp("new") / "collection"


def follow(tab: Page, link: str) -> None:
    """Click a link of the page's body."""
    tab.get_by_test_id("stMain").get_by_role("link", name=link, exact=True).first.click()
    tab.wait_for_timeout(300)
    settle(tab)


def follow_from_lots(tab: Page, address: str, link: str) -> None:
    """Begin at the lots, as somebody does who comes back, and take up what waits."""
    go(tab, address)
    follow(tab, link)
    type_name(tab, BY)
    assert f"lot={LOT}" in tab.url


def test_from_nothing_to_a_report(tab: Page, address: str, collection: Path, step: Steps) -> None:
    go(tab, address)
    expect(tab.get_by_text("Nothing here yet. Begin with photographs of one lot")).to_be_visible()
    step("empty")
    follow(tab, "Add photographs")
    type_name(tab, BY)
    tab.locator("input[type=file]").set_input_files(str(demo_lots()[1].photos[0]))
    choose(tab, "Lot, as on the bag", LOT)
    choose(tab, "Site", SITE)
    press(tab, "Find the sherds")
    said(tab, "outlined and numbered")
    step("photographs")
    with Catalogue.open(collection) as cat:
        numbers = [sherd.number for sherd in cat.sherds(LOT)]
        assert len(numbers) == len(demo_lots()[1].answer["photos"][0]["sherds"])
        assert (cat.lot(LOT).site, {sherd.outline_by for sherd in cat.sherds(LOT)}) == (SITE, {None})
        expect(tab.locator("g.sherd")).to_have_count(len(numbers))

        follow_from_lots(tab, address, "Sort the lot")
        press(tab, "Sort")
        said(tab, f"Lot {LOT} is sorted")
        proposed = cat.latest_proposal(LOT, KIND)
        assert proposed is not None
        assert proposed.by == BY
        step("sorted")
        accept_all(tab, cat)
        step("accepted")

        follow_from_lots(tab, address, f"Tag {len(numbers)} sherds")
        press(tab, "Choose the page")
        choose(tab, "Term", "chevron band")
        press(tab, "Put on")
        said(tab, f"put on {len(numbers)} sherds")
        assert {tag.term for number in numbers for tag in cat.tags(number)} == {"chevron band"}
        step("tagged")

        follow_from_lots(tab, address, "Comparanda")
        press(tab, "Find comparanda")
        tab.locator('section[data-row="near"] .tile').first.wait_for()
        step("comparanda")
        lay_out(tab, address, cat)
        step("layout")
        report(tab, address, numbers)
        step("report")


def accept_all(tab: Page, cat: Catalogue) -> None:
    """Accept every vessel on the wall; then every sherd that is in one is on her word."""
    heads = tab.locator("section[data-row^=vessel] header")
    for place in range(heads.count()):
        heads.nth(place).get_by_role("button", name="Accept", exact=True).click()
        expect(heads.nth(place)).to_contain_text(f"accepted by {BY}")
        settle(tab)
    placed = tab.locator("section[data-row^=vessel] .tile").evaluate_all("found => found.map(t => t.dataset.sherd)")
    assert {number: row.by for number, row in cat.attributions(LOT).items()} == dict.fromkeys(placed, BY)


def lay_out(tab: Page, address: str, cat: Catalogue) -> None:
    """Match the edges and see the vessel laid out."""
    go(tab, f"{address}/layout?lot={LOT}")
    type_name(tab, BY)
    press(tab, "Match edges")
    said(tab, "joins are proposed")
    first = [number for number, row in cat.attributions(LOT).items() if row.vessel == "1"]
    expect(tab.locator(".layout g.sherd")).to_have_count(len(first))
    assert cat.latest_proposal(LOT, "joins") is not None


def report(tab: Page, address: str, numbers: list[str]) -> None:
    """The lot written up on its page: the PDF and the HTML name the site, and every sherd that is on a plate."""
    follow_from_lots(tab, address, "Report")
    press(tab, "Make the report")
    said(tab, "Report of")
    with tab.expect_download() as fetched:
        tab.get_by_role("button", name="Save the PDF").click()
    pdf = pypdfium2.PdfDocument(fetched.value.path())
    text = "\n".join(pdf[k].get_textpage().get_text_range() for k in range(len(pdf)))
    with tab.expect_download() as fetched:
        tab.get_by_role("button", name="Save the HTML (zip)").click()
    with zipfile.ZipFile(fetched.value.path()) as packed:
        html = packed.read(next(name for name in packed.namelist() if name.endswith(".html"))).decode("utf-8")
    for written in (text, html):
        assert SITE in written
        assert [number for number in numbers if number not in written] == []
