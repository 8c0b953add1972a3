"""Writers of one program: one at a time, in the order they came, and nobody waits for ever."""

from __future__ import annotations

import threading
import time

import pytest

from motifs.catalogue import Catalogue, database
from motifs.catalogue.queueing import WritersLine
from motifs.errors import CollectionNotWritable
from tests.catalogue.finds import PERSON


def wait_until(is_so):
    until = time.monotonic() + 20
    while not is_so():
        assert time.monotonic() < until
        time.sleep(0.001)


def test_first_come_first_served():
    line, served = WritersLine(), []

    def wait(place):
        with line.turn(30) as has_turn:
            assert has_turn
            served.append(place)

    with line.turn(0) as has_turn:
        assert has_turn
        threads = []
        for place in range(8):
            threads.append(threading.Thread(target=wait, args=(place,)))
            threads[-1].start()
            wait_until(lambda expected=place + 1: len(line._waiting) == expected)
        assert served == []
    for thread in threads:
        thread.join(timeout=20)
    assert served == list(range(8))


def test_who_waits_too_long_goes_without_a_turn_and_bars_nobody():
    line = WritersLine()
    with line.turn(0) as first:
        assert first
        with line.turn(0.01) as second:
            assert not second
    with line.turn(0) as third:
        assert third


def test_a_turn_ends_also_with_an_error():
    line = WritersLine()
    with pytest.raises(ZeroDivisionError), line.turn(0):
        raise ZeroDivisionError
    with line.turn(0) as has_turn:
        assert has_turn


def test_a_catalogue_says_so_in_one_line(lite: Catalogue, monkeypatch):
    monkeypatch.setattr(database, "BUSY_TIMEOUT_S", 0.01)
    held, done = threading.Event(), threading.Event()

    def hold():
        with lite.transaction(by=PERSON):
            held.set()
            done.wait(20)

    holder = threading.Thread(target=hold)
    holder.start()
    assert held.wait(20)
    with pytest.raises(CollectionNotWritable, match="somebody else has been writing"), lite.transaction(by="R. Vance"):
        pass
    # The same folder with nothing kept back stands in the same line.
    with pytest.raises(CollectionNotWritable), lite.seeing_all().transaction(by="R. Vance"):
        pass
    done.set()
    holder.join(timeout=20)
    with lite.transaction(by="R. Vance"):
        lite.ensure_lot("B-03")
    assert lite.history()[0].by == "R. Vance"
