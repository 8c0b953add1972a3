"""Places by hand, treatment records and forms: kept, replaced, taken back, undone; there after an upgrade, on both databases."""

import pytest
from sqlalchemy import inspect

from motifs.catalogue import FormRow
from motifs.catalogue.database import server_engine, sqlite_engine
from motifs.catalogue.mending_tables import NAMES
from motifs.catalogue.migrations import MIGRATIONS, migrate
from motifs.errors import InputError, UnknownName
from tests.catalogue.finds import PERSON, add_tray

LOT = "B-03"


@pytest.fixture
def pair(cat):
    return add_tray(cat, LOT)[:2]


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_a_collection_of_before_gains_the_tables(kind, tmp_path, request):
    before = [step.__name__ for step in MIGRATIONS].index("layouts_treatments_and_forms")
    url = None if kind == "sqlite" else request.getfixturevalue("server_url")
    engine = sqlite_engine(tmp_path / "c.sqlite") if url is None else server_engine(url)
    migrate(engine, "x", MIGRATIONS[:before])
    assert not set(NAMES) & set(inspect(engine).get_table_names())
    migrate(engine, "x")
    assert set(NAMES) <= set(inspect(engine).get_table_names())
    engine.dispose()


def test_nothing_is_there_at_first(cat, pair):
    assert cat.placements(LOT) == {}
    assert cat.treatments(LOT) == ()
    assert cat.vessel_form(LOT, "1") is None


def test_a_place_is_kept_replaced_and_taken_back(cat, pair):
    with cat.transaction(by=PERSON):
        cat.place_sherd(pair[0], 12.5, -3.0, -90.0)
    row = cat.placements(LOT)[pair[0]]
    assert (row.x_mm, row.y_mm, row.turn_deg, row.is_locked, row.by) == (12.5, -3.0, 270.0, True, PERSON)
    with cat.transaction(by=PERSON):
        cat.place_sherd(pair[0], 1.0, 2.0, 0.0, is_locked=False)
    assert not cat.placements(LOT)[pair[0]].is_locked
    cat_undo(cat)
    assert cat.placements(LOT)[pair[0]].x_mm == 12.5
    with cat.transaction(by=PERSON):
        cat.withdraw_placement(pair[0])
    assert cat.placements(LOT) == {}


def cat_undo(cat):
    with cat.transaction(by=PERSON):
        cat.undo(LOT)


def test_a_record_grows_and_is_corrected_with_its_history(cat, pair):
    with cat.transaction(by=PERSON):
        first = cat.add_treatment(LOT, "1", "joining", done_on="2026-03-05", person="A. Reed", fields={"batch": "0012"})
        cat.add_treatment(LOT, "2", "cleaning", done_on="2026-03-06", person="A. Reed", fields={})
    with cat.transaction(by=PERSON):
        cat.add_treatment(
            LOT, "1", "joining", done_on="2026-03-05", person="A. Reed", fields={"batch": "0013"}, replaces=first.treatment_id
        )
    assert [row.fields for row in cat.treatments(LOT, "1")] == [{"batch": "0013"}]
    assert len(cat.treatments(LOT)) == 2
    assert [event.verb for event in cat.history(LOT)].count("treatment: joining") == 2
    cat_undo(cat)
    assert [row.fields for row in cat.treatments(LOT, "1")] == [{"batch": "0012"}]


def test_a_form_is_kept_as_measured(cat, pair):
    form = FormRow(LOT, "1", ((0.0, 60.0), (40.0, 82.5)), wall_mm=6.0, repeats=12, sure_to_mm=30.0)
    with cat.transaction(by=PERSON):
        assert cat.record_form(form) == form
        cat.withdraw_form(LOT, "1")
    assert cat.vessel_form(LOT, "1") is None


def test_what_cannot_be_is_refused_and_nothing_changes(cat, pair):
    a, _ = pair
    attempts = [
        (InputError, lambda: cat.place_sherd(a, float("nan"), 0, 0)),
        (UnknownName, lambda: cat.place_sherd("no such", 0, 0, 0)),
        (UnknownName, lambda: cat.withdraw_placement(a)),
        (InputError, lambda: cat.add_treatment(LOT, "1", "glueing", done_on="", person="", fields={})),
        (UnknownName, lambda: cat.withdraw_treatment(LOT, 99)),
        (UnknownName, lambda: cat.add_treatment("no lot", "1", "fill", done_on="", person="", fields={})),
        (InputError, lambda: cat.record_form(FormRow(LOT, "1", ((0.0, 60.0),)))),
        (InputError, lambda: cat.record_form(FormRow(LOT, "1", ((0.0, 60.0), (10.0, -1.0))))),
        (InputError, lambda: cat.record_form(FormRow(LOT, "1", ((0.0, 60.0), (0.0, 60.0))))),
        (UnknownName, lambda: cat.withdraw_form(LOT, "1")),
    ]
    for error, attempt in attempts:
        with pytest.raises(error), cat.transaction(by=PERSON):
            attempt()
    assert (cat.placements(LOT), cat.treatments(LOT), cat.vessel_form(LOT, "1")) == ({}, (), None)
