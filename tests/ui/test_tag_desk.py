"""The desk beside the contact sheet: a part tagged, a walk along the sherds, one tag taken off, the address after a reload."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.workflows.tagging import tag_sherds
from tests.ui.conftest import LOT, OTHER, press, shown

if TYPE_CHECKING:
    from collections.abc import Callable

    from streamlit.testing.v1 import AppTest

    from motifs.catalogue import Catalogue

    Opener = Callable[..., AppTest]

A, B, C = (f"{LOT}-00{number}" for number in (1, 2, 3))
BOX_KEYS = ("tag_box_x_px", "tag_box_y_px", "tag_box_width_px", "tag_box_height_px")


def set_box(at: AppTest, *sides: int) -> AppTest:
    for key, value in zip(BOX_KEYS, sides, strict=True):
        at.number_input(key=key).set_value(value)
    return at.run()


def test_a_part_of_one_sherd_is_tagged_and_the_box_put_away(page: Opener, cat: Catalogue) -> None:
    at = page("tagging", lot=LOT, sherd=A)
    at = set_box(at, 40, 50, 60, 70)
    assert "The next term goes on the part in the box." in shown(at)
    at.selectbox(key="tag_term").set_value("meander").run()
    at = press(at, "Put on")
    assert [(tag.term, tag.box_px, tag.by) for tag in cat.tags(A)] == [("meander", (40, 50, 60, 70), "M. Oduya")]
    assert f"put on a part of {A}" in shown(at)
    assert "motif: meander, part (box 1), M. Oduya" in shown(at)
    assert [at.number_input(key=key).value for key in BOX_KEYS] == [0, 0, 0, 0]
    at = press(at, "Put on")
    assert [tag.box_px for tag in cat.tags(A)] == [(40, 50, 60, 70), None]


def test_a_box_of_one_sherd_is_not_put_on_another(page: Opener, cat: Catalogue) -> None:
    at = set_box(page("tagging", lot=LOT, sherd=A), 40, 50, 60, 70)
    at = press(at, "Next sherd")
    at.selectbox(key="tag_term").set_value("meander").run()
    press(at, "Put on")
    assert [tag.box_px for tag in cat.tags(B)] == [None]
    assert cat.tags(A) == ()


def test_a_box_beyond_the_crop_changes_nothing(page: Opener, cat: Catalogue) -> None:
    at = page("tagging", lot=LOT, sherd=A)
    wide = int(at.number_input(key=BOX_KEYS[0]).max)
    at = set_box(at, wide, 0, 50, 50)
    at.selectbox(key="tag_term").set_value("meander").run()
    at = press(at, "Put on")
    assert "goes beyond the crop" in shown(at)
    assert cat.tags(A) == ()


def test_one_of_several_tags_is_taken_off_and_comes_back(page: Opener, cat: Catalogue) -> None:
    tag_sherds(cat, [A], "motif", "meander", box_px=(10, 10, 40, 40), by="T. Hale")
    tag_sherds(cat, [A], "motif", "meander", by="T. Hale")
    boxed = cat.tags(A)[0]
    at = page("tagging", lot=LOT, sherd=A)
    at.button(key=f"off_{boxed.tag_id}").click()
    at = at.run()
    assert [tag.box_px for tag in cat.tags(A)] == [None]
    at = press(at, "Undo in this lot")
    assert {tag.box_px for tag in cat.tags(A)} == {None, (10, 10, 40, 40)}


def test_keys_alone_tag_a_lot(page: Opener, cat: Catalogue) -> None:
    """Choose the first, put a term with its key, and the next one comes up, over the end of a page."""
    tag_sherds(cat, [f"{OTHER}-001"], "motif", "stepped fret", by="T. Hale")
    numbers = cat.sherd_numbers(LOT)
    at = page("tagging", lot=LOT)
    at.checkbox(key="tag_go_on").check().run()
    at = press(at, "Next sherd")
    for _ in numbers:
        at = press(at, "1")
    assert all([tag.term for tag in cat.tags(number)] == ["stepped fret"] for number in numbers)
    assert at.session_state["sheet_chosen"] == [numbers[-1]]
    at = press(at, "Sherd before")
    assert at.session_state["sheet_chosen"] == [numbers[-2]]


def test_a_step_turns_the_page(page: Opener, cat: Catalogue, monkeypatch) -> None:
    monkeypatch.setattr("motifs.ui.components.sheet_filter.PAGE_SIZES", (3, 5))
    at = page("tagging", lot=LOT, sheet_size="3", sheet_page="2")
    numbers = cat.sherd_numbers(LOT)
    at = press(at, "Next sherd")
    assert at.session_state["sheet_chosen"] == [numbers[3]]
    at = press(at, "Sherd before")
    assert at.session_state["sheet_chosen"] == [numbers[2]]
    assert at.number_input(key="sheet_page").value == 1


def test_what_is_shown_stands_in_the_address(page: Opener, cat: Catalogue) -> None:
    tag_sherds(cat, [A, C], "motif", "meander", by="T. Hale")
    at = page("tagging", sheet_lot=LOT, sheet_term="meander", sheet_order="largest first", sheet_view="Table", sherd=C)
    assert set(at.dataframe[0].value["Sherd"]) == {A, C}
    assert at.multiselect[0].value == [C]
    at = page("tagging", sheet_lot="never", sheet_page="99", sheet_text="nothing is called so", sherd="never-001")
    assert not at.exception
    assert "No sherd is like that." in shown(at)
    assert "m-wrong" not in shown(at)


def test_a_lot_chosen_on_the_sheet_is_open_on_the_next_page(page: Opener, cat: Catalogue) -> None:
    at = page("tagging")
    at.selectbox(key="sheet_lot").set_value(OTHER).run()
    at.switch_page("motifs/ui/pages/comparanda.py")
    at.run()
    assert at.selectbox(key="choose_lot").value == OTHER
