"""Journey: a student makes an exercise, sorts its sherds into piles, asks for a hint, is marked, and sees the class."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect
from sklearn.metrics import adjusted_rand_score

from motifs.workflows.exercise import open_exercise
from tests.browser.lab import choose, go, press, said, settle, type_name, view

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page

    from motifs.catalogue import Catalogue
    from tests.browser.lab import Steps

pytestmark = pytest.mark.browser

BY, NAME = "T. Aske", "two bowls"
PILES = "AB"


def put(tab: Page, keys: list[str], pile: str) -> None:
    """Tick sherds, and move what is ticked to a pile."""
    for key in keys:
        tab.locator(f'.pick[data-pick="{key}"]').check()
    expect(tab.locator(".moving .many")).to_have_text(f"{len(keys)} picked")
    tab.locator(".moving select").select_option(pile)
    tab.locator(".moving button", has_text="Move").click()
    for key in keys:
        expect(tab.locator(f'section[data-row="{pile}"] .tile[data-sherd="{key}"]')).to_be_visible()
    settle(tab)


def test_from_making_an_exercise_to_being_marked(
    tab: Page, address: str, collection: Path, cat: Catalogue, step: Steps
) -> None:
    go(tab, f"{address}/practice")
    type_name(tab, BY)
    view(tab, "Make an exercise")
    tab.get_by_role("textbox", name="Name of the exercise").fill(NAME)
    tab.get_by_role("spinbutton", name="Sherds, about").fill("10")
    tab.keyboard.press("Tab")
    tab.wait_for_timeout(300)
    settle(tab)
    step("form")
    press(tab, "Make it")
    said(tab, f"exercise '{NAME}'")
    exercise = open_exercise(collection / "exports" / "practice" / NAME)

    view(tab, "Sort an exercise")
    choose(tab, "Exercise", NAME)
    tab.locator(".tile").first.wait_for()
    keys = [piece.key for piece in exercise.pieces]
    expect(tab.locator(".tile")).to_have_count(len(keys))
    # Nothing of the answer is on the page before it is marked.
    assert "Adjusted Rand" not in tab.inner_text("body")
    step("unsorted")

    # One sherd lies on the wrong pile, and one is left aside.
    pots = [sherd["pot"] for photo in exercise.answer["photos"] for sherd in photo["sherds"]]
    of_pot = [[key for key, pot in zip(keys, pots, strict=True) if pot == one] for one in sorted(set(pots))]
    piles = {"A": [*of_pot[0][1:], of_pot[1][0]], "B": of_pot[1][1:]}
    for pile, members in piles.items():
        put(tab, members, pile)
    press(tab, "A hint")
    assert tab.locator("ul.m-plain li").count() >= 1
    step("sorted with a hint")
    press(tab, "Mark it")
    said(tab, "marked: adjusted Rand index")
    # Adjusted Rand index as scikit-learn has it; a sherd left aside is a vessel of its own.
    given = {key: pile for pile, members in piles.items() for key in members}
    wanted = adjusted_rand_score(pots, [given.get(key, f"alone {key}") for key in keys])
    expect(tab.get_by_text(f"marked: adjusted Rand index {wanted:.2f}")).to_be_visible()
    assert "with 1 hint" in tab.locator("table.m-table caption").first.inner_text()
    step("marked")

    turns = cat.turns(BY)
    assert len(turns) == 1
    assert (turns[0].exercise, turns[0].hints) == (NAME, 1)
    assert turns[0].adjusted_rand == pytest.approx(wanted)
    view(tab, "The class")
    row = tab.locator("table.m-table tbody tr", has_text=BY)
    expect(row).to_contain_text(f"{wanted:.2f}")
    step("class")


def test_a_quiz_answer_is_marked_and_asked_again_later(tab: Page, address: str, cat: Catalogue, step: Steps) -> None:
    go(tab, f"{address}/practice")
    type_name(tab, BY)
    view(tab, "Quiz")
    choose(tab, "Ask about", "motif")
    box = tab.get_by_role("combobox", name="Your answer")
    box.wait_for()
    step("quiz")
    choose(tab, "Your answer", "meander")
    press(tab, "Answer")
    answered = cat.quiz_answers(BY)
    assert len(answered) == 1
    tagged = {tag.term for tag in cat.tags(answered[0].sherd) if tag.kind == "motif"}
    said(tab, "right: meander" if tagged == {"meander"} else "not meander")
    step("answered")
