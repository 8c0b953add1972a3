"""Lists of comparanda and refused tags: kept, taken back, refused when they cannot be, and there after an upgrade."""

import pytest

from motifs.catalogue import Catalogue, Citation
from motifs.catalogue.database import sqlite_engine
from motifs.catalogue.migrations import MIGRATIONS, migrate
from motifs.errors import InputError, NameRefused, UnknownName
from tests.catalogue.finds import add_tray

BOOK = Citation(
    author="M. Oduya", year="2019", title="Bowls of the lower Wend", pages="44-51", figure="12, 3", piece="bowl 7"
)


@pytest.fixture
def filled(cat):
    add_tray(cat, "B-03", site="Kestrel Ford")
    add_tray(cat, "C-1", site="Marl Hill")
    return cat


def numbers(cat, lot):
    return [sherd.number for sherd in cat.sherds(lot)]


def test_kept_with_its_reason_and_undone(filled):
    query, other = numbers(filled, "B-03")[0], numbers(filled, "C-1")[0]
    with filled.transaction(by="M. Oduya"):
        kept = filled.keep_comparandum(
            "spirals", query, other, " both run left ", similarity=0.8, probability=0.91, encoder="motif.x"
        )
    assert (kept.sherd, kept.lot, kept.site, kept.reason, kept.by) == (
        other,
        "C-1",
        "Marl Hill",
        "both run left",
        "M. Oduya",
    )
    assert (kept.similarity, kept.probability, kept.encoder, kept.citation) == (0.8, 0.91, "motif.x", Citation())
    assert filled.comparanda_in("spirals") == filled.comparanda_kept_for(query) == (kept,)
    assert [(row.name, row.entries) for row in filled.comparanda_lists()] == [("spirals", 1)]
    with filled.transaction(by="M. Oduya"):
        filled.undo("B-03")
    assert filled.comparanda_lists() == ()
    with pytest.raises(UnknownName, match="no list of comparanda yet"):
        filled.comparanda_in("spirals")


def test_the_same_pair_is_kept_once(filled):
    query, other = numbers(filled, "B-03")[0], numbers(filled, "C-1")[0]
    with filled.transaction(by="a"):
        first = filled.keep_comparandum("spirals", query, other, "one reason")
        again = filled.keep_comparandum("spirals", query, other, "a better reason", citation=BOOK)
        elsewhere = filled.keep_comparandum("hooks", query, other, "one reason")
    assert again.entry_id == first.entry_id != elsewhere.entry_id
    assert (again.reason, again.citation) == ("a better reason", BOOK)
    with filled.transaction(by="b"):
        filled.drop_comparandum(again.entry_id)
    assert [entry.list_name for entry in filled.comparanda_kept_for(query)] == ["hooks"]
    with pytest.raises(UnknownName), filled.transaction(by="b"):
        filled.drop_comparandum(again.entry_id)


def test_a_published_piece_stands_for_itself(filled):
    query = numbers(filled, "B-03")[0]
    with filled.transaction(by="a"):
        kept = filled.keep_comparandum("spirals", query, None, "the same hooks", citation=BOOK)
        filled.keep_comparandum("spirals", query, None, "the same hooks", citation=BOOK)
    assert (kept.sherd, kept.site, kept.citation) == (None, None, BOOK)
    assert len(filled.comparanda_in("spirals")) == 2


def test_what_cannot_be_kept(filled):
    query, other = numbers(filled, "B-03")[0], numbers(filled, "C-1")[0]
    wrong = [
        (("spirals", query, other, "  "), InputError),
        (("spirals", query, query, "x"), InputError),
        (("spirals", query, None, "x"), InputError),
        (("", query, other, "x"), NameRefused),
        (("a/b", query, other, "x"), NameRefused),
        (("spirals", "nobody", other, "x"), UnknownName),
        (("spirals", query, "nobody", "x"), UnknownName),
    ]
    for arguments, error in wrong:
        with pytest.raises(error), filled.transaction(by="a"):
            filled.keep_comparandum(*arguments)
    with pytest.raises(InputError), filled.transaction(by="a"):
        filled.keep_comparandum("s", query, None, "x", citation=Citation(title="a\x00b"))
    assert filled.comparanda_lists() == ()


def test_refused_tags_are_remembered_until_undone(filled):
    a, b = numbers(filled, "B-03")[:2]
    with filled.transaction(by="a"):
        filled.refuse_tag(a, "spiral", "motif")
        filled.refuse_tag(a, "spiral", "motif")
        filled.refuse_tag(b, "spiral", "element")
    assert filled.refused_tags_of([a, b]) == {a: {("motif", "spiral")}, b: {("element", "spiral")}}
    with filled.transaction(by="a"):
        filled.undo("B-03")
    assert filled.refused_tags_of([a]) == {a: frozenset()}
    for arguments, error in ((("nobody", "spiral", "motif"), UnknownName), ((a, "spiral", "colour"), InputError)):
        with pytest.raises(error), filled.transaction(by="a"):
            filled.refuse_tag(*arguments)


def test_a_sorting_stays_current_when_comparanda_are_kept(filled):
    with filled.transaction(by="a"):
        filled.save_proposal("B-03", "sort", encoder_tags=[], parameters={}, result={})
    with filled.transaction(by="a"):
        filled.keep_comparandum("s", numbers(filled, "B-03")[0], numbers(filled, "C-1")[0], "x")
    proposal = filled.latest_proposal("B-03", "sort")
    assert proposal is not None
    assert proposal.is_current


def test_a_catalogue_of_the_version_before_is_brought_up(tmp_path):
    before = next(i for i, step in enumerate(MIGRATIONS) if step.__name__ == "comparanda_lists_and_refusals")
    engine = sqlite_engine(tmp_path / "catalogue.sqlite")
    migrate(engine, "x", MIGRATIONS[:before])
    engine.dispose()
    with Catalogue.open(tmp_path) as cat:
        add_tray(cat, "B-03", site="Kestrel Ford")
        query, other = numbers(cat, "B-03")[:2]
        with cat.transaction(by="a"):
            cat.keep_comparandum("spirals", query, other, "same hand")
            cat.refuse_tag(query, "hook", "motif")
        assert cat.comparanda_in("spirals")[0].sherd == other
        assert cat.check() == () or all("derived" in finding.kind for finding in cat.check())
