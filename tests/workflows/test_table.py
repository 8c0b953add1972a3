"""The sorting table: judgements over proposals, names of vessels, moves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from motifs.errors import InputError, LinksContradict, NameRefused, UnknownName
from motifs.workflows import correct
from motifs.workflows.moves import (
    accept_vessel,
    free_vessel_name,
    lock_vessel,
    merge_vessels,
    move_sherds,
    split_vessel,
    unlock_vessel,
)
from motifs.workflows.overview import lots_at_a_glance
from motifs.workflows.sort import KIND, sort_lot
from motifs.workflows.sorting import LotSorting, PairQuestion, PlacedSherd, packed
from motifs.workflows.table import lay_out_table
from motifs.workflows.tell import tell_pairs
from tests.workflows.conftest import LOT, OTHER

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

NUMBERS = [f"{LOT}-{place:03d}" for place in range(1, 9)]
A, B, C, D = NUMBERS[:4]
BY = "M. Oduya"


def propose(cat: Catalogue, vessels: list[int | None], *, attributed: dict[str, str] | None = None) -> None:
    """Keep a proposal: vessel of each of the lot's eight sherds; the first ones of a vessel are its surest."""
    found = len({vessel for vessel in vessels if vessel is not None})
    judged = attributed or {}
    placed = [
        PlacedSherd(number, vessel, 0.95 - 0.01 * place, None, attributed=judged.get(number))
        for place, (number, vessel) in enumerate(zip(NUMBERS, vessels, strict=False))
    ]
    sorting = LotSorting(
        LOT, found, (found, found), tuple(placed), (PairQuestion(A, C, "close"), PairQuestion(B, D, "close"))
    )
    with cat.transaction(by="test"):
        cat.save_proposal(LOT, KIND, encoder_tags=[], parameters={}, result=packed(sorting))


def rows(cat: Catalogue) -> dict[str, list[str]]:
    table = lay_out_table(cat, LOT)
    told = {vessel.name: sorted(sherd.number for sherd in vessel.sherds) for vessel in table.vessels}
    return told | {"": sorted(sherd.number for sherd in table.unassigned)}


def test_before_the_first_sort_all_lie_in_the_pile(cat: Catalogue) -> None:
    table = lay_out_table(cat, LOT)
    assert not table.is_sorted
    assert [sherd.number for sherd in table.unassigned] == NUMBERS
    assert all(sherd.is_new for sherd in table.sherds)


def test_no_such_lot(cat: Catalogue) -> None:
    with pytest.raises(UnknownName):
        lay_out_table(cat, "never")


def test_a_proposal_is_laid_out_surest_first(cat: Catalogue) -> None:
    propose(cat, [1, 0, 1, 0, 0, None, 0, 0])
    table = lay_out_table(cat, LOT)
    assert [vessel.name for vessel in table.vessels] == ["1", "2"]
    supports = [sherd.support for sherd in table.vessels[0].sherds]
    assert supports == sorted(supports, key=lambda support: -(support or 0))
    assert [sherd.number for sherd in table.unassigned] == [NUMBERS[5]]
    assert table.is_current


