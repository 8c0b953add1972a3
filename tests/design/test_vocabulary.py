"""The vocabulary: sound as it begins, and refusing what would make it unsound; SKOS there and back."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rdflib import Graph
from rdflib.namespace import RDF, SKOS

from motifs.catalogue import TAG_KINDS
from motifs.design.groups import BAND_GROUPS, PLANE_GROUPS
from motifs.design.skos import from_turtle, to_turtle
from motifs.design.starter import starter_terms
from motifs.design.vocabulary import VERIFIED_MATCHES, check_vocabulary, find_term, narrower_of
from motifs.errors import InputError
from motifs.records import Term


def refused(*terms: Term) -> str:
    with pytest.raises(InputError) as wrong:
        check_vocabulary(terms, TAG_KINDS)
    assert "\n" not in str(wrong.value)
    return str(wrong.value)


def test_the_starter_is_sound_and_covers_every_kind():
    terms = starter_terms()
    check_vocabulary(terms, TAG_KINDS)
    assert {term.kind for term in terms} == set(TAG_KINDS)
    assert all(find_term(terms, kind, "Indeterminate") is not None for kind in TAG_KINDS)


def test_symmetry_terms_are_the_orbifold_symbols():
    labels = {term.label for term in starter_terms() if term.kind == "symmetry"}
    assert {group.orbifold for group in (*BAND_GROUPS, *PLANE_GROUPS)} <= labels


def test_only_checked_matches_are_used():
    assert {term.exact_match for term in starter_terms()} - {""} <= set(VERIFIED_MATCHES)
    assert "not among the checked" in refused(
        Term("motif", "sherd", exact_match="http://vocab.getty.edu/aat/300379474")
    )


def test_burnished_is_a_treatment_and_a_technique():
    terms = starter_terms()
    assert find_term(terms, "treatment", "burnished")
    assert find_term(terms, "technique", "burnished")


def test_nothing_is_sound():
    check_vocabulary((), TAG_KINDS)


@pytest.mark.parametrize(
    ("terms", "says"),
    [
        ((Term("motif", "a"), Term("motif", "A")), "share the name 'a'"),
        ((Term("motif", "a", synonyms=("b",)), Term("motif", "b")), "share the name 'b'"),
        ((Term("motif", "a", broader=("gone",)),), "not there"),
        ((Term("motif", "a", broader=("a",)),), "circle: a < a"),
        ((Term("motif", "a", broader=("b",)), Term("motif", "b", broader=("a",))), "circle"),
        ((Term("colour", "red"),), "no kind of term"),
        ((Term("motif", " a"),), "cannot be a name"),
        ((Term("motif", ""),), "cannot be a name"),
        ((Term("motif", "a", drawing="M 0 0 <script>"),), "drawing"),
        ((Term("motif", "a", definition="x" * 5000),), "longer than"),
    ],
)
def test_what_makes_it_unsound_is_refused_in_one_line(terms, says):
    assert says in refused(*terms)


def test_a_long_chain_is_no_circle():
    chain = [Term("motif", str(k), broader=(str(k + 1),)) for k in range(3000)]
    check_vocabulary((*chain, Term("motif", "3000")), TAG_KINDS)


def test_narrower_terms_however_far():
    terms = starter_terms()
    assert "footring" in narrower_of(terms, "position", "base")
    assert narrower_of(terms, "position", "footring") == ()


def test_the_starter_comes_back_from_skos():
    text = to_turtle(starter_terms())
    read = from_turtle(text, kinds=TAG_KINDS)
    assert set(read.terms) == {replace(t, synonyms=tuple(sorted(t.synonyms))) for t in starter_terms()}
    assert read.warnings == ()
    assert to_turtle(starter_terms()) == text


def test_another_reader_of_skos_finds_the_same():
    """The SKOS Reference (W3C 2009): broader and narrower are inverse; every concept is in a scheme and has one label."""
    graph = Graph().parse(data=to_turtle(starter_terms()), format="turtle")
    concepts = set(graph.subjects(RDF.type, SKOS.Concept))
    assert len(concepts) == len(starter_terms())
    assert {(b, a) for a, b in graph.subject_objects(SKOS.broader)} == set(graph.subject_objects(SKOS.narrower))
    assert all(len(list(graph.objects(c, SKOS.prefLabel))) == 1 for c in concepts)
    assert {c for c in concepts if (c, SKOS.inScheme, None) in graph} == concepts


PREFIX = "@prefix skos: <http://www.w3.org/2004/02/skos/core#> .\n"


def test_skos_of_another_hand():
    text = PREFIX + (
        '<urn:x:1> a skos:Concept ; skos:prefLabel "Mäander"@de, "meander band"@en ; skos:narrower <urn:x:2> ;\n'
        "  skos:exactMatch <http://example.org/other> .\n"
        '<urn:x:2> a skos:Concept ; skos:prefLabel "hooked meander" ; skos:definition "with hooks"@en .\n'
    )
    read = from_turtle(text, kinds=TAG_KINDS, kind="motif")
    assert [term.label for term in read.terms] == ["hooked meander", "meander band"]
    assert read.terms[0].broader == ("meander band",)
    assert read.terms[1].synonyms == ("Mäander",)
    assert "left out" in read.warnings[0]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no skos:Concept"),
        ("this is no turtle", "not Turtle"),
        (PREFIX + "<urn:x:1> a skos:Concept .", "prefLabel"),
        (PREFIX + '<urn:x:1> a skos:Concept ; skos:prefLabel "a" ; skos:broader <urn:x:9> .', "not in the file"),
    ],
)
def test_bad_skos_is_refused_in_one_line(text, says):
    with pytest.raises(InputError) as wrong:
        from_turtle(text, kinds=TAG_KINDS, kind="motif")
    assert says in str(wrong.value)
    assert "\n" not in str(wrong.value)


def test_a_kind_that_nobody_told_is_asked_for():
    with pytest.raises(InputError, match="--kind"):
        from_turtle(PREFIX + '<urn:x:1> a skos:Concept ; skos:prefLabel "a" .', kinds=TAG_KINDS)


names = (
    st.text(st.characters(blacklist_categories=("Cs", "Cc", "Zl", "Zp")), min_size=1, max_size=12)
    .map(str.strip)
    .filter(bool)
)


@settings(max_examples=40, deadline=None)
@given(st.lists(names, min_size=1, max_size=6, unique=True), names)
def test_any_names_come_back(labels, definition):
    terms = tuple(sorted((Term("motif", label, definition) for label in labels), key=lambda term: term.label))
    assert from_turtle(to_turtle(terms), kinds=TAG_KINDS).terms == terms
