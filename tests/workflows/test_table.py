"""The sorting table: judgements over proposals, names of vessels, moves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from motifs.errors import InputError, LinksContradict, NameRefused, UnknownName
from motifs.workflows import correct
from motifs.workflows.overview import lots_at_a_glance
from motifs.workflows.sort import KIND, sort_lot
from motifs.workflows.sorting import LotSorting, PairQuestion, PlacedSherd, packed
from motifs.workflows.table import accept_vessel, free_vessel_name, lay_out_table, move_sherd
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
    assert [vessel.name for vessel in table.vessels] == ["0", "1"]
    supports = [sherd.support for sherd in table.vessels[0].sherds]
    assert supports == sorted(supports, key=lambda support: -(support or 0))
    assert [sherd.number for sherd in table.unassigned] == [NUMBERS[5]]
    assert table.is_current


def test_a_judgement_lies_over_the_proposal_and_over_the_next(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    correct.attribute(cat, [A], "1", by=BY)
    assert A in rows(cat)["1"]
    assert lay_out_table(cat, LOT).sherd(A).judged_by == BY
    propose(cat, [0, 1] * 4)
    assert A in rows(cat)["1"]
    assert lay_out_table(cat, LOT).sherd(A).next_best == "0"
    correct.withdraw_attribution(cat, [A], by=BY)
    assert A in rows(cat)["0"]


def test_a_vessel_is_called_as_people_called_it_wherever_the_sort_numbers_it(cat: Catalogue) -> None:
    with cat.transaction(by=BY):
        for number in (A, C):
            cat.attribute(number, "jar")
    propose(cat, [1, 0] * 4, attributed={A: "jar", C: "jar"})
    assert sorted(name for name in rows(cat) if name) == ["0", "jar"]
    assert rows(cat)["jar"] == NUMBERS[::2]


def test_a_number_that_people_gave_is_not_given_twice(cat: Catalogue) -> None:
    """People call proposal 1 "0"; proposal 0 then needs another number."""
    with cat.transaction(by=BY):
        for number in (B, D):
            cat.attribute(number, "0")
    propose(cat, [0, 1] * 4, attributed={B: "0", D: "0"})
    assert rows(cat)["0"] == NUMBERS[1::2]
    assert rows(cat)["2"] == NUMBERS[::2]


def test_moving_beside_sherds_nobody_judged_keeps_a_word_that_the_sort_understands(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    moved = move_sherd(cat, LOT, A, "1", by=BY, note="same rim")
    assert (moved.vessel, moved.beside, moved.withdrawn) == ("1", B, ())
    assert [(link.a, link.b, link.relation) for link in cat.links(LOT)] == [(A, B, "same")]
    assert cat.attributions(LOT)[A].note == "same rim"
    correct.undo(cat, LOT, by=BY)
    assert (cat.links(LOT), cat.attributions(LOT)) == ((), {})


def test_moving_on_withdraws_what_was_said_of_sherds_left_behind(cat: Catalogue) -> None:
    propose(cat, [0, 1, 2, 2, 0, 1, 2, 0])
    move_sherd(cat, LOT, A, "1", by=BY)
    moved = move_sherd(cat, LOT, A, "2", by=BY)
    assert (moved.beside, moved.withdrawn) == (C, (B,))
    assert [(link.a, link.b) for link in cat.links(LOT)] == [(A, C)]


def test_an_accepted_vessel_needs_no_further_word(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    assert accept_vessel(cat, LOT, "1", by=BY) == tuple(NUMBERS[1::2])
    assert move_sherd(cat, LOT, A, "1", by=BY).beside is None
    assert cat.links(LOT) == ()
    with pytest.raises(InputError, match="accepted already"):
        accept_vessel(cat, LOT, "1", by=BY)
    with pytest.raises(UnknownName):
        accept_vessel(cat, LOT, "none", by=BY)


def test_a_move_against_what_was_told_is_refused_whole(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    accept_vessel(cat, LOT, "1", by=BY)
    tell_pairs(cat, LOT, different=[(A, B)], by=BY)
    with pytest.raises(LinksContradict):
        move_sherd(cat, LOT, A, "1", by=BY)
    assert A not in cat.attributions(LOT)


@pytest.mark.parametrize("name", ["", "a/b", "..", " x"])
def test_a_vessel_that_cannot_be_called_so_is_refused(name: str, cat: Catalogue) -> None:
    before = cat.version()
    with pytest.raises(NameRefused):
        move_sherd(cat, LOT, A, name, by=BY)
    assert cat.version() == before


def test_a_sherd_of_another_lot_does_not_move(cat: Catalogue) -> None:
    with pytest.raises(UnknownName):
        move_sherd(cat, LOT, f"{OTHER}-001", "0", by=BY)


def test_setting_aside_is_an_answer_too(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    assert move_sherd(cat, LOT, A, None, by=BY).vessel is None
    assert A in rows(cat)[""]
    assert lay_out_table(cat, LOT).sherd(A).judged_by == BY


def test_a_new_vessel_takes_a_free_number(cat: Catalogue) -> None:
    propose(cat, [0, 1] * 4)
    assert free_vessel_name(lay_out_table(cat, LOT)) == "2"
    move_sherd(cat, LOT, A, "2", by=BY)
    assert rows(cat)["2"] == [A]


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
    moved = move_sherd(cat, LOT, sherd, away.name, by=BY)
    sort_lot(cat, LOT, vessels=2, by=BY)
    after = lay_out_table(cat, LOT)
    assert after.sherd(sherd).vessel == away.name
    assert moved.beside is not None
    assert after.sherd(moved.beside).vessel == away.name


def test_lots_at_a_glance(cat: Catalogue) -> None:
    propose(cat, [0, 1, 0, 1, 0, 1, 0, None])
    correct.attribute(cat, [A], "0", by=BY)
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
