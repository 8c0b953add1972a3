"""Records of a sorting: JSON there and back, numbers that stay put, marks against a known answer."""

from __future__ import annotations

import json
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from motifs.records import Assignment, CueReading, CueVote
from motifs.workflows.labels import keep_labels
from motifs.workflows.marking import mark_lot
from motifs.workflows.reasons import with_words
from motifs.workflows.sort import fitness_to_ask
from motifs.workflows.sorting import LotSorting, PairQuestion, PlacedSherd, packed, unpacked
from tests.workflows.conftest import LOT

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue, SherdRow


def sorting(vessels: list[int | None]) -> LotSorting:
    count = len({vessel for vessel in vessels if vessel is not None})
    placed = tuple(PlacedSherd(f"{LOT}-{n:03d}", vessel, 0.9, None) for n, vessel in enumerate(vessels, start=1))
    return LotSorting(LOT, count, (count, count), placed, ())


def vessels_of(proposed: LotSorting) -> list[int | None]:
    return [placed.vessel for placed in proposed.assignments]


def test_json_there_and_back() -> None:
    vote = CueVote("paste", 2.5, "paste 1.2 apart (CIEDE2000): for")
    placed = (
        PlacedSherd("L-001", 0, 0.93, 1, (vote,), attributed="jar"),
        PlacedSherd("L-002", None, 1.0, None, left_out=True),
    )
    whole = LotSorting("L", 1, (1, 3), placed, (PairQuestion("L-001", "L-002", "close"),), ("a note",), 13)
    assert unpacked("L", json.loads(json.dumps(packed(whole)))) == whole


def test_a_sorting_kept_before_joins_were_counted_is_still_read() -> None:
    kept = packed(sorting([0, 0, 1]))
    del kept["joins_heard"]
    assert unpacked(LOT, kept).joins_heard == 0


def test_only_whole_sherds_are_asked_about() -> None:
    def sherd(area_mm2: float | None, look: str | None = None) -> SherdRow:
        return cast("SherdRow", SimpleNamespace(area_mm2=area_mm2, look=look))

    fitness = fitness_to_ask([sherd(600.0), sherd(500.0), sherd(20.0), sherd(900.0, "too pale to tell")])
    assert fitness[0] > fitness[1] > 0
    assert fitness[2:] == [0.0, 0.0]
    assert fitness_to_ask([sherd(100.0, "touches the edge")]) == [1.0]
    assert fitness_to_ask([sherd(None), sherd(None)]) == [1.0, 1.0]
    assert fitness_to_ask([]) == []


def test_an_empty_lot_there_and_back() -> None:
    empty = LotSorting("L", 0, (0, 0), (), ())
    assert packed(empty)["question"] is None
    assert unpacked("L", packed(empty)) == empty


def test_reasons_put_a_person_before_the_cues() -> None:
    vote = CueVote("paste", 2.5, "paste 1.2 apart")
    assert PlacedSherd("s", 0, 0.9, 1, (vote,), attributed="jar").why == (
        "the analyst gave it to vessel 'jar'",
        "paste 1.2 apart",
    )
    assert PlacedSherd("s", None, 1.0, None, left_out=True).why == ("left unassigned by the analyst",)


def test_numbers_stay_where_most_sherds_are() -> None:
    assert vessels_of(keep_labels(sorting([1, 1, 0, 0, 0]), sorting([0, 0, 1, 1, 1]))) == [0, 0, 1, 1, 1]
    assert vessels_of(keep_labels(sorting([0, 0, 1]), None)) == [0, 0, 1]
    assert vessels_of(keep_labels(sorting([None, 0]), sorting([0, None]))) == [None, 0]
    assert keep_labels(sorting([]), sorting([0])).assignments == ()


@given(st.lists(st.integers(0, 3), min_size=1, max_size=10), st.lists(st.integers(0, 5), min_size=1, max_size=10))
def test_renumbering_changes_names_only(fresh: list[int], earlier: list[int]) -> None:
    names = {vessel: place for place, vessel in enumerate(dict.fromkeys(fresh))}
    new = sorting([names[vessel] for vessel in fresh])
    kept = keep_labels(new, sorting(list(earlier)))
    assert len(set(zip(vessels_of(new), vessels_of(kept), strict=True))) == new.vessels
    assert set(vessels_of(kept)) == set(range(new.vessels))


def test_words_set_a_sherd_beside_its_vessel() -> None:
    light, dark = CueReading((70.0, 5.0, 15.0), (1.0,) * 3), CueReading((40.0, 5.0, 15.0), (1.0,) * 3)
    votes = (CueVote("paste", 3.0, ""), CueVote("unheard", -1.0, ""))
    assignments = [Assignment(0, 0.9, 1, votes), Assignment(1, 0.9, 0, votes[:1]), Assignment(None, 0.2, 1, votes[:1])]
    told = with_words(assignments, [{"paste": light}, {"paste": dark}, {"paste": dark}])
    assert told[0].votes[0].why.startswith("paste 0.0 apart")
    assert told[0].votes[1].why == "unheard: against"
    assert told[2].votes[0].why.startswith("paste 0.0 apart")
    assert with_words([], []) == ()


def answer_of(cat: Catalogue, pots: list[int], *, moved_px: float = 0.0) -> dict[str, list[dict[str, Any]]]:
    """An answer made of the found outlines themselves, with these pots in the lot's order."""
    photos: dict[str, dict[str, Any]] = {}
    for sherd, pot in zip(cat.sherds(LOT), pots, strict=True):
        photo = photos.setdefault(sherd.photo_name, {"file": f"somewhere/{sherd.photo_name}", "sherds": []})
        outline = np.asarray(sherd.outline_px) + moved_px
        photo["sherds"].append({"number": len(photo["sherds"]) + 1, "pot": pot, "outline_px": outline.tolist()})
    return {"photos": list(photos.values())}


def test_a_perfect_sorting_is_marked_1(cat: Catalogue) -> None:
    mark = mark_lot(cat, sorting([1, 0] * 4), answer_of(cat, [0, 1] * 4))
    assert (mark.pots, mark.sorting.adjusted_rand, mark.missed, mark.false_finds) == (2, 1.0, 0, 0)


def test_unassigned_sherds_count_as_vessels_of_their_own(cat: Catalogue) -> None:
    """Worked by hand: pots 4 + 4; one sherd unassigned. Pairs: 28; together in both 3 + 6 = 9; sums 12 and 9.

    Expected 12 * 9 / 28 = 27/7; ARI = (9 - 27/7) / ((12 + 9) / 2 - 27/7) = 72/93.
    """
    mark = mark_lot(cat, sorting([0, 1, 0, 1, 0, 1, None, 1]), answer_of(cat, [0, 1] * 4))
    assert mark.sorting.adjusted_rand == pytest.approx(72 / 93)


def test_what_lies_elsewhere_is_a_false_find_and_a_miss(cat: Catalogue) -> None:
    mark = mark_lot(cat, sorting([0, 1] * 4), answer_of(cat, [0, 1] * 4, moved_px=3000.0))
    assert (mark.missed, mark.false_finds, mark.sorting.unassigned) == (8, 8, 8)
