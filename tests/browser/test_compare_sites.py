"""Journey: three sites compared by their motifs, every view with its table; a tag changes what is seen; saved pictures."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np
import pytest
from playwright.sync_api import expect

from motifs.workflows.tagging import untag_sherds
from tests.browser.lab import choose, eventually, go, settle, type_name, view

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from motifs.catalogue import Catalogue
    from tests.browser.lab import Steps

pytestmark = pytest.mark.browser

BY = "M. Oduya"
VIEWS = ("Motifs", "Similarity", "Order", "Diversity", "Axes", "Ties", "Without tags")


def counts(cat: Catalogue) -> dict[str, Counter[str]]:
    """Motif tags at each site, counted from the rows: one for each sherd."""
    found: dict[str, Counter[str]] = {}
    for sherd in cat.sherds():
        terms = {tag.term for tag in cat.tags(sherd.number) if tag.kind == "motif"}
        found.setdefault(str(sherd.site), Counter()).update(terms)
    return found


def brainerd_robinson(a: Counter[str], b: Counter[str]) -> float:
    """200 less the sum of the differences of percentages (Brainerd 1951, Robinson 1951)."""
    terms = sorted({*a, *b})
    shares = [np.array([one[term] for term in terms]) * 100 / sum(one.values()) for one in (a, b)]
    return 200 - float(np.abs(shares[0] - shares[1]).sum())


def opened(tab: Page, address: str) -> None:
    go(tab, f"{address}/sites")
    type_name(tab, BY)
    choose(tab, "Counted", "sherds")


def test_the_table_is_what_was_tagged(tab: Page, address: str, cat: Catalogue, step: Steps) -> None:
    opened(tab, address)
    expect(tab.get_by_text("Counted: sherds", exact=False).first).to_be_visible()
    table = tab.locator("table.m-table", has=tab.get_by_text("meander", exact=True)).first
    words = table.inner_text()
    for site, terms in counts(cat).items():
        assert site in words
        assert terms, site
    assert {term for terms in counts(cat).values() for term in terms} <= set(words.replace("\t", "\n").split("\n"))
    step("motifs")


def test_similarity_is_the_published_coefficient_of_the_rows(
    tab: Page, address: str, cat: Catalogue, step: Steps
) -> None:
    """Robinson and Brainerd's coefficient worked out here from the rows, and the table of the page."""
    opened(tab, address)
    view(tab, "Similarity")
    table = tab.get_by_text("The same as a table").first
    table.click()
    settle(tab)
    rows = [row.split("\t") for row in tab.locator(".m-table tbody tr:visible").all_inner_texts()]
    found = counts(cat)
    told = {frozenset(cells[:2]): float(cells[2]) for cells in rows if {cells[0], cells[1]} <= set(found)}
    assert len(told) == 3
    for pair, value in told.items():
        a, b = pair
        assert value == pytest.approx(brainerd_robinson(found[a], found[b]), abs=0.51)
    step("similarity")


def test_every_view_shows_its_drawing_with_a_name(tab: Page, address: str, step: Steps) -> None:
    opened(tab, address)
    for name in VIEWS:
        view(tab, name)
        for image in tab.locator(".m-drawing img:visible").all():
            assert image.get_attribute("alt"), name
            assert eventually(lambda image=image: image.evaluate("e => e.naturalWidth") > 100), name  # type: ignore[misc]
        assert tab.locator(".m-wrong").count() == 0, name
        assert tab.locator(".m-drawing img:visible, .js-plotly-plot:visible, .m-table:visible").count() > 0, name
        step(name.lower())


def test_a_tag_taken_off_is_seen_at_once(tab: Page, address: str, cat: Catalogue) -> None:
    opened(tab, address)
    term = "checkerboard"
    assert any(terms[term] for terms in counts(cat).values())
    expect(tab.get_by_text(term, exact=True).first).to_be_visible()
    bearers = [
        number
        for number, tags in cat.tags_of([s.number for s in cat.sherds()]).items()
        if any(t.term == term for t in tags)
    ]
    untag_sherds(cat, bearers, "motif", term, by="R. Vance")
    tab.reload()
    settle(tab)
    choose(tab, "Counted", "sherds")
    expect(tab.locator("table.m-table", has_text="meander").first).to_be_visible()
    expect(tab.get_by_text(term, exact=True)).to_have_count(0)
