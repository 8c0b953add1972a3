"""The layout page under AppTest, and what it puts into the catalogue; texts of the catalogue stay texts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from motifs.ui.components.layout_table import read_laying
from motifs.ui.presenters.layout import PictureFit, layout_json, standing_words
from motifs.workflows.layout import LaidSherd, VesselLayout
from motifs.workflows.moves import move_sherds
from tests.ui.conftest import LOT, press, shown

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from streamlit.testing.v1 import AppTest

    from motifs.catalogue import Catalogue

    Opener = Callable[..., AppTest]

A, B = f"{LOT}-001", f"{LOT}-002"


def test_the_page_opens_with_and_without_a_collection(
    page: Opener, collection: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at = page("layout", lot=LOT)
    assert not at.exception
    assert "m-wrong" not in shown(at)
    monkeypatch.setenv("MOTIFS_COLLECTION", str(tmp_path / "none"))
    at = page("layout", by=None)
    assert "m-empty" in shown(at)


def laid_page(page: Opener, cat: Catalogue, **more: str) -> AppTest:
    move_sherds(cat, LOT, [A, B], "<i>jar", by="test")
    return press(page("layout", lot=LOT, vessel="<i>jar", **more), "Match edges")


def test_sherds_are_laid_by_numbers_locked_and_released(page: Opener, cat: Catalogue) -> None:
    at = laid_page(page, cat, sherd=A)
    assert not at.exception
    assert "2 sherds lie by their joins" in shown(at)
    at.number_input(key="lay_x").set_value(40.0)
    at.number_input(key="lay_y").set_value(-12.5)
    at = press(at, "Lay it here and lock")
    place = cat.placements(LOT)[A]
    assert (place.x_mm, place.y_mm, place.by) == (40.0, -12.5, "M. Oduya")
    at = press(at, "Leave it to its joins")
    assert cat.placements(LOT) == {}
    press(at, "Undo")
    assert A in cat.placements(LOT)


def test_a_decision_is_recorded_with_the_cautions_beside_it(page: Opener, cat: Catalogue) -> None:
    at = laid_page(page, cat)
    assert "Ask a conservator; local rules" in shown(at)
    at.selectbox(key="treat_decision_answer").set_value("leave apart").run()
    at.text_input(key="treat_decision_against").set_value("weak $x$ ware").run()
    at = press(at, "Keep this entry")
    (row,) = cat.treatments(LOT)
    assert (row.kind, row.vessel, row.fields) == (
        "decision",
        "<i>jar",
        {"answer": "leave apart", "against": "weak $x$ ware"},
    )
    assert "<i>jar" not in shown(at)


def test_nothing_is_laid_without_a_name(page: Opener, cat: Catalogue) -> None:
    move_sherds(cat, LOT, [A, B], "1", by="test")
    at = press(page("layout", by=None, lot=LOT, vessel="1", sherd=A), "Match edges")
    at = press(at, "Lay it here and lock")
    assert "your name is missing" in shown(at)
    assert cat.placements(LOT) == {}


@pytest.mark.parametrize(
    "sent",
    [None, "x", {}, {"sherd": "other", "x": 1, "y": 1, "turn": 0}, {"sherd": "a", "x": "1", "y": 1, "turn": 0}, {"sherd": "a", "x": float("nan"), "y": 1, "turn": 0}],
)  # fmt: skip
def test_what_a_browser_should_not_send_is_passed_over(sent: object) -> None:
    assert read_laying(sent, {"a"}) is None


def test_a_laying_is_read() -> None:
    laying = read_laying({"sherd": "a", "x": 1, "y": 2.5, "turn": -90}, {"a"})
    assert laying is not None
    assert (laying.x_mm, laying.y_mm, laying.turn_deg) == (1.0, 2.5, -90.0)


def test_points_are_sent_as_they_lie_in_the_sherds_own_frame() -> None:
    outline = np.array([[110.0, 50.0], [100.0, 60.0], [90.0, 50.0], [100.0, 40.0]])
    one = LaidSherd("a", 100.0, 50.0, 90.0, "joins", 0, None, outline)
    laid = VesselLayout("L", "1", (one,), (), (), None, "", "flat", False, ())
    (sent,) = layout_json(laid, {}, {"a": PictureFit(0, 0, 1)}, (), None)["sherds"]
    # Turned back by a quarter: what lies to the right in the layout lies above in the photograph.
    assert sent["points"][0] == [0.0, -10.0]
    assert "Which way is up is not known" in standing_words(laid)
