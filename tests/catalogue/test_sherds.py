import sqlite3
from contextlib import closing
from dataclasses import replace

import numpy as np
import pytest

from motifs.errors import InputError, LinksContradict, UnknownName
from tests.catalogue.finds import PERSON, SQUARE, add_tray


def test_numbers_are_the_lots_own_and_in_order(cat):
    assert add_tray(cat, "B-03", sherds=2) == ["B-03-001", "B-03-002"]
    assert add_tray(cat, "0012", sherds=1) == ["0012-001"]
    assert add_tray(cat, "B-03", sherds=1, content=b"second tray") == ["B-03-003"]
    assert [row.number for row in cat.sherds()] == ["B-03-001", "B-03-002", "0012-001", "B-03-003"]
    assert [row.number for row in cat.sherds("B-03", photo_id=1)] == ["B-03-001", "B-03-002"]
    assert (cat.lot("B-03").sherds, cat.lot("B-03").photos) == (3, 2)


def test_lots_whose_names_run_into_each_other_keep_numbers_apart(cat):
    numbers = (
        add_tray(cat, "X", content=b"1") + add_tray(cat, "X-001", content=b"2") + add_tray(cat, "X-", content=b"3")
    )
    assert len(set(numbers)) == len(numbers) == len(cat.sherds())


def test_more_than_a_thousand(lite):
    with lite.transaction(by=PERSON):
        lite.ensure_lot("B-03")
        photo = lite.add_photo("B-03", b"big", file_name="x.jpg", width_px=1, height_px=1)
    with closing(sqlite3.connect(lite.folder / "catalogue.sqlite")) as plain, plain:
        plain.execute("UPDATE lot SET last_number = 496")
    with lite.transaction(by=PERSON):
        numbers = [lite.add_sherd(photo.photo_id, SQUARE).number for _ in range(505)]
    assert numbers[0] == "B-03-497"
    assert numbers[-3:] == ["B-03-999", "B-03-1000", "B-03-1001"]
    assert [row.number for row in lite.sherds()] == numbers
    # more than one statement can ask for at once
    assert len(lite.measurements_of(numbers)) == len(lite.tags_of(numbers)) == 505
    assert lite.vectors("e.none", numbers) == {}


def test_a_sherd_comes_back_as_it_was_given(cat):
    add_tray(cat, "B-03", sherds=1, site="Kestrel Ford")
    outline = np.array([[0.125, 3.3333], [19999.996, 4], [7, 8], [-0.5, 2]], np.float32)
    with cat.transaction(by=PERSON):
        row = cat.add_sherd(1, outline, area_mm2=1.5, look="touches the frame")
    assert (row.lot, row.site, row.photo_name, row.state) == ("B-03", "Kestrel Ford", "B-03 tray.JPG", "kept")
    assert (row.area_mm2, row.max_dimension_mm, row.look) == (1.5, None, "touches the frame")
    assert row.outline_px.dtype == np.float32
    np.testing.assert_allclose(row.outline_px, outline, atol=0.006)
    with cat.transaction(by=PERSON):  # what came out goes in again unchanged
        again = cat.replace_outline(row.number, row.outline_px, area_mm2=1.5, look="touches the frame")
    assert again == replace(row, outline_by=PERSON)
    np.testing.assert_array_equal(again.outline_px, row.outline_px)


@pytest.mark.parametrize(
    "outline",
    [
        np.zeros((0, 2)),
        np.zeros((2, 2)),
        np.zeros((4, 3)),
        np.zeros(6),
        np.full((3, 2), np.nan),
        np.full((3, 2), np.inf),
    ],
)
def test_what_is_no_polygon_is_refused(cat, outline):
    numbers = add_tray(cat, "B-03", sherds=2)
    for write in (
        lambda: cat.add_sherd(1, outline),
        lambda: cat.replace_outline(numbers[0], outline),
        lambda: cat.merge_sherds(numbers, outline),
    ):
        with pytest.raises(InputError, match="outline"), cat.transaction(by=PERSON):
            write()
    assert [row.number for row in cat.sherds()] == numbers


def test_a_dropped_sherd_stays_in_the_history_and_its_number_is_used_up(cat):
    numbers = add_tray(cat, "B-03", sherds=2)
    with cat.transaction(by=PERSON):
        cat.drop_sherd(numbers[1])
    assert [row.number for row in cat.sherds("B-03")] == numbers[:1]
    assert cat.lot("B-03").sherds == 1
    assert cat.sherd(numbers[1]).state == "dropped"
    assert [row.number for row in cat.sherds("B-03", with_dropped=True)] == numbers
    with cat.transaction(by=PERSON):
        assert cat.add_sherd(1, SQUARE).number == "B-03-003"
    for write in (
        lambda: cat.drop_sherd(numbers[1]),
        lambda: cat.replace_outline(numbers[1], SQUARE),
        lambda: cat.attribute(numbers[1], "1"),
        lambda: cat.add_tag(numbers[1], "chevron", "motif"),
        lambda: cat.tell("B-03", numbers[0], numbers[1], "same"),
        lambda: cat.merge_sherds(numbers, SQUARE),
    ):
        with pytest.raises(UnknownName, match="was dropped"), cat.transaction(by=PERSON):
            write()


