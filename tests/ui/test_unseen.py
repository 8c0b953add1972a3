"""What another window did since this one was drawn: an undo stops before it, and a second word on the same sherd is told of the first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.ui.conftest import LOT, press, propose, shown

if TYPE_CHECKING:
    from collections.abc import Callable

    from streamlit.testing.v1 import AppTest

    from motifs.catalogue import Catalogue

OTHER_ONE = "R. <b>Vance</b>"


def test_an_undo_stops_before_what_was_not_shown_and_goes_on_when_it_was(
    page: Callable[..., AppTest], cat: Catalogue
) -> None:
    propose(cat, LOT, [0, 1] * 4)
    at = page("sorting_table", lot=LOT)
    number = cat.sherds(LOT)[0].number
    with cat.transaction(by=OTHER_ONE):
        cat.attribute(number, "2")
    press(at, "Undo")
    assert f"R. &lt;b&gt;Vance&lt;/b&gt; changed lot {LOT} in another window" in shown(at)
    assert cat.attributions(LOT)[number].by == OTHER_ONE
    press(at, "Undo")
    assert "Taken back" in shown(at)
    assert cat.attributions(LOT) == {}


def test_a_second_word_is_told_of_the_first_and_of_nothing_else(page: Callable[..., AppTest], cat: Catalogue) -> None:
    propose(cat, LOT, [0, 1] * 4)
    number, other = (sherd.number for sherd in cat.sherds(LOT)[:2])
    at = page("sorting_table", lot=LOT, sherd=number)
    with cat.transaction(by=OTHER_ONE):
        cat.attribute(number, "2")
        cat.attribute(other, "1")
    at.selectbox(key="move_to").set_value("unassigned")
    press(at, "Move")
    assert f"{number} (attributed by R. &lt;b&gt;Vance&lt;/b&gt;). Your word came second" in shown(at)
    assert f"{other} (attributed" not in shown(at)
    assert (cat.attributions(LOT)[number].by, cat.attributions(LOT)[other].by) == ("M. Oduya", OTHER_ONE)
    # What is shown by now is not told again.
    at.selectbox(key="move_to").set_value("vessel:2")
    press(at, "Move")
    assert "came second" not in shown(at)
