"""Vocabulary, tagging and second looks on a small collection."""

from __future__ import annotations

from dataclasses import replace

import pytest

from motifs.design.starter import starter_terms
from motifs.errors import InputError, UnknownName
from motifs.records import Term
from motifs.workflows.agreement import begin_second_look, look_again, next_to_look_at, report_agreement
from motifs.workflows.symmetry import read_sherd, save_drawing
from motifs.workflows.tagging import tag_sherds, tags_in_words, untag_sherds
from motifs.workflows.vocabulary import add_term, change_term, drop_term, read_skos, term_named, terms_of, write_skos

LOT, BY = "B-03", "M. Oduya"


def numbers(cat):
    return [sherd.number for sherd in cat.sherds(LOT)]


def test_the_starter_is_there_until_it_is_changed(cat):
    assert terms_of(cat) == starter_terms()
    assert cat.terms() == ()
    add_term(cat, Term("motif", "comb row", broader=("geometric motif",)), by=BY)
    assert len(terms_of(cat)) == len(starter_terms()) + 1


def test_an_unsound_term_changes_nothing(cat):
    for term in (
        Term("motif", "Meander"),
        Term("motif", "x", broader=("gone",)),
        Term("motif", "x", examples=("gone",)),
    ):
        with pytest.raises((InputError, UnknownName)):
            add_term(cat, term, by=BY)
    meander = term_named(cat, "motif", "meander")
    with pytest.raises(InputError, match="circle"):
        change_term(
            cat,
            term_named(cat, "motif", "geometric motif"),
            replace(term_named(cat, "motif", "geometric motif"), broader=("meander",)),
            by=BY,
        )
    with pytest.raises(InputError, match="narrower"):
        drop_term(cat, "motif", "geometric motif", by=BY)
    assert cat.terms() == ()
    drop_term(cat, "motif", meander.label, by=BY)
    with pytest.raises(UnknownName, match="no motif"):
        term_named(cat, "motif", "meander")


def test_skos_there_and_back_is_the_same(cat, tmp_path):
    add_term(
        cat,
        Term(
            "motif",
            "comb row",
            "teeth",
            ("teeth",),
            ("geometric motif",),
            "late",
            "hills",
            (numbers(cat)[0],),
            "M 0 0 L 1 1",
            "",
            "x",
            "y",
            "∞∞",
        ),
        by=BY,
    )
    before = terms_of(cat)
    write_skos(cat, tmp_path / "v.ttl")
    taken = read_skos(cat, tmp_path / "v.ttl", by=BY)
    assert (taken.added, len(taken.changed) + taken.same) == ((), len(before))
    assert {replace(t, synonyms=tuple(sorted(t.synonyms))) for t in terms_of(cat)} == {
        replace(t, synonyms=tuple(sorted(t.synonyms))) for t in before
    }
    with pytest.raises(InputError, match="already"):
        write_skos(cat, tmp_path / "v.ttl")
    with pytest.raises(InputError, match="cannot read"):
        read_skos(cat, tmp_path / "gone.ttl", by=BY)
    (tmp_path / "w.ttl").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="UTF-8"):
        read_skos(cat, tmp_path / "w.ttl", by=BY)


def test_many_sherds_are_tagged_in_one_change_and_one_undo_takes_it_back(cat):
    wanted = numbers(cat)[:5]
    done = tag_sherds(cat, [*wanted, wanted[0]], "motif", "key pattern", confidence=0.8, by=BY)
    assert (done.term, done.changed) == ("meander", tuple(wanted))
    assert "recorded under" in done.notes[0]
    assert tag_sherds(cat, wanted, "motif", "meander", by=BY).changed == ()
    assert "confidence 0.8 [M. Oduya" in tags_in_words(cat.tags(wanted[0]))[0]
    with cat.transaction(by=BY):
        cat.undo(LOT)
    assert cat.tags(wanted[0]) == ()


