"""The vocabulary as SKOS in Turtle, out and in (W3C Recommendation, SKOS Reference, 18 August 2009).

One concept scheme a kind of term. What SKOS has no word for (examples, drawings, the three descriptors of a motif, notes on
period and region) goes into properties of this project, so that nothing is lost on the way out and back.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote, unquote

from rdflib import Graph, Literal, Namespace, URIRef
from rdflib.namespace import RDF, SKOS

from motifs.design.vocabulary import VERIFIED_MATCHES
from motifs.errors import InputError
from motifs.records import Term

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from rdflib.term import Node

BASE = "urn:motifs:vocabulary:"
OWN = Namespace("urn:motifs:property:")
LANGUAGE = "en"
MAX_BYTES = 20_000_000
# rdflib's parser errors are kinds of SyntaxError; a bad number, IRI or quote, or brackets within brackets, end in one of the others.
_NO_TURTLE = (SyntaxError, ValueError, LookupError, TypeError, AttributeError, AssertionError, RecursionError)

_TEXTS = {
    "period_note": OWN.periodNote,
    "region_note": OWN.regionNote,
    "drawing": OWN.drawing,
    "style_type": OWN.styleType,
    "style_element": OWN.styleElement,
    "symmetry": OWN.symmetry,
}


@dataclass(frozen=True, slots=True)
class ReadVocabulary:
    """Terms of a SKOS file, and what was left out of it and why."""

    terms: tuple[Term, ...]
    warnings: tuple[str, ...]


def concept_uri(kind: str, label: str) -> str:
    """Return the URI of a term."""
    return f"{BASE}{kind}:{quote(label, safe='')}"


def to_turtle(terms: Sequence[Term]) -> str:
    """Return the vocabulary as Turtle; the same terms give the same text."""
    graph = Graph()
    graph.bind("skos", SKOS)
    graph.bind("motifs", OWN)
    for term in terms:
        _add(graph, term)
    return graph.serialize(format="turtle")


def _add(graph: Graph, term: Term) -> None:
    concept, scheme = URIRef(concept_uri(term.kind, term.label)), URIRef(f"{BASE}{term.kind}")
    graph.add((scheme, RDF.type, SKOS.ConceptScheme))
    graph.add((scheme, SKOS.prefLabel, Literal(term.kind, lang=LANGUAGE)))
    graph.add((concept, RDF.type, SKOS.Concept))
    graph.add((concept, SKOS.inScheme, scheme))
    graph.add((concept, SKOS.prefLabel, Literal(term.label, lang=LANGUAGE)))
    for synonym in term.synonyms:
        graph.add((concept, SKOS.altLabel, Literal(synonym, lang=LANGUAGE)))
    if term.definition:
        graph.add((concept, SKOS.definition, Literal(term.definition, lang=LANGUAGE)))
    for label in term.broader:
        wider = URIRef(concept_uri(term.kind, label))
        graph.add((concept, SKOS.broader, wider))
        graph.add((wider, SKOS.narrower, concept))
    if not term.broader:
        graph.add((concept, SKOS.topConceptOf, scheme))
    if term.exact_match:
        graph.add((concept, SKOS.exactMatch, URIRef(term.exact_match)))
    for number in term.examples:
        graph.add((concept, OWN.example, Literal(number)))
    for name, uri in _TEXTS.items():
        if getattr(term, name):
            graph.add((concept, uri, Literal(getattr(term, name))))


def from_turtle(
    text: str, *, kinds: Sequence[str], kind: str | None = None, source: str = "the file"
) -> ReadVocabulary:
    """Read a vocabulary from Turtle.

    Parameters
    ----------
    text : of the file.
    kinds : that a term may have.
    kind : of terms whose scheme does not say.
    source : what to call the file in a message.

    Returns
    -------
    ReadVocabulary
        Sorted by kind and label; still to be checked as a whole together with what is there.

    Raises
    ------
    InputError
        Not Turtle, no concept in it, a concept without a label or a kind, a link to a concept that is not in the file.
    """
    if len(text) > MAX_BYTES:
        raise InputError(f"'{source}' is larger than {MAX_BYTES // 1_000_000} MB; split it")
    graph = Graph()
    try:
        graph.parse(data=text, format="turtle")
    except _NO_TURTLE as wrong:
        line = str(wrong).splitlines()[0] if str(wrong) else "cannot be parsed"
        raise InputError(f"'{source}' is not Turtle ({line[:120]}); export the vocabulary as SKOS in Turtle") from wrong
    concepts = sorted(set(graph.subjects(RDF.type, SKOS.Concept)), key=str)
    if not concepts:
        raise InputError(f"'{source}' holds no skos:Concept; export the vocabulary as SKOS in Turtle")
    names = {node: (_kind(graph, node, kinds, kind, source), _label(graph, node, source)) for node in concepts}
    warnings: list[str] = []
    terms = [_term(graph, node, names, source, warnings) for node in concepts]
    return ReadVocabulary(tuple(sorted(terms, key=lambda term: (term.kind, term.label))), tuple(warnings))


def _kind(graph: Graph, node: Node, kinds: Sequence[str], default: str | None, source: str) -> str:
    for scheme in sorted(graph.objects(node, SKOS.inScheme), key=str):
        name = unquote(str(scheme).removeprefix(BASE))
        if name in kinds:
            return name
    if default is None:
        raise InputError(
            f"'{source}' does not say what kind of term {node} is; name the kind of all such terms with --kind"
        )
    return default


def _label(graph: Graph, node: Node, source: str) -> str:
    """English before no language before any other, and of several the first in the alphabet."""
    labels = [value for value in graph.objects(node, SKOS.prefLabel) if isinstance(value, Literal)]
    order = {LANGUAGE: 0, None: 1}
    labels.sort(key=lambda value: (order.get(value.language, 2), value.language or "", str(value)))
    if not labels:
        raise InputError(f"'{source}': concept {node} has no skos:prefLabel; give it one")
    return str(labels[0]).strip()


def _term(graph: Graph, node: Node, names: dict[Node, tuple[str, str]], source: str, warnings: list[str]) -> Term:
    kind, label = names[node]
    broader = {*graph.objects(node, SKOS.broader), *graph.subjects(SKOS.narrower, node)}
    others = {str(value).strip() for value in graph.objects(node, SKOS.prefLabel)} - {label}
    synonyms = {str(value).strip() for value in graph.objects(node, SKOS.altLabel)} | others
    match = _match(graph, node, label, warnings)
    return Term(
        kind,
        label,
        definition=_text(graph.objects(node, SKOS.definition)),
        synonyms=tuple(sorted(synonyms - {label})),
        broader=tuple(sorted(_wider(wider, names, kind, label, source) for wider in broader)),
        examples=tuple(sorted(str(value) for value in graph.objects(node, OWN.example))),
        exact_match=match,
        **{name: _text(graph.objects(node, uri)) for name, uri in _TEXTS.items()},
    )


def _wider(wider: Node, names: dict[Node, tuple[str, str]], kind: str, label: str, source: str) -> str:
    if wider not in names:
        raise InputError(
            f"'{source}': '{label}' has the broader concept {wider}, which is not in the file; add it or cut the link"
        )
    if names[wider][0] != kind:
        raise InputError(
            f"'{source}': '{label}' is a {kind} and its broader concept '{names[wider][1]}' a {names[wider][0]}; broader terms "
            "are of the same kind"
        )
    return names[wider][1]


def _match(graph: Graph, node: Node, label: str, warnings: list[str]) -> str:
    found = ""
    for value in sorted(str(match) for match in graph.objects(node, SKOS.exactMatch)):
        if value in VERIFIED_MATCHES and not found:
            found = value
        else:
            warnings.append(f"exact match {value} of '{label}' left out: it is not among the checked ones")
    return found


def _text(values: Iterable[Node]) -> str:
    """One text: English before no language before others."""
    texts = [value for value in values if isinstance(value, Literal)]
    texts.sort(key=lambda value: ({LANGUAGE: 0, None: 1}.get(value.language, 2), str(value)))
    return str(texts[0]) if texts else ""
