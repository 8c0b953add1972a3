"""Views, rims and labels: kept apart from sherds, undoable, and in collections of before as well; on both databases."""

import sqlite3
from contextlib import closing

import numpy as np
import pytest
from sqlalchemy import inspect

from motifs.catalogue import Catalogue, RimReading
from motifs.catalogue.database import server_engine, sqlite_engine
from motifs.catalogue.migrations import MIGRATIONS, migrate
from motifs.errors import InputError, NameRefused, UnknownName
from tests.catalogue.finds import PERSON, SQUARE, add_tray

CORNERS = [(1.0, 2.0), (30.0, 2.0), (30.0, 9.0), (1.0, 9.0)]


def add_back(cat, lot, views=2):
    with cat.transaction(by=PERSON):
        photo = cat.add_photo(lot, f"backs of {lot}".encode(), file_name="backs.jpg", width_px=600, height_px=400)
    with cat.transaction(by=PERSON):
        return [cat.add_view(photo.photo_id, SQUARE + 70 * i, "interior", area_mm2=16.0) for i in range(views)]


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_a_collection_of_before_gains_the_tables(kind, tmp_path, request):
    first = [step.__name__ for step in MIGRATIONS].index("views_rims_and_labels")
    engine = (
        sqlite_engine(tmp_path / "c.sqlite")
        if kind == "sqlite"
        else server_engine(request.getfixturevalue("server_url"))
    )
    migrate(engine, "x", MIGRATIONS[:first])
    assert "view" not in inspect(engine).get_table_names()
    migrate(engine, "x")
    assert {"view", "rim", "label"} <= set(inspect(engine).get_table_names())
    engine.dispose()


def test_finds_of_before_have_no_views(tmp_path):
    with Catalogue.open(tmp_path, create=True) as cat:
        add_tray(cat, "B-03")
    with closing(sqlite3.connect(tmp_path / "catalogue.sqlite")) as plain, plain:
        first = [step.__name__ for step in MIGRATIONS].index("views_rims_and_labels")
        if first == len(MIGRATIONS) - 1:
            for table in ("view", "rim", "label"):
                plain.execute(f"DROP TABLE {table}")
            plain.execute("DELETE FROM migration WHERE version > ?", (first,))
    with Catalogue.open(tmp_path) as cat:
        assert (cat.views("B-03"), cat.rims("B-03"), cat.labels("B-03")) == ((), {}, ())
        assert len(cat.sherds("B-03")) == 4


def test_a_view_is_no_sherd(cat):
    numbers = add_tray(cat, "B-03")
    views = add_back(cat, "B-03")
    assert [sherd.number for sherd in cat.sherds("B-03")] == numbers
    assert cat.lot("B-03").sherds == 4
    assert [(view.sherd, view.standing, view.kind) for view in views] == [(None, "loose", "interior")] * 2
    assert np.allclose(views[1].outline_px, SQUARE + 70)


def test_a_persons_pairing_stands_against_the_program(cat):
    a, b, *_ = add_tray(cat, "B-03")
    one, other = add_back(cat, "B-03")
    with cat.transaction(by="program"):
        cat.pair_view(one.view_id, a, standing="look", distance_mm=0.5, margin=0.8, turn_deg=30.0)
    assert cat.views(sherd=a)[0].margin == 0.8
    with cat.transaction(by=PERSON):
        cat.pair_view(one.view_id, b)
    with cat.transaction(by="program"):
        cat.pair_view(one.view_id, a, standing="paired")
        cat.pair_view(other.view_id, b, standing="paired")
    assert [(view.sherd, view.standing) for view in cat.views("B-03")] == [(b, "confirmed"), (None, "loose")]
    with cat.transaction(by=PERSON):
        cat.pair_view(other.view_id, b)
    assert [(view.sherd, view.standing) for view in cat.views("B-03")] == [(None, "loose"), (b, "confirmed")]
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert [view.sherd for view in cat.views("B-03")] == [b, None]


def test_a_view_of_a_dropped_sherd_is_loose_and_a_dropped_view_is_gone(cat):
    a, *_ = add_tray(cat, "B-03")
    one, other = add_back(cat, "B-03")
    with cat.transaction(by=PERSON):
        cat.pair_view(one.view_id, a)
    with cat.transaction(by=PERSON):
        cat.drop_sherd(a)
        cat.drop_view(other.view_id)
    assert [(view.sherd, view.standing) for view in cat.views("B-03")] == [(None, "loose")]
    with pytest.raises(UnknownName, match="no view"):
        cat.view(other.view_id)


