"""What a person corrects on a sherd's outline: kept as hers, taken back, done again; on both databases."""

import math
import shutil
import sqlite3
from contextlib import closing

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from motifs.catalogue import Catalogue, SherdPiece
from motifs.catalogue.database import sqlite_engine, writing
from motifs.catalogue.migrations import MIGRATIONS, migrate
from motifs.errors import InputError, UnknownName
from tests.catalogue.finds import PERSON, SQUARE, add_tray

LEFT = np.array([[10, 10], [35, 10], [35, 60], [10, 60]], np.float32)
RIGHT = LEFT + np.float32([25, 0])
PIECES = (SherdPiece(LEFT, 8.0, 4.5), SherdPiece(RIGHT, 8.0, 4.5))


def state(cat, lot="B-03"):
    """What the catalogue says of a lot's sherds, outlines included."""
    return [
        (s.number, s.state, s.area_mm2, s.look, s.rim_up_deg, s.outline_by, s.content_key, s.outline_px.tolist())
        for s in cat.sherds(lot, with_dropped=True)
    ]


def test_an_outline_knows_whose_it_is(cat):
    a, b, c, d = add_tray(cat, "B-03")
    assert {s.outline_by for s in cat.sherds()} == {None}
    with cat.transaction(by="R. Vance"):
        cat.replace_outline(a, SQUARE + 5)
        whole = cat.merge_sherds([b, c], SQUARE + 80)
        by_hand = cat.add_sherd(1, SQUARE + 200, is_by_hand=True)
        pieces = cat.split_sherd(d, PIECES)
    drawn = [cat.sherd(a), whole, by_hand, *pieces]
    assert [s.outline_by for s in drawn] == ["R. Vance"] * 5
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert {s.outline_by for s in cat.sherds()} == {None}


def test_a_split_keeps_the_number_for_the_first_piece(cat):
    a, b, *_ = add_tray(cat, "B-03")
    with cat.transaction(by=PERSON):
        cat.tell("B-03", a, b, "same")
        cat.add_tag(a, "chevron", "motif")
        cat.set_rim_up(a, 90)
    before = state(cat)
    with cat.transaction(by=PERSON):
        first, second = cat.split_sherd(a, PIECES)
    assert (first.number, second.number) == (a, "B-03-005")
    assert np.array_equal(first.outline_px, LEFT)
    assert np.array_equal(second.outline_px, RIGHT)
    assert (first.rim_up_deg, second.rim_up_deg) == (90.0, None)
    assert [tag.term for tag in cat.tags(a)] == ["chevron"]
    assert cat.tags(second.number) == ()
    assert len(cat.links("B-03")) == 1
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert state(cat)[:4] == before
    assert cat.sherd("B-03-005").state == "dropped"
    with cat.transaction(by=PERSON):
        assert cat.add_sherd(1, SQUARE).number == "B-03-006"  # a number is never given twice


@pytest.mark.parametrize("pieces", [(), PIECES[:1], (PIECES[0], SherdPiece(LEFT[:2]))])
def test_a_split_that_cannot_be_changes_nothing(pieces, cat):
    a, *_ = add_tray(cat, "B-03")
    before = (state(cat), cat.version())
    with pytest.raises(InputError), cat.transaction(by=PERSON):
        cat.split_sherd(a, pieces)
    assert (state(cat), cat.version()) == before


@pytest.mark.parametrize(("given", "kept"), [(0, 0.0), (90, 90.0), (-90, 270.0), (725.04, 5.0), (359.97, 0.0)])
def test_the_rim_up_angle_is_kept_as_a_turn(given, kept, cat):
    a, *_ = add_tray(cat, "B-03")
    key = cat.sherd(a).content_key
    with cat.transaction(by=PERSON):
        assert cat.set_rim_up(a, given).rim_up_deg == kept
    assert cat.sherd(a).content_key == key  # how it is shown changes nothing that was measured
    with cat.transaction(by=PERSON):
        assert cat.set_rim_up(a, None).rim_up_deg is None


