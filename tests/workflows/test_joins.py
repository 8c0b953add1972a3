"""Joins of a lot in the catalogue: what is asked for wrongly is refused in one line, and the analyst's word stands."""

import numpy as np
import pytest

from motifs.catalogue import Catalogue
from motifs.errors import InputError, LinksContradict, UnknownName
from motifs.workflows.join_pictures import save_picture
from motifs.workflows.joins import find_joins, join_evidence, judge_joins
from tests.catalogue.finds import PERSON, add_tray


@pytest.fixture
def lot(tmp_path):
    with Catalogue.open(tmp_path / "c", create=True) as cat:
        yield cat, add_tray(cat, "B-03")


def test_an_unknown_lot_and_an_unproposed_pair_are_named(lot, tmp_path):
    cat, (a, b, *_) = lot
    with pytest.raises(UnknownName):
        find_joins(cat, "no such", by=PERSON)
    with pytest.raises(UnknownName, match="no join"):
        save_picture(cat, "B-03", a, b, tmp_path / "x.png")
    with pytest.raises(InputError, match=r"\.png"):
        save_picture(cat, "B-03", a, b, tmp_path / "x.tiff")


def test_yes_and_no_at_once_is_refused_and_keeps_nothing(lot):
    cat, (a, b, c, *_) = lot
    with pytest.raises(InputError, match="at once"):
        judge_joins(cat, "B-03", accepted=[(a, b), (a, c)], refused=[(b, a)], by=PERSON)
    assert cat.join_words("B-03") == ()


def test_sherds_told_apart_cannot_be_joined(lot):
    cat, (a, b, *_) = lot
    with cat.transaction(by=PERSON):
        cat.tell("B-03", a, b, "different")
    with pytest.raises(InputError, match="different vessels"):
        judge_joins(cat, "B-03", accepted=[(b, a)], by=PERSON)


def test_an_accepted_join_is_evidence_and_a_refused_one_is_silent(tmp_path):
    square = np.array([[10, 10], [60, 10], [60, 60], [10, 60]], np.float32)
    with Catalogue.open(tmp_path / "c", create=True) as cat:
        with cat.transaction(by=PERSON):
            cat.ensure_lot("B-03")
            photo = cat.add_photo("B-03", b"no bar", file_name="t.jpg", width_px=600, height_px=400)
            a, b, c = (cat.add_sherd(photo.photo_id, square + 70 * i).number for i in range(3))
        judge_joins(cat, "B-03", accepted=[(b, a)], refused=[(a, c)], by=PERSON)
        assert join_evidence(cat, "B-03", by=PERSON) == [(0, 1, 20.0)]
        assert "no scale" in find_joins(cat, "B-03", by=PERSON).notes[0]


def links(cat):
    return [(link.a, link.b, link.relation) for link in cat.links("B-03")]


def test_an_accepted_join_tells_the_sorting_and_its_end_takes_that_back(lot):
    cat, (a, b, c, *_) = lot
    judge_joins(cat, "B-03", accepted=[(a, b)], by=PERSON)
    assert links(cat) == [(a, b, "same")]
    judge_joins(cat, "B-03", accepted=[(a, b)], note="tried at the table", by=PERSON)
    assert links(cat) == [(a, b, "same")]
    judge_joins(cat, "B-03", withdrawn=[(b, a)], by=PERSON)
    assert links(cat) == []
    judge_joins(cat, "B-03", accepted=[(c, a)], by=PERSON)
    judge_joins(cat, "B-03", refused=[(a, c)], by=PERSON)
    assert links(cat) == []


def test_what_was_told_by_itself_outlives_a_join(lot):
    cat, (a, b, *_) = lot
    with cat.transaction(by=PERSON):
        cat.tell("B-03", a, b, "same")
    judge_joins(cat, "B-03", accepted=[(a, b)], by=PERSON)
    judge_joins(cat, "B-03", withdrawn=[(a, b)], by=PERSON)
    assert links(cat) == [(a, b, "same")]


def test_joins_that_contradict_the_word_on_vessels_are_refused_and_keep_nothing(lot):
    cat, (a, b, c, *_) = lot
    with cat.transaction(by=PERSON):
        cat.tell("B-03", a, c, "different")
    with pytest.raises(LinksContradict):
        judge_joins(cat, "B-03", accepted=[(a, b), (b, c)], by=PERSON)
    assert cat.join_words("B-03") == ()
    assert links(cat) == [(a, c, "different")]
