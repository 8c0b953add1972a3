import pytest

from motifs.catalogue import TAG_KINDS, Measurement
from motifs.errors import InputError, NameRefused, UnknownName
from tests.catalogue.finds import PERSON, SQUARE, add_tray


def test_tags_on_a_sherd_and_on_a_box(cat):
    a, b, *_ = add_tray(cat, "B-03")
    assert cat.tags(a) == ()
    assert cat.tags_of([]) == {}
    with cat.transaction(by=PERSON):
        first = cat.add_tag(a, "running spiral", "motif", confidence=0.75)
        boxed = cat.add_tag(a, "running spiral", "motif", box_px=(0, 4, 20, 10))
        assert cat.add_tag(a, "running spiral", "motif", confidence=0.1) == first
        cat.add_tag(b, "indeterminate", "motif")
    assert cat.tags(a) == (first, boxed)
    assert (first.sherd, first.term, first.kind, first.confidence, first.by) == (
        a,
        "running spiral",
        "motif",
        0.75,
        PERSON,
    )
    assert boxed.box_px == (0, 4, 20, 10)
    assert {number: len(tags) for number, tags in cat.tags_of([b, a]).items()} == {b: 1, a: 2}
    with cat.transaction(by=PERSON):
        cat.remove_tag(first.tag_id)
    assert cat.tags(a) == (boxed,)
    with pytest.raises(UnknownName, match="no tag"), cat.transaction(by=PERSON):
        cat.remove_tag(first.tag_id)
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert cat.tags(a) == (first, boxed)


@pytest.mark.parametrize("kind", TAG_KINDS)
def test_every_kind_can_be_said(lite, kind):
    a = add_tray(lite, "B-03", sherds=1)[0]
    with lite.transaction(by=PERSON):
        assert lite.add_tag(a, "x", kind).kind == kind


@pytest.mark.parametrize(
    ("more", "error"),
    [
        ({"term": ""}, NameRefused),
        ({"term": "a\nb"}, NameRefused),
        ({"kind": "colour of the bag"}, InputError),
        ({"confidence": 1.1}, InputError),
        ({"confidence": float("nan")}, InputError),
        ({"box_px": (0, 0, 0, 5)}, InputError),
        ({"box_px": (-1, 0, 3, 5)}, InputError),
        ({"box_px": (1, 2, 3)}, InputError),
        ({"box_px": (1, 2, float("inf"), 3)}, InputError),
        ({"number": "B-03-999"}, UnknownName),
    ],
)
def test_what_cannot_be_a_tag(cat, more, error):
    a = add_tray(cat, "B-03", sherds=1)[0]
    with pytest.raises(error), cat.transaction(by=PERSON):
        cat.add_tag(**{"number": a, "term": "chevron", "kind": "motif", **more})
    assert cat.tags(a) == ()


def propose(cat, result, kind="sort"):
    with cat.transaction(by="sort"):
        return cat.save_proposal("B-03", kind, encoder_tags=("e.one",), parameters={"seed": 3}, result=result)


def test_the_latest_proposal_of_a_kind(cat):
    add_tray(cat, "B-03")
    assert cat.latest_proposal("B-03", "sort") is None
    propose(cat, {"vessels": 2})
    newest = propose(cat, {"vessels": 3, "range": [2, 4], "note": None})
    propose(cat, [], kind="layout")
    found = cat.latest_proposal("B-03", "sort")
    assert found == newest
    assert (found.result["vessels"], found.parameters, found.encoder_tags) == (3, {"seed": 3}, ("e.one",))
    with pytest.raises(UnknownName):
        cat.latest_proposal("B-3", "sort")


def test_a_proposal_is_current_until_what_it_rests_on_changes(cat):
    a, b, *_ = add_tray(cat, "B-03")
    propose(cat, 1)
    with cat.transaction(by=PERSON):
        cat.save_measurements({a: {"x_mm": Measurement(1)}})
    propose(cat, 2, kind="layout")
    add_tray(cat, "C-1")
    assert cat.latest_proposal("B-03", "sort").is_current
    with cat.transaction(by=PERSON):
        cat.tell("B-03", a, b, "same")
    assert not cat.latest_proposal("B-03", "sort").is_current
    assert propose(cat, 3).is_current
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert not cat.latest_proposal("B-03", "sort").is_current
    propose(cat, 4)
    with cat.transaction(by=PERSON):
        cat.replace_outline(a, SQUARE + 3)
    assert not cat.latest_proposal("B-03", "sort").is_current