def test_views_refuse_what_cannot_be(cat):
    add_tray(cat, "B-03")
    strange = add_tray(cat, "C-1", content=b"another")[0]
    view = add_back(cat, "B-03")[0]
    with cat.transaction(by=PERSON), pytest.raises(InputError, match="no view of a sherd"):
        cat.add_view(view.photo_id, SQUARE, "underneath")
    with cat.transaction(by=PERSON), pytest.raises(InputError, match="name a sherd of that lot"):
        cat.pair_view(view.view_id, strange)
    with cat.transaction(by=PERSON), pytest.raises(UnknownName):
        cat.pair_view(view.view_id, "B-03-099")


def test_pairing_leaves_a_sorting_current(cat):
    a, *_ = add_tray(cat, "B-03")
    view = add_back(cat, "B-03")[0]
    with cat.transaction(by="program"):
        cat.save_proposal("B-03", "sort", encoder_tags=[], parameters={}, result={})
    with cat.transaction(by=PERSON):
        cat.pair_view(view.view_id, a)
        cat.propose_label(a, view.photo_id, "0012", confidence=0.9, place="slip", box_px=CORNERS)
    assert cat.latest_proposal("B-03", "sort").is_current
    with cat.transaction(by=PERSON):
        cat.renumber({a: "0012"})
    assert not cat.latest_proposal("B-03", "sort").is_current


def test_a_rim_is_one_reading_and_comes_back(cat):
    a, *_ = add_tray(cat, "B-03")
    unknown, read = RimReading("unknown", note="worn"), RimReading("chord", 185.0, 8.8, 10.5, 0.5, 60.0, 5.0)
    with cat.transaction(by=PERSON):
        cat.record_rim(a, unknown)
    with cat.transaction(by=PERSON):
        cat.record_rim(a, read)
    assert cat.rims("B-03")[a].reading == read
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert cat.rims()[a].reading == unknown
    with cat.transaction(by=PERSON):
        cat.withdraw_rim(a)
    assert cat.rims("B-03") == {}
    with cat.transaction(by=PERSON), pytest.raises(InputError, match="no way to read"):
        cat.record_rim(a, RimReading("guess"))


def test_a_refused_label_is_not_asked_again(cat):
    a, *_ = add_tray(cat, "B-03")
    photo = cat.photos("B-03")[0].photo_id
    with cat.transaction(by="program"):
        first = cat.propose_label(a, photo, "0012", confidence=0.8, place="slip", box_px=CORNERS)
        later = cat.propose_label(a, photo, "11-4", confidence=0.9, place="inked", box_px=CORNERS, rival="h-11")
    assert [label.text for label in cat.labels("B-03")] == ["11-4"]
    assert later.box_px == tuple(CORNERS)
    with cat.transaction(by=PERSON):
        cat.settle_label(later.label_id, "refused")
    with cat.transaction(by="program"):
        assert cat.propose_label(a, photo, "11-4", confidence=0.9, place="slip", box_px=CORNERS) is None
    assert cat.labels("B-03", state="proposed") == ()
    assert first.text == "0012"


def test_numbers_change_places_and_back(cat):
    a, b, c, _ = add_tray(cat, "B-03")
    ids = [sherd.content_key for sherd in cat.sherds("B-03")]
    with cat.transaction(by=PERSON):
        cat.tell("B-03", a, b, "same")
    with cat.transaction(by=PERSON):
        cat.renumber({a: b, b: a, c: "0012"})
    assert [sherd.number for sherd in cat.sherds("B-03")] == [b, a, "0012", "B-03-004"]
    assert [sherd.content_key for sherd in cat.sherds("B-03")] == ids
    assert {cat.links("B-03")[0].a, cat.links("B-03")[0].b} == {a, b}
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert [sherd.number for sherd in cat.sherds("B-03")] == [a, b, c, "B-03-004"]


@pytest.mark.parametrize("text", ["0012", "11-4", "1E5", "2026.014.0037a", "3/12", "10-P-1", "00123"])
def test_a_number_stays_as_typed(cat, text):
    a, *_ = add_tray(cat, "B-03", sherds=1)
    with cat.transaction(by=PERSON):
        cat.renumber({a: text})
    assert cat.sherd(text).number == text


def test_numbers_stay_one_sherds_only(cat):
    a, b, *_ = add_tray(cat, "B-03")
    for wanted in ({a: b}, {a: "7", b: "7"}, {a: " 7"}, {"B-03-099": "7"}):
        with cat.transaction(by=PERSON), pytest.raises((InputError, NameRefused, UnknownName)):
            cat.renumber(wanted)
    assert [sherd.number for sherd in cat.sherds("B-03")][:2] == [a, b]


def test_the_counter_passes_over_numbers_that_people_gave(cat):
    a, *_ = add_tray(cat, "B-03", sherds=1)
    with cat.transaction(by=PERSON):
        cat.renumber({a: "B-03-002"})
        photo = cat.photos("B-03")[0].photo_id
        assert cat.add_sherd(photo, SQUARE).number == "B-03-003"
