"""Pairs left open and locked vessels: kept, refused, taken back, undone; and there after an upgrade, on both databases."""

import pytest
from sqlalchemy import inspect

from motifs.catalogue.database import server_engine, sqlite_engine
from motifs.catalogue.migrations import MIGRATIONS, migrate
from motifs.errors import InputError, UnknownName
from tests.catalogue.finds import PERSON, add_tray

LOT = "B-03"


@pytest.fixture
def sherds(cat):
    return add_tray(cat, LOT)


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_a_collection_of_before_gains_the_tables(kind, tmp_path, request):
    before = [step.__name__ for step in MIGRATIONS].index("open_pairs_and_locks")
    engine = (
        sqlite_engine(tmp_path / "c.sqlite")
        if kind == "sqlite"
        else server_engine(request.getfixturevalue("server_url"))
    )
    migrate(engine, "x", MIGRATIONS[:before])
    assert not {"open_pair", "vessel_lock"} & set(inspect(engine).get_table_names())
    migrate(engine, "x")
    assert {"open_pair", "vessel_lock"} <= set(inspect(engine).get_table_names())
    engine.dispose()


def test_nothing_is_open_or_locked_at_first(cat, sherds):
    assert cat.open_pairs(LOT) == ()
    assert cat.locks(LOT) == ()
    for read in (cat.open_pairs, cat.locks):
        with pytest.raises(UnknownName):
            read("never")


def test_a_pair_is_left_open_once_in_any_order_and_undone(cat, sherds):
    a, b = sherds[:2]
    with cat.transaction(by=PERSON):
        assert cat.leave_open(LOT, b, a)
        assert not cat.leave_open(LOT, a, b)
    assert [(row.a, row.b, row.by) for row in cat.open_pairs(LOT)] == [(a, b, PERSON)]
    with cat.transaction(by=PERSON):
        cat.undo(LOT)
    assert cat.open_pairs(LOT) == ()
    with cat.transaction(by=PERSON):
        cat.redo(LOT)
        assert cat.ask_again(LOT, a, b)
        assert not cat.ask_again(LOT, a, b)
    assert cat.open_pairs(LOT) == ()


def test_a_pair_of_a_dropped_sherd_rests_with_it(cat, sherds):
    a, b = sherds[:2]
    with cat.transaction(by=PERSON):
        cat.leave_open(LOT, a, b)
        cat.drop_sherd(b)
    assert cat.open_pairs(LOT) == ()


def test_what_cannot_be_left_open(cat, sherds):
    with pytest.raises(InputError, match="cannot be set beside itself"), cat.transaction(by=PERSON):
        cat.leave_open(LOT, sherds[0], sherds[0])
    with pytest.raises(UnknownName), cat.transaction(by=PERSON):
        cat.leave_open(LOT, sherds[0], "never")
    assert cat.open_pairs(LOT) == ()


def test_a_vessel_is_locked_unlocked_and_undone(cat, sherds):
    a, b, c, _ = sherds
    with cat.transaction(by=PERSON):
        lock = cat.lock_vessel(LOT, "1", [a, b])
    assert (lock.vessel, lock.sherds, lock.by) == ("1", (a, b), PERSON)
    with pytest.raises(InputError, match="vessel '1' is locked already"), cat.transaction(by=PERSON):
        cat.lock_vessel(LOT, "1", [c])
    with pytest.raises(InputError, match=f"sherd '{b}' is locked already, with vessel '1'"), cat.transaction(by=PERSON):
        cat.lock_vessel(LOT, "2", [b, c])
    with pytest.raises(InputError, match="no sherd to lock"), cat.transaction(by=PERSON):
        cat.lock_vessel(LOT, "2", [])
    with cat.transaction(by=PERSON):
        cat.unlock_vessel(LOT, "1")
    assert cat.locks(LOT) == ()
    with pytest.raises(UnknownName, match="is not locked"), cat.transaction(by=PERSON):
        cat.unlock_vessel(LOT, "1")
    with cat.transaction(by=PERSON):
        cat.undo(LOT)
    assert cat.locks(LOT) == (lock,)


def test_a_lock_passes_over_sherds_that_are_gone(cat, sherds):
    a, b = sherds[:2]
    with cat.transaction(by=PERSON):
        cat.lock_vessel(LOT, "1", [a, b])
        cat.drop_sherd(a)
    assert [lock.sherds for lock in cat.locks(LOT)] == [(b,)]
    with cat.transaction(by=PERSON):
        cat.drop_sherd(b)
    assert cat.locks(LOT) == ()
