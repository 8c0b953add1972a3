"""What learners did: kept by learner, gone with a dropped or restricted sherd, there after an upgrade, on both databases."""

import pytest
from sqlalchemy import inspect

from motifs.catalogue import QuizCardRow
from motifs.catalogue.database import server_engine, sqlite_engine
from motifs.catalogue.migrations import MIGRATIONS, migrate
from motifs.errors import NameRefused, UnknownName
from tests.catalogue.finds import PERSON, add_tray

LOT, LEARNER = "B-03", "T. Arden"
TABLES = {"exercise_turn", "quiz_card", "quiz_answer"}


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_a_collection_of_before_gains_the_tables(kind, tmp_path, request):
    before = [step.__name__ for step in MIGRATIONS].index("exercises_and_quizzes")
    engine = (
        sqlite_engine(tmp_path / "c.sqlite")
        if kind == "sqlite"
        else server_engine(request.getfixturevalue("server_url"))
    )
    migrate(engine, "x", MIGRATIONS[:before])
    assert not TABLES & set(inspect(engine).get_table_names())
    migrate(engine, "x")
    assert set(inspect(engine).get_table_names()) >= TABLES
    engine.dispose()


def test_turns_come_back_as_they_were_kept(cat):
    assert cat.turns() == ()
    with cat.transaction(by=PERSON):
        cat.keep_turn(
            LEARNER, "one", {"1-01": "A", "1-02": None}, {"joined": 3}, adjusted_rand=0.5, seconds=None, hints=1
        )
        cat.keep_turn("S. Vane", "one", {"1-01": "A"}, {}, adjusted_rand=1.0, seconds=90.0, hints=0)
    turn = cat.turns(LEARNER)[0]
    assert (turn.exercise, turn.piles, turn.mark, turn.adjusted_rand, turn.seconds, turn.hints) == (
        "one", {"1-01": "A", "1-02": None}, {"joined": 3}, 0.5, None, 1,
    )  # fmt: skip
    assert len(cat.turns()) == 2


def test_a_card_moves_and_its_answers_stay(cat):
    first, second = add_tray(cat, LOT)[:2]
    with cat.transaction(by=PERSON):
        cat.keep_answer(QuizCardRow(LEARNER, first, "motif", 1, "2030-01-02"), "scroll", "comb")
        cat.keep_answer(QuizCardRow(LEARNER, first, "motif", 2, "2030-01-05"), "scroll", "scroll")
        cat.keep_answer(QuizCardRow("S. Vane", second, "motif", 2, "2030-01-05"), "comb", "comb")
    assert cat.quiz_cards(LEARNER) == (QuizCardRow(LEARNER, first, "motif", 2, "2030-01-05"),)
    assert [(row.given, row.is_right) for row in cat.quiz_answers(LEARNER)] == [("comb", False), ("scroll", True)]
    assert len(cat.quiz_answers()) == 3
    with cat.transaction(by=PERSON):
        cat.restrict("sherd", first, "burial")
    assert cat.quiz_cards(LEARNER) == ()
    assert [row.sherd for row in cat.quiz_answers()] == [second]


def test_bad_names_are_refused_and_nothing_is_kept(cat):
    number = add_tray(cat, LOT)[0]
    with pytest.raises(NameRefused), cat.transaction(by=PERSON):
        cat.keep_turn(" ", "one", {}, {}, adjusted_rand=0.0, seconds=None, hints=0)
    with pytest.raises(UnknownName), cat.transaction(by=PERSON):
        cat.keep_answer(QuizCardRow(LEARNER, "never", "motif", 1, "2030-01-02"), "a", "b")
    with pytest.raises(NameRefused), cat.transaction(by=PERSON):
        cat.keep_answer(QuizCardRow("", number, "motif", 1, "2030-01-02"), "a", "b")
    assert cat.turns() == cat.quiz_answers() == ()
