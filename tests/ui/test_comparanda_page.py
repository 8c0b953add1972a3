"""The comparanda page: where two agree, keeping with a reason, published pieces, proposed tags; texts as typed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motifs.ui.presenters import comparanda as words
from motifs.workflows.agreeing import MatchedRegions
from motifs.workflows.comparanda import Comparanda, Neighbour
from motifs.workflows.tag_proposals import TagProposal, Witness
from tests.ui.conftest import LOT, OTHER, press, shown, type_new

if TYPE_CHECKING:
    from collections.abc import Callable

    from streamlit.testing.v1 import AppTest

    from motifs.catalogue import Catalogue

    Opener = Callable[..., AppTest]

A, B = f"{LOT}-001", f"{OTHER}-001"
REGIONS = MatchedRegions(A, ((0, 0), (9, 0), (9, 9)), ((1, 1), (9, 1), (9, 9)), 7, 4.2, 40.4, 1.05, is_mirrored=True)


def test_a_neighbour_is_looked_at_and_kept(page: Opener, cat: Catalogue) -> None:
    at = page("comparanda", lot=LOT, sherd=A)
    at.checkbox(key="only_other_sites").check()
    at = press(at, "Find comparanda")
    assert "Look closer" in [header.value for header in at.subheader]
    at.selectbox(key="look_closer").set_value(B)
    at = at.run()
    assert "m-figures" in shown(at)
    at = press(at, "Keep as comparandum")
    assert "no list is named" in shown(at)
    type_new(at, "keep_in_list", "5*3 _hooks_")
    at = press(at, "Keep as comparandum")
    assert "needs a reason" in shown(at)
    assert cat.comparanda_lists() == ()
    type_new(at, "keep_in_list", "5*3 _hooks_")
    at.text_input(key="keep_reason").set_value("<b>same</b> $filler$")
    at = press(at, "Keep as comparandum")
    kept = cat.comparanda_in("5*3 _hooks_")
    assert [(one.query, one.sherd, one.reason, one.by) for one in kept] == [(A, B, "<b>same</b> $filler$", "M. Oduya")]
    assert kept[0].similarity is not None
    assert "&lt;b&gt;same&lt;/b&gt; $filler$" in shown(at)
    at = press(at, "Take it out")
    assert cat.comparanda_lists() == ()


def test_a_published_piece_is_kept_by_its_citation(page: Opener, cat: Catalogue) -> None:
    at = page("comparanda", lot=LOT, sherd=A)
    at = press(at, "Keep the published piece")
    assert "list" in shown(at)
    assert cat.comparanda_lists() == ()
    for key, text in (("cited_author", "T. Hale"), ("cited_title", "Hooked bowls"), ("published_list", "hooks"),
                      ("published_reason", "the same hooks")):  # fmt: skip
        at.text_input(key=key).set_value(text)
    at = press(at, "Keep the published piece")
    assert cat.comparanda_in("hooks")[0].citation.title == "Hooked bowls"
    assert "T. Hale, Hooked bowls" in shown(at)


def test_nothing_is_kept_without_a_name(page: Opener, cat: Catalogue) -> None:
    at = page("comparanda", by=None, lot=LOT, sherd=A)
    at.text_input(key="published_list").set_value("hooks")
    at = press(at, "Keep the published piece")
    assert "your name is missing" in shown(at)
    assert cat.comparanda_lists() == ()


def test_several_sherds_and_words_narrow(page: Opener, cat: Catalogue) -> None:
    with cat.transaction(by="test"):
        cat.add_tag(B, "slip:red", "motif")
    at = page("comparanda", lot=LOT, sherd=A)
    at.multiselect(key="also_asked").set_value([f"{LOT}-002"])
    at.multiselect(key="only_terms").set_value(["slip:red"])
    at = press(at, "Find comparanda")
    found = at.session_state["comparanda_answer"]
    assert (found.others, [near.sherd for near in found.neighbours]) == ((f"{LOT}-002",), [B])


def test_a_proposed_tag_is_refused_and_another_accepted(page: Opener, cat: Catalogue) -> None:
    with cat.transaction(by="T. Hale"):
        cat.add_tag(B, "a*b*c", "motif")
    at = page("comparanda", lot=LOT, sherd=A)
    number = f"{LOT}-002"
    at.session_state["proposed_tags"] = (
        TagProposal(A, "motif", "a*b*c", 0.93, (Witness(B, 0.8, 0.9, "T. Hale"),)),
        TagProposal(A, "element", "hook", 0.4, (Witness(number, 0.7, 0.6, "T. Hale"),)),
    )
    at.session_state["proposed_tags_for"] = A
    at = at.run()
    assert "motif “a*b*c”, confidence 0.93" in shown(at)
    at.button(key="refuse_1").click()
    at = at.run()
    assert cat.refused_tags_of([A])[A] == {("element", "hook")}
    at.button(key="accept_0").click()
    at = at.run()
    assert [(tag.term, tag.by) for tag in cat.tags(A)] == [("a*b*c", "M. Oduya")]
    assert "all was settled" in shown(at)


def test_what_is_said_of_an_agreement() -> None:
    said = words.agreement_words(REGIONS, B)
    assert "7 places" in said
    assert "turned by 40° anticlockwise, in mirror image, 1.05 times as large" in said
    none = MatchedRegions(A, (), (), 0, 0.0, 0.0, 1.0, is_mirrored=False)
    assert "could be laid over" in words.agreement_words(none, B)
    assert words.places_words(none) == "no place agrees"


def test_what_is_said_of_an_answer() -> None:
    near = [Neighbour(1, B, OTHER, None, 0.8, 0.9), Neighbour(2, "x", OTHER, None, 0.5, 0.2)]
    found = Comparanda(A, "enc", None, tuple(near), 5, (), is_comparable=True)
    assert words.verdict_words(found).startswith("1 sherd of those shown more probably shows")
    assert words.neighbour_rows(found)[0][5:] == ("0.90", "not looked for")
    nothing = Comparanda(A, "enc", None, tuple(near[1:]), 5, (), is_comparable=False)
    assert words.verdict_words(nothing).startswith("Nothing comparable")
    assert words.verdict_words(Comparanda(A, "enc", None, (), 5, ())) == ""
