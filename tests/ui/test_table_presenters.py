"""Lots, vessels, the map and the counts in words, without Streamlit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from motifs.catalogue import LotRow, LotTally
from motifs.ui.presenters import lots, sorting, table_views, wall
from motifs.workflows import overview
from motifs.workflows.counts import CountLine, LotCounts
from motifs.workflows.evidence_map import LotMap, MapPoint
from motifs.workflows.overview import LotStanding
from motifs.workflows.table import TableVessel
from tests.ui.test_presenters import sherd, table

STANDING = LotStanding("L", "S", 1, 4, 0, 0, 2, (2, 3), 1, 0, 1, True)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"sherds": 0}, "Add photographs"),
        ({"without_scale": 2}, "Give the scale of 2 photographs"),
        ({"vessels": None}, "Sort the lot"),
        ({"is_current": False}, "Sort again: something changed since"),
        ({}, "Answer 1 question"),
        ({"questions": 0}, "Look the vessels over and accept them"),
        ({"judged": 4, "questions": 0}, "Tag 4 sherds"),
        ({"judged": 4, "questions": 0, "tagged": 4}, "Nothing waits: all on a person's word"),
        ({"to_look": 1}, "Look at 1 outline"),
        ({"labels": 3}, "Settle 3 numbers read off photographs"),
        ({"views": 2}, "Look at 2 pairings of turned-over sherds"),
    ],
)
def test_the_next_step_is_the_first_that_waits(change: dict[str, object], words: str) -> None:
    assert lots.next_step(replace(STANDING, **change)).words == words  # type: ignore[arg-type]


def test_everything_that_waits_is_listed_in_order() -> None:
    some = replace(STANDING, to_look=2, is_current=False)
    assert [step.words for step in lots.waiting(some)] == [
        "Look at 2 outlines",
        "Sort again: something changed since",
        "Answer 1 question",
        "Look the vessels over and accept them",
        "Tag 4 sherds",
    ]
    assert lots.waiting(replace(STANDING, judged=4, questions=0, tagged=4)) == ()


def test_stages_go_from_photographs_to_report() -> None:
    some = replace(STANDING, tagged=1, to_look=4, accepted=1, joins_matched=True, compared=2, report=overview.STALE)
    told = {stage.name: (stage.words, stage.page) for stage in lots.stages(some)}
    assert told == {
        "Photographs": ("1", "photographs"),
        "Outlines": ("0 of 4 looked over", "photographs"),
        "Tags": ("1 of 4 tagged", "tagging"),
        "Vessels": ("1 of 2 accepted, 1 unassigned", "sorting_table"),
        "Layout": ("joins proposed", "layout"),
        "Comparanda": ("kept for 2 sherds", "comparanda"),
        "Sites": ("S", "sites"),
        "Report": ("older than the record", "report"),
    }
    html = lots.stages_html(some)
    assert 'style="width:25%"' in html
    assert html.count("<li>") == len(told)


def test_nothing_is_done_in_a_lot_without_anything() -> None:
    empty = overview.LotStanding("L", None, 0, 0, 0, 0, None, None, 0, 0, 0, False)
    assert [stage.share for stage in lots.stages(empty)] == [0.0] * 8
    assert {stage.name: stage.words for stage in lots.stages(empty)}["Sites"] == "no site recorded"


@pytest.mark.parametrize(
    ("change", "words", "share"),
    [
        ({"joins_matched": False}, "not matched yet", 0.0),
        ({"joins_judged": 1}, "1 join judged", 1.0),
        ({"laid": 3}, "joins proposed, 3 laid by hand", 1.0),
    ],
)
def test_the_layout_counts_as_done_when_a_person_spoke(change: dict[str, object], words: str, share: float) -> None:
    stage = lots.stages(replace(STANDING, **{"joins_matched": True, **change}))[4]  # type: ignore[arg-type]
    assert (stage.words, stage.share) == (words, share)


def test_lots_are_sifted_by_what_waits() -> None:
    rows = [LotRow(name, "S", 4, 1) for name in ("a", "b")]
    tallies = {"a": LotTally(to_look=1, tagged=4, judged=4), "b": LotTally(views=1, judged=2)}
    found = {kind: [lot.name for lot in lots.sifted(rows, tallies, "", lots.AS_CAME, kind)] for kind in lots.WAITS}
    assert found == {
        lots.ALL: ["a", "b"],
        lots.OUTLINES: ["a"],
        lots.BACKS: ["b"],
        lots.UNTAGGED: ["b"],
        lots.UNJUDGED: ["b"],
    }


def test_lots_are_sifted_and_ordered() -> None:
    some = [LotRow("b", "X", 4, 1), LotRow("a", "Y", 4, 1), LotRow("c", None, 4, 1)]
    tallies = {"a": LotTally(judged=3)}

    def names(words: str, order: str) -> list[str]:
        return [lot.name for lot in lots.sifted(some, tallies, words, order)]

    assert names("", "name") == ["a", "b", "c"]
    assert names("", "site") == ["c", "b", "a"]
    assert names("", "most to do") == ["b", "c", "a"]
    assert names("Y", "as they came in") == ["a"]
    assert lots.sifted([], {}, "x", "name") == []


def test_a_vessel_says_who_accepted_it_when_and_who_locked_it() -> None:
    judged = [
        sherd(f"L-00{k}", judged_by=by, judged_at=f"2026-0{k}-02T09:00:00+00:00") for k, by in ((1, "B"), (2, "A"))
    ]
    assert sorting.vessel_words(TableVessel("1", tuple(judged))) == "2 sherds, accepted by A and B on 2026-02-02"
    assert sorting.vessel_words(TableVessel("1", (sherd(),), "C")) == "1 sherd, proposed, locked by C"
    row = sorting.table_wall(table(vessels=(TableVessel("1", (sherd(),), "C"),))).rows[0]
    assert (row.takes, [press.key for press in row.buttons]) == (False, ["accept", "unlock"])


def test_places_to_move_to_leave_out_what_is_locked() -> None:
    drawn = wall.wall_json(sorting.table_wall(table(vessels=(TableVessel("1", (sherd(),), "C"),))), {})
    assert [place["key"] for place in drawn["places"]] == ["unassigned", "new"]


def test_clouds_of_the_map_follow_the_table_and_escape_names() -> None:
    points = tuple(MapPoint(number, k, -k) for k, number in enumerate(("L-001", "L-002", "L-003")))
    shown = table_views.clouds(
        LotMap("L", points, ("paste", ""), ()),
        table(vessels=(TableVessel("<b>", (sherd(), sherd("L-009"))),)),
    )
    assert [(cloud.name, cloud.sherds) for cloud in shown] == [
        ("Vessel &lt;b&gt;", ("L-001",)),
        ("Unassigned", ("L-003",)),
    ]
    assert table_views.axis_title("") == "nothing differs along this axis"


@pytest.mark.parametrize(
    "event", [None, {}, {"selection": None}, {"selection": {"points": [{}, 3, {"customdata": [7]}]}}]
)
def test_what_is_no_pick_on_the_chart_picks_nothing(event: object) -> None:
    assert table_views.picked_numbers(event) == []


def test_picks_on_the_chart_are_numbers_once_each() -> None:
    points = [{"customdata": "0012"}, {"customdata": ["1E5"]}, {"customdata": "0012"}]
    assert table_views.picked_numbers({"selection": {"points": points}}) == ["0012", "1E5"]


def test_counts_stand_beside_their_methods() -> None:
    lines = (CountLine("vessels", 2, 3, "by <hand>"), CountLine("vessels", None, None, "by rims", ("none", "yet")))
    told = table_views.counts_html(LotCounts("L", 4, 0, lines, (CountLine("EVE", 1.55, 1.55, "sum"),)))
    assert "<td>2 to 3</td><td>by &lt;hand&gt;</td>" in told
    assert "<td>–</td><td>by rims</td><td>none; yet</td>" in told
    assert "<td>1.55</td>" in told
