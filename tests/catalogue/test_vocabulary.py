from dataclasses import replace

import pytest
from sqlalchemy import inspect, text

from motifs.catalogue import FirstLook, SherdFilter
from motifs.catalogue.database import sqlite_engine
from motifs.catalogue.migrations import MIGRATIONS, migrate
from motifs.catalogue.vocabulary_tables import NAMES
from motifs.errors import InputError, NameRefused, UnknownName
from motifs.records import Term
from tests.catalogue.finds import PERSON, add_tray

SCROLL = Term(
    "motif", "scroll", "a curl", ("curl",), (), "early", "coast", ("B-03-001",), "M 0 0 L 1 1", "", "a", "b", "c"
)


def test_terms_come_back_as_they_were(cat):
    with cat.transaction(by=PERSON):
        cat.add_terms([SCROLL, Term("layout", "scroll")])
    assert cat.terms() == (Term("layout", "scroll"), SCROLL)
    assert cat.terms("motif") == (SCROLL,)
    assert [event.verb for event in cat.history()] == ["term added", "term added"]


def test_no_terms(cat):
    assert cat.terms() == ()
    with cat.transaction(by=PERSON):
        cat.add_terms([])
    with pytest.raises(UnknownName, match="no motif"), cat.transaction(by=PERSON):
        cat.drop_term("motif", "scroll")


def test_doubles_and_bad_names_change_nothing(cat):
    with cat.transaction(by=PERSON):
        cat.add_terms([SCROLL])
    with pytest.raises(InputError, match="already"), cat.transaction(by=PERSON):
        cat.add_terms([Term("motif", "fret"), SCROLL])
    with pytest.raises(NameRefused), cat.transaction(by=PERSON):
        cat.add_terms([Term("motif", "a\x00b")])
    assert cat.terms() == (SCROLL,)


def test_two_people_do_not_lose_each_others_edits(cat):
    with cat.transaction(by=PERSON):
        cat.add_terms([SCROLL])
    with cat.transaction(by="I. Sato"):
        cat.replace_term(SCROLL, replace(SCROLL, definition="a curled line"))
    with pytest.raises(InputError, match=r"changed by I\. Sato"), cat.transaction(by=PERSON):
        cat.replace_term(SCROLL, replace(SCROLL, definition="mine"))
    assert cat.terms()[0].definition == "a curled line"


def test_a_new_label_is_followed(cat):
    number = add_tray(cat, "B-03")[0]
    with cat.transaction(by=PERSON):
        cat.add_terms([SCROLL, Term("motif", "hooked scroll", broader=("scroll",))])
        cat.add_tag(number, "scroll", "motif")
        cat.add_tag(number, "scroll", "element")
    with cat.transaction(by="I. Sato"):
        cat.replace_term(SCROLL, replace(SCROLL, label="volute"))
    assert {(tag.term, tag.kind, tag.by) for tag in cat.tags(number)} == {
        ("volute", "motif", PERSON),
        ("scroll", "element", PERSON),
    }
    assert cat.terms()[0].broader == ("volute",)


def test_a_dropped_term_can_come_back(cat):
    with cat.transaction(by=PERSON):
        cat.add_terms([SCROLL])
        cat.drop_term("motif", "scroll")
        cat.add_terms([SCROLL])
    assert cat.terms() == (SCROLL,)


def test_second_answers_stay_apart_from_tags(cat):
    a, b, *_ = add_tray(cat, "B-03")
    with cat.transaction(by=PERSON):
        look = cat.add_second_look("May", "motif", [FirstLook(a, "scroll", "x"), FirstLook(b, "fret", "x")], seed=4)
    assert look.sherds == (a, b)
    with cat.transaction(by="I. Sato"):
        cat.answer_second_look("May", a, "fret", confidence=0.4)
        cat.answer_second_look("May", a, "scroll")
    answers = cat.second_answers("May")
    assert [(one.sherd, one.term, one.by) for one in answers] == [(a, "scroll", "I. Sato")]
    assert cat.tags(a) == ()
    assert not any("scroll" in event.subject for event in cat.history())


def test_second_looks_refuse(cat):
    a, b, *_ = add_tray(cat, "B-03")
    with pytest.raises(UnknownName, match="none yet"):
        cat.second_look("May")
    with pytest.raises(InputError, match="no sherd"), cat.transaction(by=PERSON):
        cat.add_second_look("May", "motif", [], seed=0)
    with cat.transaction(by=PERSON):
        cat.add_second_look("May", "motif", [FirstLook(a, "scroll", "x")], seed=0)
    with pytest.raises(InputError, match="already"), cat.transaction(by=PERSON):
        cat.add_second_look("May", "motif", [FirstLook(a, "scroll", "x")], seed=0)
    with pytest.raises(UnknownName, match="not in the sample"), cat.transaction(by=PERSON):
        cat.answer_second_look("May", b, "scroll")
    with pytest.raises(InputError, match="0 to 1"), cat.transaction(by=PERSON):
        cat.answer_second_look("May", a, "scroll", confidence=2)


def test_pages_of_sherds(cat):
    first = add_tray(cat, "B-03", sherds=4, site="Kestrel Ford")
    second = add_tray(cat, "100%", sherds=2)
    with cat.transaction(by=PERSON):
        for number in first[:2]:
            cat.add_tag(number, "scroll", "motif")
        cat.add_tag(first[2], "rim", "position")
        cat.drop_sherd(first[3])

    def numbers(**wanted):
        return [line.number for line in cat.sherd_lines(SherdFilter(**wanted)).lines]

    assert numbers() == [*second, *first[:3]]
    assert numbers(lot="B-03") == first[:3] == numbers(site="Kestrel Ford")
    assert numbers(kind="motif", term="scroll") == first[:2] == numbers(text="SCRO")
    assert numbers(kind="motif", untagged=True) == [*second, first[2]]
    assert numbers(untagged=True) == second == numbers(text="100%")
    assert numbers(text="_") == []
    assert numbers(order="newest")[0] == second[-1]
    page = cat.sherd_lines(SherdFilter(), offset=1, limit=2)
    assert (page.total, len(page.lines), page.lines[0].number) == (5, 2, second[1])
    assert cat.sherd_lines(SherdFilter(lot="gone")).total == 0
    assert cat.tag_counts() == {("motif", "scroll"): 2, ("position", "rim"): 1}
    with pytest.raises(InputError):
        cat.sherd_lines(SherdFilter(), limit=0)
    with pytest.raises(InputError):
        cat.sherd_lines(SherdFilter(order="colour"))


def test_a_catalogue_of_before_gains_the_tables(tmp_path):
    engine = sqlite_engine(tmp_path / "catalogue.sqlite")
    step = [one.__name__ for one in MIGRATIONS].index("vocabulary_and_second_looks")
    migrate(engine, "x", MIGRATIONS[:step])
    with engine.begin() as connection:
        assert not set(NAMES) & set(inspect(connection).get_table_names())
        connection.execute(text("INSERT INTO site (name, made_by, made_at) VALUES ('Kestrel Ford', 'x', '2026')"))
    migrate(engine, "x")
    with engine.connect() as connection:
        assert set(NAMES) <= set(inspect(connection).get_table_names())
        assert connection.scalar(text("SELECT name FROM site")) == "Kestrel Ford"
    engine.dispose()
