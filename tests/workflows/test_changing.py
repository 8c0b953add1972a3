"""What would change an answer, in words."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motifs.records import CueVote
from motifs.workflows.changing import carriers, cue_words, odds_words, pair_changes, sherd_changes
from motifs.workflows.pairs import PairReason
from motifs.workflows.table import LotTable, TableSherd, TableVessel

SHERD = TableSherd("L-1", "1", 0.9, "2", (), (), None, "", False)
RIVAL = TableSherd("L-9", "2", 0.9, "1", (), (), None, "", False)
TABLE = LotTable("L", (TableVessel("1", (SHERD,)), TableVessel("2", (RIVAL,))), (), (2, 2), (), {}, (), True)

cue_nats = st.lists(st.tuples(st.sampled_from("abcdef"), st.integers(-9, 9)), max_size=6, unique_by=lambda one: one[0])


def with_votes(**nats: float) -> TableSherd:
    return replace(SHERD, votes=tuple(CueVote(cue, value, "") for cue, value in nats.items()))


@given(cue_nats)
def test_without_the_carriers_the_rest_says_the_contrary_and_with_one_fewer_it_does_not(
    nats: list[tuple[str, float]],
) -> None:
    total = sum(value for _, value in nats)
    taken = carriers(nats)
    if not taken:
        return
    left = sum(value for cue, value in nats if cue not in taken)
    assert left * total <= 1e-9
    kept = sum(value for cue, value in nats if cue not in taken[:-1])
    assert kept * total > 0


def test_no_evidence_has_no_carriers() -> None:
    assert carriers([]) == ()
    assert carriers([("paste", 2.0), ("line", 1.0)]) == ("paste", "line")
    assert carriers([("paste", 3.0), ("line", -2.0)]) == ("paste",)


def test_a_sherd_held_by_one_cue_names_it_and_the_word_that_would_move_it() -> None:
    told = sherd_changes(TABLE, with_votes(paste=3.0, line=-2.0))
    assert told == (
        "Without the colour of the paste it would go to vessel 2.",
        "Your word would move it: that it is of one vessel with L-9, the surest sherd of vessel 2.",
    )


def test_a_sherd_that_every_cue_holds_says_so() -> None:
    assert sherd_changes(TABLE, with_votes(paste=3.0, line=2.0))[0] == (
        "No cue speaks against it, so leaving out any of them changes nothing."
    )


def test_a_sherd_that_its_own_cues_do_not_hold() -> None:
    assert "do not hold it here" in sherd_changes(TABLE, with_votes(paste=-3.0))[0]


def test_words_and_locks_go_before_cues() -> None:
    judged = replace(with_votes(paste=3.0), judged_by="M. O.")
    assert sherd_changes(TABLE, judged) == ("It lies on the word of M. O.: take that back to let the evidence decide.",)
    assert "unlock vessel 1" in sherd_changes(TABLE, replace(judged, is_locked=True))[0]
    assert sherd_changes(TABLE, replace(SHERD, next_best=None)) == ()


def test_a_pair_tells_its_odds_and_what_carries_them() -> None:
    reasons = [PairReason("paste", "", math.log(24)), PairReason("line", "", -math.log(2))]
    assert pair_changes(reasons) == (
        "Together the cues speak for one vessel, about 12 to 1.",
        "Without the colour of the paste they would speak for two.",
    )
    assert pair_changes([]) == ()
    assert "do not tell" in pair_changes([PairReason("line", "", 0.1)])[0]


@pytest.mark.parametrize(
    ("nats", "words"), [(0.0, "about 1 to 1"), (math.log(2.5), "about 2.5 to 1"), (50.0, "over 1000 to 1")]
)
def test_odds(nats: float, words: str) -> None:
    assert odds_words(nats) == words


def test_a_cue_of_later_goes_by_its_own_name() -> None:
    assert cue_words("wall_thickness") == "wall thickness"
