"""Corrections on the page of photographs under AppTest: by list and by number, as rows in the catalogue."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from motifs.workflows import correct
from motifs.workflows.tell import tell_pairs
from tests.ui.conftest import LOT, press, shown

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from streamlit.testing.v1 import AppTest

    from motifs.catalogue import Catalogue

    Opener = Callable[..., AppTest]

A, B, E = (f"{LOT}-00{number}" for number in (1, 2, 5))
FREE = "620, 420\n700, 420\n700, 500\n620, 500"


def stroke(cat: Catalogue, number: str) -> str:
    low, high = cat.sherd(number).outline_px.min(axis=0), cat.sherd(number).outline_px.max(axis=0)
    y = (low[1] + high[1]) / 2
    return f"{low[0] - 9:.1f}, {y:.1f}\n{high[0] + 9:.1f}, {y:.1f}"


def type_points(at: AppTest, text: str) -> None:
    at.text_area(key="typed_points").set_value(text)


def test_a_sherd_in_the_address_is_chosen_on_its_photograph(page: Opener, cat: Catalogue) -> None:
    at = page("photographs", lot=LOT, sherd=E)
    assert at.multiselect(key="outline_choice").value == [E]
    assert at.selectbox(key="choose_photo").value == str(cat.sherd(E).photo_id)
    at.selectbox(key="choose_photo").set_value(str(cat.sherd(A).photo_id)).run()
    assert at.multiselect(key="outline_choice").value == []
    assert "sherd" not in at.query_params
    at.multiselect(key="outline_choice").set_value([A]).run()
    assert at.query_params["sherd"] in (A, [A])
    assert "Maximum dimension" in shown(at)
    assert f"{cat.sherd(A).max_dimension_mm:.0f} mm" in shown(at)


def test_outlines_to_look_at_come_one_after_the_other(page: Opener, cat: Catalogue) -> None:
    with cat.transaction(by="test"):
        for number in (B, E):
            sherd = cat.sherd(number)
            cat.replace_outline(
                number, sherd.outline_px, area_mm2=sherd.area_mm2, max_dimension_mm=1.0, look="touches slip:red"
            )
    at = page("photographs", lot=LOT)
    assert "2 outlines of this lot to look at" in shown(at)
    at = press(at, "Next to look at")
    assert at.multiselect(key="outline_choice").value == [B]
    at = press(at, "Looked over")
    assert cat.sherd(B).look is None
    at = press(at, "Next to look at")
    assert at.multiselect(key="outline_choice").value == [E]
    at = press(at, "Looked over")
    assert "No outline of this lot asks for a look." in shown(at)
    at = press(at, "Undo")
    assert cat.sherd(E).look == "touches slip:red"


def test_what_was_taken_back_is_done_again(page: Opener, cat: Catalogue) -> None:
    at = page("photographs", lot=LOT)
    at.multiselect(key="outline_choice").set_value([A])
    at = press(press(at, "Drop"), "Undo")
    assert cat.sherd(A).state == "kept"
    at = press(at, "Redo")
    assert f"Done again: sherd dropped {A}" in shown(at)
    assert cat.sherd(A).state == "dropped"


def test_before_people_s_words_go_along_the_page_asks(page: Opener, cat: Catalogue) -> None:
    tell_pairs(cat, LOT, same=[(A, B)], by="test")
    with cat.transaction(by="R. Vance"):
        cat.attribute(A, "jar <1>")
    at = page("photographs", lot=LOT, sherd=A)
    at = press(at, "Drop")
    assert "1 link, put to vessel jar &lt;1&gt; by R. Vance" in shown(at)
    assert cat.sherd(A).state == "kept"
    at = press(at, "Keep")
    assert "jar &lt;1&gt;" not in shown(at)
    at = press(press(at, "Drop"), "Drop all the same")
    assert f"Dropped {A}" in shown(at)
    assert cat.sherd(A).state == "dropped"
    press(at, "Undo")
    assert len(cat.links(LOT)) == 1


def test_an_outline_is_shown_as_points_and_redrawn_by_them(page: Opener, cat: Catalogue) -> None:
    before = cat.sherd(A)
    at = press(page("photographs", lot=LOT, sherd=A, by=None), "Show the chosen outline")
    text = at.text_area(key="typed_points").value
    assert len(text.splitlines()) == len(before.outline_px)
    at.session_state["analyst"] = "M. Oduya"
    type_points(at, "\n".join(f"{x:.2f}, {y + 1.5:.2f}" for x, y in before.outline_px))
    at = press(at, "Redraw with these")
    assert f"{A} is redrawn" in shown(at)
    assert cat.sherd(A).outline_by == "M. Oduya"
    assert cat.sherd(A).outline_px.min(axis=0)[1] == pytest.approx(before.outline_px.min(axis=0)[1] + 1.5, abs=0.3)
    assert "drawn by M. Oduya" in shown(at)


def test_a_sherd_is_split_and_one_added_by_points(page: Opener, cat: Catalogue) -> None:
    at = page("photographs", lot=LOT, sherd=A)
    type_points(at, stroke(cat, A))
    at = press(at, "Split along these")
    assert f"{A} is split" in shown(at)
    assert f"new: {LOT}-009" in shown(at)
    type_points(at, FREE)
    at = press(at, "Add a sherd")
    assert f"Added: {LOT}-010" in shown(at)
    assert cat.sherd(f"{LOT}-010").outline_by == "M. Oduya"
    assert at.multiselect(key="outline_choice").value == [f"{LOT}-010"]


@pytest.mark.parametrize(
    ("points", "label", "told"),
    [
        ("", "Redraw with these", "no points are typed"),
        ("1, 2\nx", "Redraw with these", "line 2"),
        (FREE + "\n5000, 1", "Redraw with these", "leaves the photograph"),
        ("100,100\n200,200\n200,100\n100,200", "Redraw with these", "crosses itself"),
        ("1, 1\n9, 9", "Split along these", "does not cut"),
        ("10, 10\n11, 11\n10, 12", "Add a sherd", "too small"),
    ],
)
def test_what_cannot_be_drawn_is_told_and_changes_nothing(
    points: str, label: str, told: str, page: Opener, cat: Catalogue
) -> None:
    at = page("photographs", lot=LOT, sherd=A)
    before = correct_state(cat)
    type_points(at, points)
    at = press(at, label)
    assert not at.exception
    assert told in shown(at)
    assert correct_state(cat) == before


def test_drawing_needs_one_chosen_outline_and_a_name(page: Opener, cat: Catalogue) -> None:
    at = page("photographs", lot=LOT)
    type_points(at, FREE)
    at = press(at, "Redraw with these")
    assert "this takes one outline, and none are chosen" in shown(at)
    at = page("photographs", lot=LOT, by=None)
    type_points(at, FREE)
    before = correct_state(cat)
    at = press(at, "Add a sherd")
    assert "your name is missing" in shown(at)
    assert correct_state(cat) == before


def test_sherds_are_turned_by_number(page: Opener, cat: Catalogue) -> None:
    at = page("photographs", lot=LOT)
    at.multiselect(key="outline_choice").set_value([A, B]).run()
    at.number_input(key="rim_up_deg").set_value(-30.0)
    at = press(at, "Turn")
    assert [cat.sherd(number).rim_up_deg for number in (A, B)] == [330.0, 330.0]
    at = press(at, "90°")
    assert cat.sherd(A).rim_up_deg == 90.0
    at = press(at, "Not known")
    assert cat.sherd(A).rim_up_deg is None
    at.multiselect(key="outline_choice").set_value([A]).run()
    at = press(at, "Turn")
    assert f"{A}: rim up after -30°" in shown(at)


def test_a_lost_original_leaves_a_page_that_says_so(page: Opener, cat: Catalogue, collection: Path) -> None:
    correct.redraw(cat, A, np.float32([[620, 420], [700, 420], [700, 500]]), by="test")
    for photo in cat.photos():
        cat.photo_file(photo).unlink()
    at = page("photographs", lot=LOT, sherd=A)
    assert not at.exception
    assert "restore it from a backup" in shown(at)


def correct_state(cat: Catalogue) -> list[tuple[object, ...]]:
    return [(s.number, s.state, s.outline_by, s.rim_up_deg, s.content_key) for s in cat.sherds(with_dropped=True)]
