"""Words on joins: kept with how the sherds lay, replaced, taken back, undone; and there after an upgrade, on both databases."""

import numpy as np
import pytest
from sqlalchemy import inspect

from motifs.catalogue.database import server_engine, sqlite_engine
from motifs.catalogue.migrations import MIGRATIONS, migrate
from motifs.errors import InputError, UnknownName
from tests.catalogue.finds import PERSON, add_tray

QUARTER = [[0.0, -1.0, 12.5], [1.0, 0.0, -3.0], [0.0, 0.0, 1.0]]


@pytest.fixture
def pair(cat):
    return add_tray(cat, "B-03")[:2]


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_a_collection_of_before_gains_the_table(kind, tmp_path, request):
    before = [step.__name__ for step in MIGRATIONS].index("analysts_joins")
    engine = (
        sqlite_engine(tmp_path / "c.sqlite")
        if kind == "sqlite"
        else server_engine(request.getfixturevalue("server_url"))
    )
    migrate(engine, "x", MIGRATIONS[:before])
    assert "join_word" not in inspect(engine).get_table_names()
    migrate(engine, "x")
    assert "join_word" in inspect(engine).get_table_names()
    engine.dispose()


def test_nobody_has_said_anything_at_first(cat, pair):
    assert cat.join_words("B-03") == ()


def test_a_yes_is_kept_with_how_they_lay_whatever_the_order(cat, pair):
    a, b = pair
    with cat.transaction(by=PERSON):
        word = cat.judge_join("B-03", b, a, "accepted", transform=QUARTER, note="edges lock")
    assert (word.a, word.b, word.answer, word.note, word.by) == (a, b, "accepted", "edges lock", PERSON)
    # Given as a into b's frame, kept as b into a's: the one undoes the other.
    np.testing.assert_allclose(np.array(word.transform) @ QUARTER, np.eye(3), atol=1e-6)


def test_the_last_word_counts_and_saying_it_again_changes_nothing(cat, pair):
    a, b = pair
    for answer in ("accepted", "refused", "refused"):
        with cat.transaction(by=PERSON):
            cat.judge_join("B-03", a, b, answer)
    assert [word.answer for word in cat.join_words("B-03")] == ["refused"]
    assert [event.verb for event in cat.history("B-03")].count("join refused") == 1


def test_undo_and_withdrawing_leave_the_pair_to_the_proposals(cat, pair):
    a, b = pair
    with cat.transaction(by=PERSON):
        cat.judge_join("B-03", a, b, "refused")
    with cat.transaction(by=PERSON):
        cat.withdraw_join_word("B-03", b, a)
    assert cat.join_words("B-03") == ()
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert [word.answer for word in cat.join_words("B-03")] == ["refused"]
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert cat.join_words("B-03") == ()


def test_what_cannot_be_is_refused_and_changes_nothing(cat, pair):
    a, b = pair
    wrong = [
        (InputError, lambda: cat.judge_join("B-03", a, a, "accepted")),
        (InputError, lambda: cat.judge_join("B-03", a, b, "perhaps")),
        (InputError, lambda: cat.judge_join("B-03", a, b, "accepted", transform=np.zeros((3, 3)))),
        (InputError, lambda: cat.judge_join("B-03", a, b, "accepted", transform=[[1.0]])),
        (UnknownName, lambda: cat.judge_join("B-03", a, "no such", "accepted")),
        (UnknownName, lambda: cat.judge_join("no such", a, b, "accepted")),
        (UnknownName, lambda: cat.withdraw_join_word("B-03", a, b)),
    ]
    for error, act in wrong:
        with pytest.raises(error), cat.transaction(by=PERSON):
            act()
    assert cat.join_words("B-03") == ()


def test_a_dropped_sherd_takes_its_joins_out_of_sight(cat, pair):
    a, b = pair
    with cat.transaction(by=PERSON):
        cat.judge_join("B-03", a, b, "accepted")
    with cat.transaction(by=PERSON):
        cat.drop_sherd(b)
    assert cat.join_words("B-03") == ()
