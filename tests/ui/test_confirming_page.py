"""Backs, numbers and rims under AppTest, and what they put into the catalogue."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from motifs.errors import InputError
from motifs.ui.presenters.confirming import in_order, label_doubt, rim_words, share_words
from motifs.workflows.confirm_pictures import label_picture, rim_picture, rim_stretch, view_picture
from motifs.workflows.rims import rim_by_chord
from tests.ui.conftest import LOT, press, shown

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from streamlit.testing.v1 import AppTest

    from motifs.catalogue import Catalogue, LabelRow, ViewRow

    Opener = Callable[..., AppTest]

A, B = f"{LOT}-001", f"{LOT}-002"


def add_views(cat: Catalogue) -> tuple[ViewRow, ViewRow]:
    """A view paired with the first sherd that waits for a look, and a loose one; outlines are those of faces."""
    first, second = (cat.sherd(number) for number in (A, B))
    with cat.transaction(by="test"):
        paired = cat.add_view(first.photo_id, first.outline_px, "interior")
        paired = cat.pair_view(paired.view_id, A, standing="look", distance_mm=0.4, margin=2.0, turn_deg=0.0)
        return paired, cat.add_view(second.photo_id, second.outline_px, "interior")


def add_label(cat: Catalogue, text: str = "0012", rival: str | None = None) -> LabelRow:
    sherd = cat.sherd(A)
    x, y = (float(v) for v in sherd.outline_px.max(axis=0))
    box = [(x, y), (x + 60, y), (x + 60, y + 20), (x, y + 20)]
    with cat.transaction(by="test"):
        cat.propose_label(A, sherd.photo_id, text, confidence=0.7, place="slip", box_px=box, rival=rival)
    (label,) = cat.labels(LOT, state="proposed")
    return label


def panel(at: AppTest, name: str) -> AppTest:
    at.session_state["panel"] = name
    return at.run()


def test_the_page_opens_with_and_without_a_collection(
    page: Opener, collection: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at = page("confirming", lot=LOT)
    for name in ("Backs", "Numbers", "Rims"):
        at = panel(at, name)
        assert not at.exception
        assert "m-wrong" not in shown(at)
    monkeypatch.setenv("MOTIFS_COLLECTION", str(tmp_path / "none"))
    at = page("confirming", by=None)
    assert "m-empty" in shown(at)


def test_a_pair_is_confirmed_and_a_loose_back_given_to_a_sherd(page: Opener, cat: Catalogue) -> None:
    paired, loose = add_views(cat)
    at = page("confirming", lot=LOT)
    assert "2 views, 2 to look at" in shown(at)
    at.button(key=f"same_{paired.view_id}").click().run()
    at.selectbox(key=f"whose_{loose.view_id}").set_value(B).run()
    at.button(key=f"pair_{loose.view_id}").click().run()
    assert [(view.sherd, view.standing) for view in cat.views(LOT)] == [(A, "confirmed"), (B, "confirmed")]
    assert cat.history(LOT)[0].by == "M. Oduya"
    at.button(key=f"drop_{loose.view_id}").click().run()
    assert [view.view_id for view in cat.views(LOT)] == [paired.view_id]
    assert not at.exception


def test_nothing_is_confirmed_without_a_name(page: Opener, cat: Catalogue) -> None:
    paired, _ = add_views(cat)
    at = page("confirming", by=None, lot=LOT)
    at.button(key=f"same_{paired.view_id}").click().run()
    assert "your name is missing" in shown(at)
    assert cat.view(paired.view_id).standing == "look"


def test_a_number_is_given_as_read_and_stays_text(page: Opener, cat: Catalogue) -> None:
    label = add_label(cat)
    at = panel(page("confirming", lot=LOT), "Numbers")
    at.button(key=f"yes_{label.label_id}").click().run()
    assert "0012" in {sherd.number for sherd in cat.sherds(LOT)}
    assert A not in {sherd.number for sherd in cat.sherds(LOT)}
    assert "No number waits for an answer." in shown(at)


def test_a_number_is_typed_right_or_refused(page: Opener, cat: Catalogue) -> None:
    label = add_label(cat, "1E5", rival="SE1")
    at = panel(page("confirming", lot=LOT), "Numbers")
    assert "It reads 1E5 one way up and SE1 the other." in shown(at)
    at.text_input(key=f"number_{label.label_id}").set_value("11-4").run()
    at.button(key=f"yes_{label.label_id}").click().run()
    assert "11-4" in {sherd.number for sherd in cat.sherds(LOT)}
    other = cat.sherd(B)
    with cat.transaction(by="test"):
        cat.propose_label(B, other.photo_id, "77", confidence=0.9, place="inked", box_px=label.box_px, rival=None)
    at.run()
    press(at, "Read wrongly")
    assert cat.labels(LOT, state="proposed") == ()
    assert "77" not in {sherd.number for sherd in cat.sherds(LOT)}


def test_rims_by_chord_by_chart_unknown_and_withdrawn(page: Opener, cat: Catalogue) -> None:
    at = panel(page("confirming", lot=LOT), "Rims")
    at.number_input(key="rim_chord").set_value(60.0)
    at.number_input(key="rim_sagitta").set_value(5.0).run()
    at = press(at, "Record chord and rise")
    # A chord of 60 mm with a rise of 5 mm: D = c^2 / (4 s) + s = 185 mm (the sagitta formula).
    assert cat.rims(LOT)[A].reading.diameter_mm == pytest.approx(185.0)
    assert "diameter 185" in shown(at)
    at.selectbox(key="choose_sherd").set_value(B).run()
    at = press(at, "Record diameter unknown")
    assert cat.rims(LOT)[B].reading.diameter_mm is None
    at = press(at, "No rim after all")
    assert set(cat.rims(LOT)) == {A}


def test_a_rise_that_tells_nothing_is_refused_in_one_line(page: Opener, cat: Catalogue) -> None:
    at = panel(page("confirming", lot=LOT), "Rims")
    at.number_input(key="rim_chord").set_value(20.0)
    at.number_input(key="rim_sagitta").set_value(0.4).run()
    at = press(at, "Record chord and rise")
    assert "diameter unknown" in shown(at)
    assert cat.rims(LOT) == {}


def test_pictures_show_the_outline_and_the_frame(cat: Catalogue) -> None:
    paired, _ = add_views(cat)
    label = add_label(cat)
    for picture in (label_picture(cat, label), view_picture(cat, paired), rim_picture(cat, cat.sherd(A), 0.0, 0.25)):
        assert picture.dtype == np.uint8
        assert max(picture.shape[:2]) <= 901
        assert (picture == (24, 72, 120)).all(axis=2).any()
    assert (label_picture(cat, label) == (176, 60, 20)).all(axis=2).any()


def test_a_stretch_of_a_square_is_its_side() -> None:
    square = np.array([[0, 0], [10, 0], [10, 10], [0, 10]], dtype=np.float32)
    stretch = rim_stretch(square, 0.25, 0.5)
    assert stretch[0] == pytest.approx([10, 0])
    assert stretch[-1] == pytest.approx([10, 10])
    over_the_start = rim_stretch(square, 0.75, 1.25)
    assert over_the_start[[0, -1]] == pytest.approx(np.array([[0, 10], [10, 0]]))
    for begin, end in ((0.2, 0.2), (0.0, 0.6), (-0.1, 0.1), (1.1, 1.2)):
        with pytest.raises(InputError, match="no stretch of rim"):
            rim_stretch(square, begin, end)


def test_words_for_rims_and_views(cat: Catalogue) -> None:
    paired, loose = add_views(cat)
    assert in_order([loose, paired]) == [paired, loose]
    reading = rim_by_chord(60.0, 5.0)
    assert rim_words(reading).startswith("diameter 185 ± ")
    assert share_words(reading).endswith("% of the rim")
    assert label_doubt(add_label(cat)) == "Hard to read: look twice."
