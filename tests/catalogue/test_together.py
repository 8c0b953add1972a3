"""Several processes on one collection, and processes that die."""

from __future__ import annotations

import itertools
import multiprocessing
import os
import random
import threading
import time

import numpy as np
import pytest

from motifs.catalogue import Catalogue, Measurement, store
from motifs.errors import CollectionNotWritable
from tests.catalogue.finds import PERSON, add_tray

SHERDS = 6  # on every tray the writers bring in

FORK = multiprocessing.get_context("fork")  # the child has everything imported already


def work(folder, name, turns, url, ready) -> None:
    """A person at work: trays come in, crops and vectors are kept, sherds are tagged and linked."""
    with Catalogue.open(folder, create=True, url=url) as cat:
        ready.set()
        for turn in itertools.count() if turns is None else range(turns):
            with cat.transaction(by=name):
                numbers = add_tray(cat, "B-03", SHERDS, content=f"{name} {turn}".encode())
                cat.save_measurements({number: {"turn": Measurement(turn)} for number in numbers})
                cat.save_vectors("e.one", {number: np.ones(64) for number in numbers})
                cat.tell("B-03", numbers[0], numbers[1], "same")
                cat.add_tag(numbers[2], "chevron", "motif")


def start(folder, name, turns, url):
    ready = FORK.Event()
    person = FORK.Process(target=work, args=(folder, name, turns, url, ready))
    person.start()
    return person, ready


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request):
    return request.getfixturevalue("server_url") if request.param == "postgresql" else None


def expect_whole(cat, trays: int | None = None) -> None:
    """Every tray that is there is there with all that belongs to it, and nothing else is."""
    assert cat.check() == ()
    photos = cat.photos()
    if trays is not None:
        assert len(photos) == trays
    for photo in photos:
        numbers = [row.number for row in cat.sherds(photo_id=photo.photo_id)]
        assert len(numbers) == SHERDS
        assert all(len(found) == 1 for found in cat.measurements_of(numbers).values())
        assert len(cat.vectors("e.one", numbers)) == SHERDS
        assert len(cat.tags(numbers[2])) == 1
    assert len(cat.links("B-03")) == len(photos) if photos else True
    assert list(cat.folder.glob(".*")) == []


def test_two_people_at_once_lose_nothing(tmp_path, url):
    people = [start(tmp_path, name, 5, url)[0] for name in ("M. Oduya", "R. Vance")]
    for person in people:
        person.join(timeout=60)
        assert person.exitcode == 0
        person.close()
    with Catalogue.open(tmp_path, url=url) as cat:
        expect_whole(cat, trays=10)
        numbers = [row.number for row in cat.sherds()]
        assert numbers == [f"B-03-{n:03d}" for n in range(1, 10 * SHERDS + 1)]
        assert {event.by for event in cat.history()} >= {"M. Oduya", "R. Vance"}


def test_a_killed_writer_leaves_nothing_half_there(tmp_path, url):
    rng = random.Random(20)
    before = 0
    kills = 10 if url is None else 3
    for turn in range(kills * 10):
        writer, ready = start(tmp_path, f"writer {turn}", None, url)
        assert ready.wait(timeout=30)
        time.sleep(rng.uniform(0.02, 0.3))
        assert writer.is_alive()
        writer.kill()
        writer.join()
        writer.close()
        with Catalogue.open(tmp_path, create=True, url=url) as cat:
            expect_whole(cat)
            assert len(cat.photos()) >= before
            before = len(cat.photos())
        if turn + 1 >= kills and before:  # a slow machine may need more for the first tray to come in
            break
    assert before > 0


def die(folder, moment: str) -> None:
    with Catalogue.open(folder) as cat:
        if moment == "after":
            store.Journal.settle = lambda _: os._exit(9)
        with cat.transaction(by=PERSON):
            add_tray(cat, "C-1", content=b"doomed or not")
            if moment == "before":
                os._exit(9)


@pytest.mark.parametrize(("moment", "lots"), [("before", 1), ("after", 2)])
def test_death_just_before_and_just_after_the_commit(tmp_path, moment, lots):
    with Catalogue.open(tmp_path / "c", create=True) as cat:
        add_tray(cat, "B-03")
    dying = FORK.Process(target=die, args=(tmp_path / "c", moment))
    dying.start()
    dying.join(timeout=60)
    assert dying.exitcode == 9
    assert len(list((tmp_path / "c").glob(".unfinished-*"))) == 1
    with Catalogue.open(tmp_path / "c") as cat:
        assert len(cat.lots()) == lots
        assert cat.check() == ()
        assert len(cat.photos()) == lots
        assert all(cat.crop(row.number) is not None for row in cat.sherds())
    assert list((tmp_path / "c").glob(".unfinished-*")) == []


def test_a_journal_that_points_elsewhere_removes_nothing(tmp_path):
    precious = tmp_path / "precious.txt"
    precious.write_text("field notes")
    with Catalogue.open(tmp_path / "c", create=True) as cat:
        add_tray(cat, "B-03")
        (cat.exports_folder / "plate.pdf").write_text("plate")
        lines = [
            "../precious.txt",
            str(precious),
            "photos/../../precious.txt",
            "exports/plate.pdf",
            "photos/a",
            "",
            "pho",
        ]
        (cat.folder / ".unfinished-00").write_text("\n".join(lines))
    with Catalogue.open(tmp_path / "c") as cat:
        assert cat.check() == ()
        assert (cat.exports_folder / "plate.pdf").exists()
    assert precious.read_text() == "field notes"


def test_readers_do_not_wait_and_threads_have_their_own_transactions(cat):
    add_tray(cat, "B-03")
    seen = []
    with cat.transaction(by=PERSON):
        cat.drop_sherd("B-03-001")

        def read() -> None:
            seen.append(len(cat.sherds()))
            with pytest.raises(RuntimeError):
                cat.drop_sherd("B-03-002")

        reader = threading.Thread(target=read)
        reader.start()
        reader.join(timeout=10)
        assert not reader.is_alive()
        assert len(cat.sherds()) == 3
    assert seen == [4]


def test_many_threads_lose_no_edit(cat):
    add_tray(cat, "B-03", sherds=1)

    def tag(person: int) -> None:
        for turn in range(5):
            with cat.transaction(by=f"person {person}"):
                cat.add_tag("B-03-001", f"term {person} {turn}", "motif")

    people = [threading.Thread(target=tag, args=(person,)) for person in range(4)]
    for person in people:
        person.start()
    for person in people:
        person.join()
    assert len(cat.tags("B-03-001")) == 20
    assert len({event.change for event in cat.history() if event.verb == "tagged"}) == 20


def test_a_writer_that_waits_too_long_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr("motifs.catalogue.database.BUSY_TIMEOUT_S", 0.1)
    with Catalogue.open(tmp_path, create=True) as one, Catalogue.open(tmp_path) as two:
        with one.transaction(by=PERSON):
            one.ensure_lot("B-03")
            with pytest.raises(CollectionNotWritable, match="writing to it for long"), two.transaction(by="R. Vance"):
                two.ensure_lot("C-1")
        assert [lot.name for lot in two.lots()] == ["B-03"]