@pytest.mark.parametrize("angle", [math.nan, math.inf])
def test_an_angle_that_is_none_is_refused(angle, cat):
    a, *_ = add_tray(cat, "B-03")
    with pytest.raises(InputError, match="angle"), cat.transaction(by=PERSON):
        cat.set_rim_up(a, angle)


def test_merged_parts_keep_the_angle_they_agree_on(cat):
    a, b, c, d = add_tray(cat, "B-03")
    with cat.transaction(by=PERSON):
        cat.set_rim_up(a, 45)
        cat.set_rim_up(c, 10)
        cat.set_rim_up(d, 20)
        assert cat.merge_sherds([a, b], SQUARE).rim_up_deg == 45.0
        assert cat.merge_sherds([c, d], SQUARE).rim_up_deg is None


def test_turning_and_looking_leave_a_proposal_current(cat):
    a, *_ = add_tray(cat, "B-03")
    with cat.transaction(by=PERSON):
        cat.save_proposal("B-03", "vessels", encoder_tags=[], parameters={}, result={})
        cat.set_rim_up(a, 90)
        cat.accept_outline(a)
    assert cat.latest_proposal("B-03", "vessels").is_current
    with cat.transaction(by=PERSON):
        cat.split_sherd(a, PIECES)
    assert not cat.latest_proposal("B-03", "vessels").is_current


def test_an_outline_is_looked_over(cat):
    add_tray(cat, "B-03", sherds=1)
    with cat.transaction(by=PERSON):
        number = cat.add_sherd(1, SQUARE, look="touches another").number
    with cat.transaction(by=PERSON):
        assert cat.accept_outline(number).look is None
    event = cat.history("B-03", limit=1)[0]
    assert (event.verb, event.subject, event.by) == ("outline accepted", number, PERSON)
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert cat.sherd(number).look == "touches another"


@pytest.mark.parametrize("work", ["set_rim_up", "split_sherd", "accept_outline"])
def test_a_sherd_that_is_not_there_is_told(work, cat):
    add_tray(cat, "B-03", sherds=1)
    arguments = {"set_rim_up": (1.0,), "split_sherd": (PIECES,), "accept_outline": ()}[work]
    with pytest.raises(UnknownName, match="B-03-009"), cat.transaction(by=PERSON):
        getattr(cat, work)("B-03-009", *arguments)


def test_redo_does_again_what_was_taken_back(cat):
    a, b, *_ = add_tray(cat, "B-03")
    states = [state(cat)]
    for work in (lambda: cat.drop_sherd(a), lambda: cat.set_rim_up(b, 30), lambda: cat.split_sherd(b, PIECES)):
        with cat.transaction(by=PERSON):
            work()
        states.append(state(cat))
    assert [event.verb for event in cat.next_undo("B-03")] == ["sherd split"]
    assert cat.next_redo("B-03") is None
    for back in (2, 1):
        with cat.transaction(by=PERSON):
            cat.undo("B-03")
        assert state(cat)[:4] == states[back][:4]
    assert cat.next_redo("B-03") == f"rim up set {b}"
    for forth in (2, 3):
        with cat.transaction(by="R. Vance"):
            cat.redo("B-03")
        assert state(cat)[:4] == states[forth][:4]
    assert state(cat) == states[3]
    with pytest.raises(InputError, match="nothing to do again"), cat.transaction(by=PERSON):
        cat.redo("B-03")
    newest = cat.history("B-03", limit=1)[0]
    assert (newest.verb, newest.by, newest.subject) == ("redone", "R. Vance", f"sherd split {b}")
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert state(cat)[:4] == states[2][:4]
    assert cat.next_redo("B-03") == f"sherd split {b}"


