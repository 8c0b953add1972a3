"""Journey: a lot sorted, five questions answered as the demo's answer has it, sorted again, and a vessel accepted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from motifs.workflows.demo import demo_lots
from motifs.workflows.marking import found_in_answer
from tests.browser.lab import button, eventually, go, press, said, settle, type_name
from tests.browser.shared_collection import LOTS

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from motifs.catalogue import Catalogue
    from tests.browser.lab import Steps

pytestmark = pytest.mark.browser

LOT, BY, ASKED = LOTS.whole, "R. Vance", 5


def true_pots(cat: Catalogue) -> dict[str, int]:
    """Which pot each sherd is of, by the list that lies beside the demo's photographs."""
    answer = next(lot.answer for lot in demo_lots() if lot.lot == LOT)
    pots = {
        (place, sherd["number"]): sherd["pot"]
        for place, photo in enumerate(answer["photos"], start=1)
        for sherd in photo["sherds"]
    }
    return {sherd: pots[key] for key, sherd in found_in_answer(cat, LOT, answer).items()}


def answer_one(tab: Page, cat: Catalogue, pots: dict[str, int]) -> tuple[str, str, str]:
    """Answer the first open question truly; what should now be on record."""
    box = tab.locator(".st-key-walk_0")
    a, b = box.locator("figcaption").all_inner_texts()
    expect(box.locator(".m-number")).to_have_text(f"Are {a} and {b} of one vessel?")
    is_same = pots[a] == pots[b]
    button(box, "Same vessel" if is_same else "Different vessels").click()
    said(tab, f"{a} and {b}: {'one vessel' if is_same else 'different vessels'}")
    settle(tab)
    told = tuple(sorted((a, b)))
    assert eventually(lambda: told in {tuple(sorted((link.a, link.b))) for link in cat.links(LOT)})
    return (*told, "same" if is_same else "different")


def test_five_questions_are_answered_and_a_vessel_is_accepted(
    tab: Page, address: str, cat: Catalogue, step: Steps
) -> None:
    pots = true_pots(cat)
    go(tab, f"{address}/sorting_table?lot={LOT}")
    type_name(tab, BY)
    tab.get_by_text("Questions", exact=True).click()
    settle(tab)
    step("questions")
    told = {answer_one(tab, cat, pots) for _ in range(ASKED)}
    links = {(*sorted((link.a, link.b)), link.relation) for link in cat.links(LOT)}
    assert links == told
    assert {link.by for link in cat.links(LOT)} == {BY}
    step("answered")

    tab.get_by_text("Table", exact=True).click()
    settle(tab)
    expect(tab.get_by_text("Something was said or changed since the last sort")).to_be_visible()
    press(tab, "Sort")
    said(tab, f"Lot {LOT} is sorted")
    row_of = dict(
        tab.locator(".tile").evaluate_all(
            "found => found.map(t => [t.dataset.sherd, t.closest('section[data-row]').dataset.row])"
        )
    )
    assert set(row_of) == {sherd.number for sherd in cat.sherds(LOT)}
    for a, b, relation in told:
        if "unassigned" not in (row_of[a], row_of[b]):
            assert (row_of[a] == row_of[b]) == (relation == "same"), (a, b, relation)
    step("sorted again")

    head = tab.locator('section[data-row="vessel:1"] header')
    head.get_by_role("button", name="Accept", exact=True).click()
    of_first = {number for number, row in row_of.items() if row == "vessel:1"}
    said(tab, f"Vessel 1 accepted: {len(of_first)} sherds")
    expect(head).to_contain_text(f"accepted by {BY} on 20")
    accepted = cat.attributions(LOT)
    assert {number: (row.vessel, row.by) for number, row in accepted.items()} == dict.fromkeys(of_first, ("1", BY))
    step("accepted")

    # All that is on record outlives the window.
    tab.reload()
    settle(tab)
    expect(tab.locator('section[data-row="vessel:1"] header')).to_contain_text(f"accepted by {BY}")
