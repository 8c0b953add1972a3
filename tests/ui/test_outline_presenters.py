"""What the page of photographs shows of outlines: the drawing board's input, lists, points as text, figures in words."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from motifs.errors import InputError
from motifs.ui.components.drawing_board import read_drawing
from motifs.ui.presenters import photographs as shown
from motifs.workflows.figure_words import FigureLine
from tests.ui.test_presenters import PHOTO, SHERD

URLS = {"small": "a", "screen": "b", "detail": "c"}


def board(sherds=(SHERD,), chosen=(), **more):
    return shown.board_json(PHOTO, sherds, chosen, URLS, **more)


def test_an_outline_keeps_its_place_on_the_photograph():
    drawn = board(chosen=["L-001", "gone"])
    assert drawn["chosen"] == ["L-001"]
    outline = drawn["outlines"][0]
    assert outline["polygon"] == [[0.0, 0.0], [100.0, 0.0], [100.0, 50.0]]
    assert (outline["label"], outline["at"]) == ("001", [50.0, 25.0])
    assert "touches the frame" in outline["alt"]
    assert (outline["arrow"], outline["is_by_hand"]) == (None, False)


def test_no_outlines_is_a_photograph():
    assert board(())["outlines"] == []
    assert board((), ["L-001"])["full"] is None


def test_long_outlines_are_thinned_but_the_chosen_one_comes_whole():
    turn = np.linspace(0, 2 * np.pi, 1000, endpoint=False)
    round_ = np.column_stack([500 + 300 * np.cos(turn), 500 + 200 * np.sin(turn)]).astype(np.float32)
    many = replace(SHERD, outline_px=round_)
    drawn = board([many], ["L-001"])
    assert 100 <= len(drawn["outlines"][0]["polygon"]) <= shown.MOST_POINTS
    assert len(drawn["full"]["points"]) == 1000
    assert board([many])["full"] is None


@pytest.mark.parametrize(("turn", "points_to"), [(0, (0, -1)), (90, (-1, 0)), (180, (0, 1)), (270, (1, 0))])
def test_the_arrow_points_to_the_rim(turn, points_to):
    """Turned 90 degrees clockwise, what is on the left comes up: so the rim is on the left."""
    x1, y1, x2, y2 = board([replace(SHERD, rim_up_deg=float(turn))])["outlines"][0]["arrow"]
    length = math.hypot(x2 - x1, y2 - y1)
    assert ((x2 - x1) / length, (y2 - y1) / length) == pytest.approx(points_to, abs=0.01)


def test_only_a_sherd_that_is_there_is_gone_to():
    assert board(go_to="L-001")["go_to"] == "L-001"
    assert board(go_to="L-999")["go_to"] is None


def sherd(number, look=None):
    return replace(SHERD, number=number, look=look)


def test_what_asks_for_a_look_comes_first_and_one_after_the_other():
    sherds = [sherd("1"), sherd("2", "faint"), sherd("3"), sherd("4", "faint")]
    assert [row[0] for row in shown.sherd_rows(shown.look_first(sherds))] == ["2", "4", "1", "3"]
    assert [shown.next_to_look(sherds, chosen).number for chosen in ([], ["2"], ["3"], ["4"])] == ["2", "4", "4", "2"]
    assert shown.next_to_look(sherds[1:2], ["2"]) is None
    assert shown.next_to_look(sherds[:1], []) is None
    assert shown.next_to_look([], []) is None


def test_whose_outline_and_how_it_stands_in_words():
    assert (shown.outline_words(SHERD), shown.rim_words(SHERD)) == ("as found", "not known")
    drawn = replace(SHERD, outline_by="M. Oduya", rim_up_deg=22.5)
    assert (shown.outline_words(drawn), shown.rim_words(drawn)) == ("drawn by M. Oduya", "turned 22.5° clockwise")


@pytest.mark.parametrize(("to_look", "label"), [(0, "2. t.jpg"), (3, "2. t.jpg (3 to look at)")])
def test_a_photograph_says_how_much_waits(to_look, label):
    assert shown.photo_label(2, replace(PHOTO, file_name="t.jpg"), to_look) == label


@given(st.lists(st.tuples(st.integers(0, 900_000), st.integers(0, 900_000)), min_size=3, max_size=30))
def test_points_survive_being_text(hundredths):
    points = np.array(hundredths, np.float64) / 100
    assert np.allclose(shown.points_of(shown.points_text(points.astype(np.float32))), points, atol=0.01)


@pytest.mark.parametrize("text", ["1, 2\n3, 4", "1 2\n\n3 4\n", "1;2\r\n3;4", " 1 , 2 \n 3.0, 4e0 "])
def test_points_are_read_as_people_write_them(text):
    assert shown.points_of(text) == [(1.0, 2.0), (3.0, 4.0)]


@pytest.mark.parametrize("text", ["1, 2\n3", "1, 2\nx, 4", "1, 2\n3, 4, 5"])
def test_a_line_that_is_no_point_is_named(text):
    with pytest.raises(InputError, match="line 2"):
        shown.points_of(text)


def test_nothing_typed_is_no_points():
    assert shown.points_of("\n \n") == []


@pytest.mark.parametrize(
    "sent",
    [
        None,
        "redraw",
        {},
        {"tool": "redraw"},
        {"tool": "erase", "sherd": "1", "points": []},
        {"tool": "redraw", "sherd": "9", "points": []},
        {"tool": "split", "sherd": None, "points": []},
        {"tool": "add", "points": "x"},
    ],
)
def test_what_is_no_drawing_is_passed_over(sent):
    assert read_drawing(sent, {"1"}) is None


def test_a_drawing_is_read():
    drawing = read_drawing({"tool": "add", "sherd": "9", "points": [[1, 2]]}, {"1"})
    assert (drawing.tool, drawing.sherd, drawing.points) == ("add", None, [[1, 2]])


def test_figures_are_shown_with_what_to_keep_in_mind():
    lines = [FigureLine("paste colour", "5YR 6/4 (1.2)", "nearest chips"), FigureLine("area", "12 mm²")]
    assert shown.figure_facts(lines) == [("Paste colour", "5YR 6/4 (1.2) (nearest chips)"), ("Area", "12 mm²")]
    assert shown.figure_facts([]) == []
