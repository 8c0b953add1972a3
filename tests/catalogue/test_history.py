from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from motifs.errors import InputError, MotifsError
from tests.catalogue.finds import PERSON, SQUARE, add_tray


def test_who_when_what(cat):
    start = datetime.now(UTC)
    a, *_ = add_tray(cat, "B-03", site="Kestrel Ford")
    with cat.transaction(by="R. Vance"):
        cat.attribute(a, "Vessel 1")
    with cat.transaction(by=PERSON):
        cat.attribute(a, "Vessel 2")
    event = cat.history("B-03")[0]
    assert (event.by, event.verb, event.lot, event.subject) == (PERSON, "attributed", "B-03", a)
    assert [change["row"].get("vessel") for change in event.after] == [None, "Vessel 2"]
    assert event.before[0] == {"table": "attribution", "id": 1, "row": {"is_active": True}}
    at = datetime.fromisoformat(event.at)
    assert at.utcoffset().total_seconds() == 0
    assert start <= at <= datetime.now(UTC)
    assert [e.event_id for e in cat.history()] == sorted((e.event_id for e in cat.history()), reverse=True)
    assert len(cat.history(limit=2)) == 2
    assert cat.history(limit=0) == ()
    assert "site added" in {e.verb for e in cat.history()}


def test_nothing_to_undo(cat):
    add_tray(cat, "B-03")
    version = cat.version()
    with pytest.raises(InputError, match="nothing to undo"), cat.transaction(by=PERSON):
        cat.undo("B-03")  # an intake is not undone by accident
    assert (cat.version(), len(cat.sherds())) == (version, 4)


def test_undo_takes_back_a_whole_change_once(cat):
    a, b, c, d = add_tray(cat, "B-03")
    with cat.transaction(by=PERSON):
        cat.drop_sherd(a)
        cat.tell("B-03", b, c, "same")
        cat.add_tag(d, "chevron", "motif")
    with cat.transaction(by="R. Vance"):
        undone = cat.undo("B-03")
    assert [event.verb for event in undone] == ["tagged", "told same", "sherd dropped"]
    assert (len(cat.sherds()), cat.links("B-03"), cat.tags(d)) == (4, (), ())
    newest = cat.history()[0]
    assert (newest.verb, newest.by, newest.is_undoable) == ("undone", "R. Vance", False)
    assert all(event.is_undone for event in cat.history() if event.change == undone[0].change)
    with pytest.raises(InputError), cat.transaction(by=PERSON):
        cat.undo("B-03")


def test_a_sherd_added_by_hand_is_taken_back(cat):
    add_tray(cat, "B-03", sherds=1)
    with cat.transaction(by=PERSON):
        cat.add_sherd(1, SQUARE)
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert [row.number for row in cat.sherds()] == ["B-03-001"]
    with cat.transaction(by=PERSON):
        assert cat.add_sherd(1, SQUARE).number == "B-03-003"


def test_lots_have_each_their_own_undo(cat):
    a = add_tray(cat, "B-03")[0]
    b = add_tray(cat, "C-1")[0]
    for number in (a, b):
        with cat.transaction(by=PERSON):
            cat.drop_sherd(number)
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert (cat.sherd(a).state, cat.sherd(b).state) == ("kept", "dropped")


def test_undo_is_refused_where_another_lot_changed_it_since(cat):
    a, b, *_ = add_tray(cat, "B-03")
    with cat.transaction(by=PERSON):
        cat.drop_sherd(a)
    with cat.transaction(by=PERSON):
        cat.tell("B-03", b, "B-03-003", "same")
    with cat.transaction(by=PERSON):
        cat.ensure_lot("C-1")
        cat.move_photo(1, "C-1")
    with cat.transaction(by=PERSON):
        cat.withdraw("C-1", b, "B-03-003")
    before = (cat.sherds(), cat.links("C-1"), cat.version())
    with cat.transaction(by=PERSON), pytest.raises(InputError, match="changed again since"):
        cat.undo("B-03")
    assert (cat.sherds(), cat.links("C-1"), cat.version()) == before


def _state(cat):
    numbers = [row.number for row in cat.sherds()]
    outlines = [row.outline_px.tolist() for row in cat.sherds()]
    links = {(link.a, link.b, link.relation) for link in cat.links("B-03")}
    words = {number: (row.vessel, row.note) for number, row in cat.attributions("B-03").items()}
    tags = {(tag.sherd, tag.term, tag.kind) for number in numbers for tag in cat.tags(number)}
    return cat.sherds(), outlines, links, words, tags, cat.lot("B-03"), cat.photos("B-03")


which = st.integers(0, 7)
actions = st.one_of(
    st.tuples(st.just("drop"), which),
    st.tuples(st.just("outline"), which, st.integers(1, 9)),
    st.tuples(st.just("merge"), which, which),
    st.tuples(st.just("tell"), which, which, st.sampled_from(["same", "different"])),
    st.tuples(st.just("withdraw"), which, which),
    st.tuples(st.just("attribute"), which, st.sampled_from([None, "1", "2"])),
    st.tuples(st.just("tag"), which, st.sampled_from(["chevron", "rim"])),
    st.tuples(st.just("site"), st.sampled_from([None, "Kestrel Ford", "Ashby Weir"])),
)


def _act(cat, verb, *more):
    numbers = [row.number for row in cat.sherds(with_dropped=True)]
    names = [numbers[n % len(numbers)] if isinstance(n, int) and i < 2 else n for i, n in enumerate(more)]
    {
        "drop": cat.drop_sherd,
        "outline": lambda number, _: cat.replace_outline(number, SQUARE * more[1]),
        "merge": lambda a, b: cat.merge_sherds([a, b], SQUARE),
        "tell": lambda a, b, relation: cat.tell("B-03", a, b, relation),
        "withdraw": lambda a, b: cat.withdraw("B-03", a, b),
        "attribute": cat.attribute,
        "tag": lambda number, term: cat.add_tag(number, term, "motif"),
        "site": lambda site: cat.set_site("B-03", site),
    }[verb](*names)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=15, deadline=None)
@given(todo=st.lists(actions, max_size=7))
def test_undoing_everything_gives_what_was_there(lite, todo):
    if not lite.lots():
        add_tray(lite, "B-03", sherds=5, site="Kestrel Ford")
    states = [_state(lite)]
    for action in todo:
        version = lite.version()
        try:
            with lite.transaction(by=PERSON):
                _act(lite, *action)
        except MotifsError:
            assert lite.version() == version
            assert _state(lite) == states[-1]
        if lite.version() != version:
            states.append(_state(lite))
    for state in reversed(states[:-1]):
        with lite.transaction(by=PERSON):
            lite.undo("B-03")
        assert _state(lite) == state