def test_something_new_ends_what_can_be_done_again(cat):
    a, b, *_ = add_tray(cat, "B-03")
    with cat.transaction(by=PERSON):
        cat.drop_sherd(a)
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    with cat.transaction(by=PERSON):
        cat.drop_sherd(b)
    version = cat.version()
    with pytest.raises(InputError, match="nothing to do again"), cat.transaction(by=PERSON):
        cat.redo("B-03")
    assert cat.version() == version


def test_next_undo_of_an_untouched_lot_is_empty(cat):
    add_tray(cat, "B-03")
    assert cat.next_undo("B-03") == ()
    with pytest.raises(UnknownName):
        cat.next_undo("B-04")
    with pytest.raises(UnknownName):
        cat.next_redo("B-04")


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=st.lists(st.sampled_from(["drop", "rim", "redraw", "undo", "redo"]), max_size=14), seed=st.integers(0, 99))
def test_undo_and_redo_walk_one_line_of_states(steps, seed, empty_folder, tmp_path_factory):
    """The catalogue against the plain model of an editor: a list of states and a place in it."""
    rng = np.random.default_rng(seed)
    with Catalogue.open(shutil.copytree(empty_folder, tmp_path_factory.mktemp("walk") / "collection")) as cat:
        numbers = add_tray(cat, "B-03")
        line, place = [state(cat)], 0
        for step in steps:
            kept = [number for number in numbers if cat.sherd(number).state == "kept"]
            with cat.transaction(by=PERSON):
                if step == "undo":
                    if place == 0:
                        assert cat.next_undo("B-03") == ()
                        continue
                    cat.undo("B-03")
                    place -= 1
                elif step == "redo":
                    if place == len(line) - 1:
                        assert cat.next_redo("B-03") is None
                        continue
                    cat.redo("B-03")
                    place += 1
                elif kept:
                    number = str(rng.choice(kept))
                    change(cat, step, number, rng)
                    del line[place + 1 :]
                    line.append(state(cat))
                    place += 1
            assert state(cat) == line[place]


def change(cat, step, number, rng):
    if step == "drop":
        cat.drop_sherd(number)
    elif step == "rim":
        # Never the angle that it has: a change that changes nothing is none.
        cat.set_rim_up(number, (cat.sherd(number).rim_up_deg or 0.0) + float(rng.integers(1, 359)))
    else:
        cat.replace_outline(number, SQUARE + float(rng.integers(1, 10**6)) / 100)


def test_an_older_catalogue_learns_whose_outlines_it_has(tmp_path, empty_folder):
    """Outlines that were drawn before the column was there get their person from the history."""
    before = MIGRATIONS[: [step.__name__ for step in MIGRATIONS].index("analysts_outlines")]
    folder = shutil.copytree(empty_folder, tmp_path / "older")
    with Catalogue.open(folder) as cat:
        a, b, *_ = add_tray(cat, "B-03")
        for number in (a, b):
            with cat.transaction(by="R. Vance"):
                cat.replace_outline(number, SQUARE + 3)
        with cat.transaction(by=PERSON):
            cat.undo("B-03")
    engine = sqlite_engine(folder / "catalogue.sqlite")
    with writing(engine) as connection:
        for column in ("outline_by", "rim_up_deg"):
            connection.execute(text(f"ALTER TABLE sherd DROP COLUMN {column}"))
        later = len(MIGRATIONS) - len(before)
    engine.dispose()
    with closing(sqlite3.connect(folder / "catalogue.sqlite")) as plain, plain:
        plain.execute("DELETE FROM migration WHERE version > ?", (len(before),))
    engine = sqlite_engine(folder / "catalogue.sqlite")
    migrate(engine, "x", MIGRATIONS[: len(before) + 1])
    engine.dispose()
    with closing(sqlite3.connect(folder / "catalogue.sqlite")) as plain:
        rows = dict(plain.execute("SELECT number, outline_by FROM sherd"))
    assert later >= 1
    assert rows[a] == "R. Vance"
    assert rows[b] is None