def test_a_judgement_lies_over_the_proposal_and_over_the_next(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    correct.attribute(cat, [A], "2", by=BY)
    assert A in rows(cat)["2"]
    assert lay_out_table(cat, LOT).sherd(A).judged_by == BY
    propose(cat, [0, 1] * 4)
    assert A in rows(cat)["2"]
    assert lay_out_table(cat, LOT).sherd(A).next_best == "1"
    correct.withdraw_attribution(cat, [A], by=BY)
    assert A in rows(cat)["1"]


def test_a_vessel_is_called_as_people_called_it_wherever_the_sort_numbers_it(cat: Catalogue) -> None:
    with cat.transaction(by=BY):
        for number in (A, C):
            cat.attribute(number, "jar")
    propose(cat, [1, 0] * 4, attributed={A: "jar", C: "jar"})
    assert sorted(name for name in rows(cat) if name) == ["1", "jar"]
    assert rows(cat)["jar"] == NUMBERS[::2]


def test_a_number_that_people_gave_is_not_given_twice(cat: Catalogue) -> None:
    """People call the second proposed vessel "1"; the first then needs another number."""
    with cat.transaction(by=BY):
        for number in (B, D):
            cat.attribute(number, "1")
    propose(cat, [0, 1] * 4, attributed={B: "1", D: "1"})
    assert rows(cat)["1"] == NUMBERS[1::2]
    assert rows(cat)["3"] == NUMBERS[::2]


def test_moving_beside_sherds_nobody_judged_keeps_a_word_that_the_sort_understands(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    moved = move_sherds(cat, LOT, [A], "2", by=BY, note="same rim")
    assert (moved.vessel, moved.beside, moved.withdrawn) == ("2", B, ())
    assert [(link.a, link.b, link.relation) for link in cat.links(LOT)] == [(A, B, "same")]
    assert cat.attributions(LOT)[A].note == "same rim"
    correct.undo(cat, LOT, by=BY)
    assert (cat.links(LOT), cat.attributions(LOT)) == ((), {})


def test_moving_on_withdraws_what_was_said_of_sherds_left_behind(cat: Catalogue) -> None:
    propose(cat, [0, 1, 2, 2, 0, 1, 2, 0])
    move_sherds(cat, LOT, [A], "2", by=BY)
    moved = move_sherds(cat, LOT, [A], "3", by=BY)
    assert (moved.beside, moved.withdrawn) == (C, (B,))
    assert [(link.a, link.b) for link in cat.links(LOT)] == [(A, C)]


def test_an_accepted_vessel_needs_no_further_word(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    assert accept_vessel(cat, LOT, "2", by=BY) == tuple(NUMBERS[1::2])
    assert move_sherds(cat, LOT, [A], "2", by=BY).beside is None
    assert cat.links(LOT) == ()
    with pytest.raises(InputError, match="accepted already"):
        accept_vessel(cat, LOT, "2", by=BY)
    with pytest.raises(UnknownName):
        accept_vessel(cat, LOT, "none", by=BY)


def test_a_move_against_what_was_told_is_refused_whole(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    accept_vessel(cat, LOT, "2", by=BY)
    tell_pairs(cat, LOT, different=[(A, B)], by=BY)
    with pytest.raises(LinksContradict):
        move_sherds(cat, LOT, [A], "2", by=BY)
    assert A not in cat.attributions(LOT)


@pytest.mark.parametrize("name", ["", "a/b", "..", " x"])
def test_a_vessel_that_cannot_be_called_so_is_refused(name: str, cat: Catalogue) -> None:
    before = cat.version()
    with pytest.raises(NameRefused):
        move_sherds(cat, LOT, [A], name, by=BY)
    assert cat.version() == before


def test_a_sherd_of_another_lot_does_not_move(cat: Catalogue) -> None:
    with pytest.raises(UnknownName):
        move_sherds(cat, LOT, [f"{OTHER}-001"], "1", by=BY)


def test_setting_aside_is_an_answer_too(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    assert move_sherds(cat, LOT, [A], None, by=BY).vessel is None
    assert A in rows(cat)[""]
    assert lay_out_table(cat, LOT).sherd(A).judged_by == BY


def test_a_new_vessel_takes_a_free_number(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    assert free_vessel_name(lay_out_table(cat, LOT)) == "3"
    move_sherds(cat, LOT, [A], "3", by=BY)
    assert rows(cat)["3"] == [A]


def test_answered_questions_are_not_asked_again(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    assert [(q.a, q.b) for q in lay_out_table(cat, LOT).questions] == [(A, C), (B, D)]
    tell_pairs(cat, LOT, different=[(A, C)], by=BY)
    assert [(q.a, q.b) for q in lay_out_table(cat, LOT).questions] == [(B, D)]
    correct.drop(cat, [D], by=BY)
    assert lay_out_table(cat, LOT).questions == ()


def test_a_real_sort_obeys_a_move(cat: Catalogue) -> None:
    sort_lot(cat, LOT, vessels=2, by=BY)
    table = lay_out_table(cat, LOT)
    home, away = table.vessels[0], table.vessels[1]
    sherd = home.sherds[-1].number
    moved = move_sherds(cat, LOT, [sherd], away.name, by=BY)
    sort_lot(cat, LOT, vessels=2, by=BY)
    after = lay_out_table(cat, LOT)
    assert after.sherd(sherd).vessel == away.name
    assert moved.beside is not None
    assert after.sherd(moved.beside).vessel == away.name


def test_lots_at_a_glance(cat: Catalogue) -> None:
    propose(cat, [0, 1, 0, 1, 0, 1, 0, None])
    correct.attribute(cat, [A], "1", by=BY)
    first, second = lots_at_a_glance(cat)
    assert (first.lot, first.photos, first.sherds, first.vessels, first.unassigned, first.judged) == (
        LOT,
        2,
        8,
        2,
        1,
        1,
    )
    assert not first.is_current
    assert (second.lot, second.vessels, second.questions) == (OTHER, None, 0)


def test_several_move_in_one_step(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    moved = move_sherds(cat, LOT, [A, C, A], "2", by=BY)
    assert (moved.sherds, moved.beside) == ((A, C), B)
    assert {A, C} <= set(rows(cat)["2"])
    correct.undo(cat, LOT, by=BY)
    assert (cat.links(LOT), cat.attributions(LOT)) == ((), {})
    with pytest.raises(InputError, match="no sherd is picked"):
        move_sherds(cat, LOT, [], "2", by=BY)


def test_a_vessel_is_split_and_the_next_sort_keeps_it_so(cat: Catalogue) -> None:
    propose(cat, [0] * 4 + [1] * 4)
    tell_pairs(cat, LOT, same=[(A, C)], by=BY)
    moved = split_vessel(cat, LOT, [A, B], by=BY)
    assert (moved.vessel, moved.apart, moved.withdrawn) == ("3", C, ())
    assert rows(cat)["3"] == [A, B]
    assert [(link.a, link.b, link.relation) for link in cat.links(LOT)] == [(A, C, "different")]
    sort_lot(cat, LOT, by=BY)
    table = lay_out_table(cat, LOT)
    assert table.sherd(A).vessel == table.sherd(B).vessel == "3"
    assert table.sherd(C).vessel != "3"


@pytest.mark.parametrize("picked", [[], [A, NUMBERS[4]], NUMBERS[:4]])
def test_a_split_that_splits_nothing_is_refused(picked: list[str], cat: Catalogue) -> None:
    propose(cat, [0] * 4 + [1] * 4)
    before = cat.version()
    with pytest.raises(InputError):
        split_vessel(cat, LOT, picked, by=BY)
    with pytest.raises(InputError, match="already"):
        split_vessel(cat, LOT, [A], name="2", by=BY)
    assert cat.version() == before


def test_two_vessels_are_merged_in_one_step(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    moved = merge_vessels(cat, LOT, "2", "1", by=BY)
    assert (moved.sherds, moved.vessel, moved.beside) == (tuple(NUMBERS[1::2]), "1", A)
    assert rows(cat) == {"1": NUMBERS, "": []}
    sort_lot(cat, LOT, vessels=2, by=BY)
    table = lay_out_table(cat, LOT)
    assert len({table.sherd(number).vessel for number in (A, *NUMBERS[1::2])}) == 1
    with pytest.raises(InputError, match="with itself"):
        merge_vessels(cat, LOT, "1", "1", by=BY)
    with pytest.raises(UnknownName):
        merge_vessels(cat, LOT, "1", "9", by=BY)


def test_a_sort_leaves_a_locked_vessel_as_it_is(cat: Catalogue) -> None:
    """The grouping is against the evidence on purpose: two pastes lie in turn."""
    propose(cat, [0, 0, 0, 1, 1, 1, 1, 1])
    assert lock_vessel(cat, LOT, "1", by=BY).sherds == (A, B, C)
    assert cat.attributions(LOT) == {}
    for seed in (0, 1):
        sort_lot(cat, LOT, by=BY, seed=seed)
        table = lay_out_table(cat, LOT)
        assert sorted(sherd.number for sherd in table.vessel("1").sherds) == [A, B, C]
        assert table.vessel("1").locked_by == BY
    with pytest.raises(InputError, match="vessel '1' is locked and takes no sherd"):
        move_sherds(cat, LOT, [D], "1", by=BY)
    with pytest.raises(InputError, match=f"vessel '1' is locked and holds '{A}'"):
        move_sherds(cat, LOT, [A], None, by=BY)
    with pytest.raises(LinksContradict):
        tell_pairs(cat, LOT, different=[(A, B)], by=BY)
    accept_vessel(cat, LOT, "1", by=BY)
    assert lay_out_table(cat, LOT).vessel("1").is_accepted
    unlock_vessel(cat, LOT, "1", by=BY)
    assert lay_out_table(cat, LOT).vessel("1").locked_by is None


def test_what_contradicts_is_not_locked(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    tell_pairs(cat, LOT, different=[(A, C)], by=BY)
    with pytest.raises(LinksContradict):
        lock_vessel(cat, LOT, "1", by=BY)
    assert cat.locks(LOT) == ()


def test_a_pair_that_cannot_be_told_is_not_asked_again(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    assert tell_pairs(cat, LOT, cannot_tell=[(A, C)], by=BY) == 0
    assert [(q.a, q.b) for q in lay_out_table(cat, LOT).questions] == [(B, D)]
    sorted_again = sort_lot(cat, LOT, by=BY)
    assert frozenset((A, C)) not in {frozenset((q.a, q.b)) for q in sorted_again.questions}
    tell_pairs(cat, LOT, same=[(A, C)], by=BY)
    assert cat.open_pairs(LOT) == ()
    with pytest.raises(InputError, match="take that back first"):
        tell_pairs(cat, LOT, cannot_tell=[(C, A)], by=BY)
    tell_pairs(cat, LOT, withdrawn=[(A, C)], cannot_tell=[(A, C)], by=BY)
    assert [(pair.a, pair.b) for pair in cat.open_pairs(LOT)] == [(A, C)]
    tell_pairs(cat, LOT, withdrawn=[(A, C)], by=BY)
    assert cat.open_pairs(LOT) == ()