def test_tagging_refuses_and_changes_nothing(cat):
    a, b = numbers(cat)[:2]
    with pytest.raises(UnknownName, match="did you mean 'meander'"):
        tag_sherds(cat, [a], "motif", "meandr", by=BY)
    with pytest.raises(UnknownName):
        tag_sherds(cat, [a, "gone"], "motif", "meander", by=BY)
    with pytest.raises(InputError, match="no sherd"):
        tag_sherds(cat, [], "motif", "meander", by=BY)
    with pytest.raises(InputError, match="no kind"):
        tag_sherds(cat, [a], "colour", "red", by=BY)
    with pytest.raises(InputError, match="one sherd"):
        tag_sherds(cat, [a, b], "motif", "meander", box_px=(0, 0, 5, 5), by=BY)
    with pytest.raises(InputError, match="beyond the crop"):
        tag_sherds(cat, [a], "motif", "meander", box_px=(0, 0, 5000, 5), by=BY)
    with pytest.raises(UnknownName, match="none of the"):
        untag_sherds(cat, [a], "motif", "meander", by=BY)
    assert cat.tags(a) == ()


def test_a_box_an_indeterminate_and_a_new_term(cat):
    a, b = numbers(cat)[:2]
    tag_sherds(cat, [a], "motif", "meander", box_px=(2, 3, 20, 10), by=BY)
    tag_sherds(cat, [a, b], "position", "indeterminate", by=BY)
    tag_sherds(cat, [b], "motif", "ladder row", is_new=True, by=BY)
    assert cat.tags(a)[0].box_px == (2, 3, 20, 10)
    assert term_named(cat, "motif", "ladder row").label == "ladder row"
    assert untag_sherds(cat, [a, b], "position", "indeterminate", by=BY).changed == (a, b)


def test_a_second_look_is_seeded_blind_and_measured(cat):
    wanted = numbers(cat)
    for k, number in enumerate(wanted):
        tag_sherds(cat, [number], "motif", ("meander", "chevron band")[k % 2], by=BY)
    look = begin_second_look(cat, "May", "motif", size=6, seed=3, by=BY)
    again = begin_second_look(cat, "June", "motif", size=6, seed=3, by=BY)
    assert look.sherds == again.sherds
    assert len(look.sherds) == 6
    with pytest.raises(UnknownName, match="nobody"):
        report_agreement(cat, "May")
    first = {one.sherd: one.term for one in look.first}
    for k in range(6):
        number = next_to_look_at(cat, "May", by="I. Sato")
        look_again(cat, "May", number, "meander" if k == 0 else first[number], by="I. Sato")
    assert next_to_look_at(cat, "May", by="I. Sato") is None
    report = report_agreement(cat, "May")
    found = report.lookers[0]
    assert found.is_complete
    wrong = first[look.sherds[0]] != "meander"
    assert found.agreement.observed == pytest.approx(1 - wrong / 6)
    assert len(found.agreement.confusions) == wrong
    with pytest.raises(InputError, match="no sherd to look at"):
        begin_second_look(cat, "July", "technique", size=5, by=BY)


def test_symmetry_of_a_catalogued_sherd(cat, tmp_path):
    number = numbers(cat)[0]
    reading = read_sherd(cat, number)
    assert reading.symmetry.group is None or 0 <= reading.symmetry.support <= 1
    save_drawing(cat, reading, tmp_path / "axes.png")
    assert (tmp_path / "axes.png").stat().st_size > 100
    with pytest.raises(InputError, match=r"\.png"):
        save_drawing(cat, reading, tmp_path / "axes.txt")
    with pytest.raises(InputError, match="cannot write"):
        save_drawing(cat, reading, tmp_path / "gone" / "axes.png")
    with pytest.raises(InputError, match="holds no part"):
        read_sherd(cat, number, box_px=(9000, 0, 5, 5))
    with pytest.raises(UnknownName):
        read_sherd(cat, "gone")
