"""Tables searched, sorted and turned; drawings measured; piles as a text; lists and walls of comparanda."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motifs.catalogue import Citation, ComparandumRow
from motifs.ui.presenters import comparanda as words
from motifs.ui.presenters.drawn import size_of
from motifs.ui.presenters.practice import PILES, answer_wall, piles_from, piles_text
from motifs.ui.presenters.second_look import differing_wall
from motifs.ui.presenters.sifting import grid, grid_html, ordered, paged, shown_words, sifted
from motifs.workflows.agreeing import MatchedRegions
from motifs.workflows.comparanda import Comparanda, Neighbour

FINDS = grid(
    ("Find", "Ware", "Weight"),
    [("A-10", "grey", "2.5 g"), ("A-2", "Red", "–"), ("A-1", "grey", "11 g"), ("B-1", "red", "-3")],
    "Finds",
)


def column(one, name):
    return [row[one.head.index(name)] for row in one.rows]


def test_numbers_within_names_are_counted_not_spelt() -> None:
    assert column(ordered(FINDS, "Find"), "Find") == ["A-1", "A-2", "A-10", "B-1"]
    assert column(ordered(FINDS, "Find", is_falling=True), "Find") == ["B-1", "A-10", "A-2", "A-1"]


@pytest.mark.parametrize("is_falling", [False, True])
def test_what_has_no_number_comes_last(is_falling: bool) -> None:
    found = column(ordered(FINDS, "Weight", is_falling=is_falling), "Weight")
    assert found[-1] == "–"
    assert found[:-1] == (["11 g", "2.5 g", "-3"] if is_falling else ["-3", "2.5 g", "11 g"])


def test_a_table_is_searched_whatever_the_capitals() -> None:
    assert column(sifted(FINDS, " RED "), "Find") == ["A-2", "B-1"]
    assert sifted(FINDS, "") == FINDS
    assert sifted(FINDS, "blue").rows == ()
    assert ordered(FINDS, "no such column") == FINDS


def test_pages_hold_every_row_once() -> None:
    numbers = grid(("N",), [(n,) for n in range(23)], "")
    assert [row[0] for page in (1, 2, 3) for row in paged(numbers, page, 10).rows] == list(range(23))
    assert paged(numbers, 4, 10).rows == ()
    assert shown_words(10, 23, 23) == "10 of 23 rows"
    assert shown_words(3, 3, 23) == "3 of 3 rows found, among 23"
    assert shown_words(0, 0, 0) == "0 rows"


def test_cells_are_text_on_the_page() -> None:
    assert "<b>" not in grid_html(grid(("<b>",), [("<b>x",)], "<b>"))


@given(st.lists(st.tuples(st.text(max_size=4), st.floats(allow_nan=False, allow_infinity=False)), max_size=12))
def test_ordering_keeps_every_row(rows) -> None:
    one = grid(("Text", "Number"), rows, "")
    for name in one.head:
        for is_falling in (False, True):
            assert sorted(map(repr, ordered(one, name, is_falling=is_falling).rows)) == sorted(map(repr, one.rows))


@given(st.lists(st.sampled_from([None, *PILES]), max_size=40))
def test_piles_come_back_from_their_text(lying) -> None:
    keys = [f"1-{k:02d}" for k in range(len(lying))]
    piles = dict(zip(keys, lying, strict=True))
    assert piles_from(keys, piles_text(keys, piles)) == piles


def test_a_text_that_is_of_other_sherds_is_no_piles() -> None:
    assert piles_from(["a", "b"], "A") is None
    assert piles_from(["a", "b"], "A?") is None
    assert piles_from(["a", "b"], "AG") is None
    assert piles_from([], "") == {}


def test_the_answer_sets_apart_what_lay_with_another_pot() -> None:
    wall = answer_wall({"a": 0, "b": 0, "c": 0, "d": 1}, {"a": "A", "b": "A", "c": None, "d": "A"})
    assert [[tile.sherd for tile in row.tiles] for row in wall.rows] == [["a", "b", "c"], ["d"]]
    assert wall.dashed == ("d",)
    assert wall.rows[1].tiles[0].marks == ("put with pot 1",)
    assert wall.rows[0].tiles[2].captions == ("left aside",)


def test_what_was_called_otherwise_stands_in_pairs_of_terms() -> None:
    first = {"a": "scroll", "b": "scroll", "c": "fret", "d": "fret"}
    wall = differing_wall(first, {"a": "fret", "b": "fret", "c": "scroll", "d": "fret", "gone": "fret"}, "I. Sato")
    assert [(row.title, [tile.sherd for tile in row.tiles]) for row in wall.rows] == [
        ("scroll, then fret", ["a", "b"]),
        ("fret, then scroll", ["c"]),
    ]
    assert differing_wall(first, first, "I. Sato").rows == ()


def test_neighbours_are_laid_out_as_asked() -> None:
    near = (
        Neighbour(1, "x", "L", "East", 0.5, 0.9),
        Neighbour(2, "y", "L", None, 0.8, 0.7),
        Neighbour(3, "z", "M", "East", 0.6, 0.6),
    )
    found = Comparanda("q", "enc", None, near, 9, (), is_comparable=True)

    def rows(order: str, text: str = "") -> list[tuple[str, list[str]]]:
        wall = words.neighbours_wall(found, order, text)
        return [(row.title, [tile.sherd for tile in row.tiles]) for row in wall.rows[1:]]

    assert rows(words.PROBABLE_FIRST) == [("Nearest decorations", ["x", "y", "z"])]
    assert rows(words.ALIKE_FIRST) == [("Nearest decorations", ["y", "z", "x"])]
    assert rows(words.BY_SITE) == [("East", ["x", "z"]), ("Site not recorded", ["y"])]
    assert rows(words.PROBABLE_FIRST, "EAST") == [("Nearest decorations", ["x", "z"])]


@pytest.mark.parametrize(
    ("turn", "mirrored", "query_up", "other_up", "seen"),
    [(30.0, False, 0.0, 0.0, 30.0), (30.0, False, 30.0, 60.0, 0.0), (-20.0, False, 20.0, 0.0, 0.0), (30.0, True, 30.0, 0.0, 0.0)],
)  # fmt: skip
def test_a_turn_is_told_as_it_is_seen(turn, mirrored, query_up, other_up, seen) -> None:
    regions = MatchedRegions("q", (), (), 5, 1.0, turn, 1.0, is_mirrored=mirrored)
    assert words.seen_turn_deg(regions, query_up, other_up) == pytest.approx(seen)


def test_turns_are_the_shorter_way_round() -> None:
    assert words.turned_words(350.0) == "turned by 10° clockwise"
    assert words.turned_words(-190.0) == "turned by 170° anticlockwise"
    assert words.turned_words(360.2) == "as it stands"


def kept(entry_id: int, query: str, sherd: str | None, **more: str) -> ComparandumRow:
    return ComparandumRow(
        entry_id,
        "hooks",
        query,
        sherd,
        "L" if sherd else None,
        more.get("site"),
        None,
        more.get("reason", "same hook"),
        Citation(title=more.get("title", ""), holder=more.get("holder", "")),
        None,
        None,
        None,
        "T. Hale",
        "2026-03-05T14:07:00",
    )


def test_a_list_is_searched_sorted_and_shown_by_sherd() -> None:
    entries = (
        kept(1, "b", "x", site="West"),
        kept(2, "a", None, title="Bowls of the tarns", holder="District store"),
        kept(3, "b", "y", site="East"),
    )
    assert [one.entry_id for one in words.kept_sifted(entries, "tarns", "oldest first")] == [2]
    assert [one.entry_id for one in words.kept_sifted(entries, "", "newest first")] == [3, 2, 1]
    assert [one.entry_id for one in words.kept_sifted(entries, "", "by sherd")] == [2, 1, 3]
    assert [one.entry_id for one in words.kept_sifted(entries, "", "by site")] == [2, 3, 1]
    wall = words.kept_wall(entries)
    assert [(row.key, [tile.sherd for tile in row.tiles]) for row in wall.rows] == [
        ("b", ["b", "x", "y"]),
        ("a", ["a"]),
    ]
    assert "Bowls of the tarns" in wall.rows[1].note
    assert len(words.kept_rows(entries)[0]) == len(words.KEPT_HEAD)
    assert words.kept_wall(()).rows == ()


def test_the_size_of_a_drawing_is_its_view_box() -> None:
    assert size_of('<svg viewBox="0 0 481.89 120.50">') == (481.89, 120.5)
    assert size_of("<svg>") == (1.0, 1.0)
    assert size_of('<svg viewBox="0 0 0 5">') == (1.0, 1.0)
