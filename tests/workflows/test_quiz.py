"""Quizzes: who is asked what and when again; the bank; nothing restricted is asked."""

import csv
from datetime import date, timedelta

import pytest

from motifs.errors import InputError, UnknownName
from motifs.workflows.learning import learner_standing
from motifs.workflows.quiz import WAITS_DAYS, answer_question, next_question, quiz_cards, write_bank
from tests.workflows.conftest import LOT

DAY, LEARNER = date(2030, 3, 1), "T. Arden"


@pytest.fixture
def tagged(cat):
    numbers = [sherd.number for sherd in cat.sherds(LOT)]
    with cat.transaction(by="M. Oduya"):
        for place, term in enumerate(("scroll", "comb", "scroll")):
            cat.add_tag(numbers[place], term, "motif")
        cat.add_tag(numbers[3], "scroll", "motif")
        cat.add_tag(numbers[3], "comb", "motif")
        cat.add_tag(numbers[4], "indeterminate", "motif")
        cat.add_tag(numbers[0], "painted", "technique")
    return cat


def test_only_what_has_one_sure_term_of_several_is_asked(tagged):
    assert [(card.term, card.kind) for card in quiz_cards(tagged)] == [
        ("scroll", "motif"), ("comb", "motif"), ("scroll", "motif"),
    ]  # fmt: skip


def test_boxes_wait_longer_and_fall_back(tagged):
    card = quiz_cards(tagged)[0]
    day = DAY
    for box in (2, 3, 4, 5, 5):
        outcome = answer_question(tagged, LEARNER, card.sherd, "motif", card.term, today=day)
        assert (outcome.is_right, outcome.box) == (True, box)
        assert outcome.due_on == (day + timedelta(days=WAITS_DAYS[box - 1])).isoformat()
        day = date.fromisoformat(outcome.due_on)
    wrong = answer_question(tagged, LEARNER, card.sherd, "motif", "comb", today=day)
    assert (wrong.is_right, wrong.box, wrong.term, wrong.tagged_by) == (False, 1, card.term, "M. Oduya")
    assert next_question(tagged, LEARNER, today=day).sherd == card.sherd


def test_every_card_is_asked_once_and_then_nothing_until_it_is_due(tagged):
    asked = []
    while (question := next_question(tagged, LEARNER, today=DAY)) is not None:
        right = next(card.term for card in quiz_cards(tagged) if card.sherd == question.sherd)
        assert right in question.options
        assert len(set(question.options)) == len(question.options)
        answer_question(tagged, LEARNER, question.sherd, question.kind, right, today=DAY)
        asked.append(question.sherd)
    assert sorted(asked) == sorted(card.sherd for card in quiz_cards(tagged))
    assert next_question(tagged, LEARNER, today=DAY + timedelta(days=1)) is not None
    assert next_question(tagged, "S. Vane", today=DAY) is not None
    standing = learner_standing(tagged, LEARNER)
    assert (standing.answers, standing.right.share, standing.confused) == (3, 1.0, ())


def test_nothing_to_ask_is_said(cat):
    with pytest.raises(InputError, match="nothing can be asked yet"):
        next_question(cat, LEARNER)
    with pytest.raises(InputError, match="no kind of quiz"):
        quiz_cards(cat, "colour")


def test_restricted_sherds_are_not_asked_about(tagged):
    hidden = quiz_cards(tagged)[0].sherd
    with tagged.transaction(by="test"):
        tagged.restrict("sherd", hidden, "sacred")
    assert hidden not in {card.sherd for card in quiz_cards(tagged)}
    with pytest.raises(UnknownName):
        answer_question(tagged, LEARNER, hidden, "motif", "scroll")


def test_the_bank_holds_every_question_with_its_picture(tagged, tmp_path):
    assert write_bank(tagged, tmp_path / "bank") == 3
    with (tmp_path / "bank" / "questions.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [row["answer"] for row in rows] == ["scroll", "comb", "scroll"]
    for row in rows:
        assert (tmp_path / "bank" / row["picture"]).read_bytes().startswith(b"RIFF")
        assert row["answer"] in {row[f"option {k}"] for k in range(1, 5)}
    with pytest.raises(InputError, match="there already"):
        write_bank(tagged, tmp_path / "bank")
