"""The lots: what waits in each, how far each has got, found by name and by what waits."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.ui.conftest import LOT, propose, shown

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from streamlit.testing.v1 import AppTest

    from motifs.catalogue import Catalogue

    Opener = Callable[..., AppTest]


def test_lots_are_told_with_what_waits(page: Opener, cat: Catalogue) -> None:
    at = page("lots")
    assert "slip:red" in shown(at)
    assert "&lt;b&gt;Marl $x$" in shown(at)
    assert [link.label for link in at.get("page_link")].count("Sort the lot") == 2
    propose(cat, LOT, [0, 1] * 4, asked=(0, 3))
    assert "Answer 1 question" in [link.label for link in at.run().get("page_link")]


def test_lots_are_sifted(page: Opener, collection: Path) -> None:
    at = page("lots")
    at.text_input(key="find").set_value("5*3").run()
    assert "1 lot of 2" in shown(at)
    at.selectbox(key="with").set_value("backs or numbers to settle").run()
    assert "0 lots of 2" in shown(at)
    assert "No lot is like that." in shown(at)


def test_every_stage_of_a_lot_is_a_way_to_its_page(page: Opener, collection: Path) -> None:
    labels = [link.label for link in page("lots").get("page_link")]
    for name in ("Photographs", "Outlines", "Tags", "Vessels", "Layout", "Comparanda", "Sites", "Report"):
        assert labels.count(name) == 2
    assert labels.count("Practice") == 1
