"""Catalogue, vocabulary and second look under AppTest, and what they put into the catalogue."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING

import pytest

from motifs.records import Term
from motifs.ui.presenters.contact_sheet import last_page, quick_terms
from motifs.ui.presenters.vocabulary import split_names, term_card, tree_rows
from motifs.workflows.tagging import tag_sherds
from motifs.workflows.vocabulary import add_term, terms_of
from tests.ui.conftest import LOT, press, shown

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from streamlit.testing.v1 import AppTest

    from motifs.catalogue import Catalogue

    Opener = Callable[..., AppTest]

A, B, C = (f"{LOT}-00{number}" for number in (1, 2, 3))


@pytest.mark.parametrize("name", ["tagging", "vocabulary", "second_look"])
def test_a_page_opens_with_and_without_a_collection(
    name: str, page: Opener, collection: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at = page(name)
    assert not at.exception
    assert "m-wrong" not in shown(at)
    monkeypatch.setenv("MOTIFS_COLLECTION", str(tmp_path / "none"))
    at = page(name, by=None)
    assert not at.exception
    assert "m-empty" in shown(at)
    assert not (tmp_path / "none").exists()


def choose(at: AppTest, *numbers: str) -> AppTest:
    at.session_state["sheet_chosen"] = list(numbers)
    return at.run()


def test_many_are_tagged_at_once_and_taken_back(page: Opener, cat: Catalogue) -> None:
    at = choose(page("tagging", lot=LOT), A, B)
    at.selectbox(key="tag_term").set_value("meander").run()
    at.selectbox(key="tag_confidence").set_value("likely").run()
    at = press(at, "Put on")
    assert "motif &#x27;meander&#x27; put on 2 sherds" in shown(at)
    assert [(tag.term, tag.by, tag.confidence) for tag in cat.tags(B)] == [("meander", "M. Oduya", 0.8)]
    assert "Sherds 1 to 8 of 8" in shown(at)
    at = press(at, "Undo in this lot")
    assert cat.tags(A) == () == cat.tags(B)


def test_keys_put_the_terms_used_most(page: Opener, cat: Catalogue) -> None:
    tag_sherds(cat, [C], "motif", "stepped fret", by="test")
    at = choose(page("tagging", lot=LOT), A)
    at = press(at, "1")
    assert [tag.term for tag in cat.tags(A)] == ["stepped fret"]
    assert not at.exception


def test_nothing_is_tagged_without_a_name(page: Opener, cat: Catalogue) -> None:
    at = choose(page("tagging", by=None, lot=LOT), A)
    at.selectbox(key="tag_term").set_value("meander").run()
    at = press(at, "Put on")
    assert "your name is missing" in shown(at)
    assert cat.tags(A) == ()


def test_filters_and_the_table(page: Opener, cat: Catalogue) -> None:
    tag_sherds(cat, [A, B, C], "motif", "meander", by="test")
    at = page("tagging")
    at.selectbox(key="sheet_term").set_value("meander").run()
    assert "Sherds 1 to 3 of 3" in shown(at)
    at.session_state["sheet_view"] = "Table"
    at.run()
    assert list(at.dataframe[0].value["Sherd"]) == [A, B, C]
    assert set(at.dataframe[0].value["Motif"]) == {"meander"}
    at.text_input(key="sheet_text").set_value("nothing is called so").run()
    assert "No sherd is like that." in shown(at)


def test_a_term_is_added_changed_and_dropped(page: Opener, cat: Catalogue) -> None:
    at = page("vocabulary")
    at.text_input(key="term_field_new_motif_label").set_value("<b>comb*row*</b>").run()
    at = press(at, "Add it")
    assert "names cannot" not in shown(at)
    assert "'/'" in shown(at) or "&#x27;/&#x27;" in shown(at)  # a name cannot hold a slash
    at.text_input(key="term_field_new_motif_label").set_value("comb*row*").run()
    at = press(at, "Add it")
    assert "comb*row*" in {term.label for term in cat.terms("motif")}
    at.text_area(key="term_field_motif_comb*row*_definition").set_value("teeth <i>of</i> a comb").run()
    at = press(at, "Keep the changes")
    assert "teeth &lt;i&gt;of&lt;/i&gt; a comb" in shown(at)
    at = press(at, "Take the term out")
    assert "comb*row*" not in {term.label for term in cat.terms("motif")}


def test_a_term_that_was_taken_out_is_put_back_as_it_was(page: Opener, cat: Catalogue) -> None:
    add_term(cat, Term("motif", "comb row", "teeth of a comb", synonyms=("rake",)), by="T. Hale")
    before = next(term for term in cat.terms("motif") if term.label == "comb row")
    at = page("vocabulary", vocabulary_kind="motif", term="comb row")
    at = press(at, "Take the term out")
    assert "comb row" not in {term.label for term in cat.terms("motif")}
    at = press(at, "Put the term back that was taken out")
    assert next(term for term in cat.terms("motif") if term.label == "comb row") == before
    assert at.selectbox(key="term").value == "comb row"


def test_an_unsound_change_is_refused_in_one_line(page: Opener, cat: Catalogue) -> None:
    at = page("vocabulary")
    at.text_input(key="term_field_new_motif_label").set_value("Meander").run()
    at = press(at, "Add it")
    assert "share the name" in shown(at)
    assert cat.terms() == ()


def test_a_second_look_is_blind_until_it_is_done(page: Opener, cat: Catalogue) -> None:
    tag_sherds(cat, [A, B], "motif", "meander", by="test")
    at = page("second_look", by="I. Sato")
    at.text_input(key="look_name").set_value("May").run()
    at = press(at, "Draw the sample")
    assert "0 of 2 sherds looked at again" in shown(at)
    assert "meander" not in shown(at)
    first = next(box for box in at.selectbox if box.label == "What you see")
    first.set_value("stepped fret").run()
    at = press(at, "Keep, and the next one")
    assert "1 of 2 sherds" in shown(at)
    at = press(at, "Cannot be told")
    assert {answer.term for answer in cat.second_answers("May")} == {"stepped fret", "indeterminate"}
    assert "too low to build on" in shown(at)
    assert "meander" in shown(at)


def test_the_tree_sets_narrower_terms_in(cat: Catalogue) -> None:
    rows = tree_rows(terms_of(cat, "motif"), {("motif", "meander"): 3})
    labels = [row[0] for row in rows]
    assert labels.index("\u2003meander") > labels.index("geometric motif")
    assert next(row for row in rows if "meander" in row[0])[3] == 3
    assert tree_rows((), {}) == []
    add_term(cat, Term("motif", "comb row", broader=("plant motif", "geometric motif")), by="test")
    assert [row[0] for row in tree_rows(cat.terms("motif"), {})].count("\u2003comb row") == 2


def test_texts_of_a_term_are_escaped() -> None:
    card = term_card(Term("motif", "<script>", "a & b", drawing="M 0 0 L 1 1"), 0)
    assert "<script>" not in card
    assert "a &amp; b" in card
    drawn = base64.b64decode(card.split("base64,")[1].split('"')[0]).decode()
    assert '<path d="M 0 0 L 1 1"' in drawn


def test_small_parts() -> None:
    assert [last_page(total, 60) for total in (0, 1, 60, 61)] == [1, 1, 1, 2]
    assert quick_terms({("motif", "b"): 2, ("layout", "c"): 9}, "motif", ["a", "b"]) == ["b", "a"]
    assert split_names(" a \n\n b\na") == ("a", "b")