def test_an_outline_is_replaced_and_taken_back(cat):
    numbers = add_tray(cat, "B-03", sherds=1)
    before = cat.sherd(numbers[0])
    with cat.transaction(by=PERSON):
        after = cat.replace_outline(numbers[0], SQUARE * 2, area_mm2=64.0, max_dimension_mm=11.3, look="redrawn")
    assert after.content_key != before.content_key
    assert (after.area_mm2, after.look) == (64.0, "redrawn")
    assert cat.crop(numbers[0]) is None
    assert cat.crop_file(numbers[0]) is None
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert cat.sherd(numbers[0]) == before
    np.testing.assert_array_equal(cat.sherd(numbers[0]).outline_px, before.outline_px)
    assert cat.crop(numbers[0]) is not None


def test_merging_takes_over_links_tags_and_an_agreed_attribution(cat):
    a, b, c, d = add_tray(cat, "B-03")
    with cat.transaction(by="R. Vance"):
        cat.tell("B-03", a, c, "same")
        cat.tell("B-03", b, c, "same")
        cat.tell("B-03", b, d, "different")
        cat.attribute(a, "Vessel 2", note="same chevrons")
        cat.add_tag(a, "chevron", "motif", box_px=(1, 2, 3, 4))
        cat.add_tag(b, "chevron", "motif")
        cat.add_tag(b, "rim", "position")
    before = (cat.sherds(), cat.links("B-03"), cat.attributions("B-03"), cat.tags(a), cat.tags(b))
    with cat.transaction(by=PERSON):
        whole = cat.merge_sherds([a, b], SQUARE, area_mm2=32.0)
    assert whole.number == "B-03-005"
    assert cat.sherd(a).merged_into == cat.sherd(b).merged_into == whole.number
    assert [row.number for row in cat.sherds()] == [c, d, whole.number]
    said = {(link.a, link.b, link.relation, link.by) for link in cat.links("B-03")}
    assert said == {(c, whole.number, "same", "R. Vance"), (d, whole.number, "different", "R. Vance")}
    judged = cat.attributions("B-03")[whole.number]
    assert (judged.vessel, judged.by, judged.note) == ("Vessel 2", "R. Vance", "same chevrons")
    assert [(tag.term, tag.box_px) for tag in cat.tags(whole.number)] == [("chevron", None), ("rim", None)]
    with pytest.raises(UnknownName, match="merged into 'B-03-005'"), cat.transaction(by=PERSON):
        cat.drop_sherd(a)
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert (cat.sherds(), cat.links("B-03"), cat.attributions("B-03"), cat.tags(a), cat.tags(b)) == before
    with cat.transaction(by=PERSON):
        assert cat.merge_sherds([a, b], SQUARE).number == "B-03-006"


def test_parts_whose_attributions_differ_leave_the_whole_open(cat):
    a, b, *_ = add_tray(cat, "B-03")
    with cat.transaction(by=PERSON):
        cat.attribute(a, "1")
        cat.attribute(b, None)
        whole = cat.merge_sherds([a, b], SQUARE).number
    assert whole not in cat.attributions("B-03")


@pytest.mark.parametrize(
    "told",
    [
        [("a", "b", "different")],
        [("a", "c", "same"), ("b", "c", "different")],
        [("a", "c", "same"), ("c", "d", "same"), ("b", "d", "different")],
    ],
)
def test_parts_told_different_are_not_merged_even_if_the_error_is_caught_inside(cat, told):
    names = dict(zip("abcd", add_tray(cat, "B-03"), strict=True))
    with cat.transaction(by=PERSON):
        for a, b, relation in told:
            cat.tell("B-03", names[a], names[b], relation)
    before = (cat.sherds(), cat.links("B-03"), cat.version())
    with cat.transaction(by=PERSON), pytest.raises(LinksContradict):
        cat.merge_sherds([names["a"], names["b"]], SQUARE)
    assert (cat.sherds(), cat.links("B-03"), cat.version()) == before


def test_merging_needs_two_sherds_of_one_photo(cat):
    a = add_tray(cat, "B-03", sherds=1)[0]
    b = add_tray(cat, "B-03", sherds=1, content=b"second")[0]
    for numbers in ([], [a], [a, a]):
        with pytest.raises(InputError, match="two sherds"), cat.transaction(by=PERSON):
            cat.merge_sherds(numbers, SQUARE)
    with pytest.raises(InputError, match="not on one photo"), cat.transaction(by=PERSON):
        cat.merge_sherds([a, b], SQUARE)
    with pytest.raises(UnknownName), cat.transaction(by=PERSON):
        cat.merge_sherds([a, "B-03-999"], SQUARE)
