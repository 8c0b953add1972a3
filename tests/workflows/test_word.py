"""The analyst's word: links and attributions together, contradictions named."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motifs.catalogue import AttributionRow, Catalogue, LinkRow
from motifs.errors import InputError, LinksContradict, UnknownName
from motifs.records import Links
from motifs.workflows.tell import tell_pairs
from motifs.workflows.word import analysts_links
from tests.workflows.conftest import LOT, OTHER

A, B, C = (f"{LOT}-00{number}" for number in (1, 2, 3))


def link(a: str, b: str, relation: str) -> LinkRow:
    return LinkRow(1, LOT, a, b, relation, "test", "2026-01-01T00:00:00+00:00")


def judged(sherd: str, vessel: str | None) -> AttributionRow:
    return AttributionRow(sherd, vessel, "test", "", "2026-01-01T00:00:00+00:00")


def test_nothing_said_is_no_links() -> None:
    assert analysts_links([], [], {}) == Links()
    assert analysts_links([A, B], [], {}) == Links()


def test_links_become_positions_and_strangers_are_passed_over() -> None:
    rows = [link(A, C, "same"), link(B, C, "different"), link(A, "gone", "same")]
    assert analysts_links([A, B, C], rows, {}) == Links(((0, 2),), ((1, 2),))


def test_attributions_tie_and_part() -> None:
    rows = {number: judged(number, vessel) for number, vessel in ((A, "jar"), (B, "bowl"), (C, "jar"))}
    assert analysts_links([A, B, C], [], rows) == Links(((0, 2),), ((0, 1),))


def test_left_unassigned_on_purpose_ties_nothing() -> None:
    assert analysts_links([A, B], [], {A: judged(A, None), B: judged(B, None)}) == Links()


@given(st.lists(st.integers(0, 3), min_size=2, max_size=12))
def test_attributions_alone_never_contradict_and_say_it_all(vessels: list[int]) -> None:
    numbers = [f"s{place}" for place in range(len(vessels))]
    links = analysts_links(numbers, [], {n: judged(n, str(v)) for n, v in zip(numbers, vessels, strict=True)})
    assert all(vessels[a] == vessels[b] for a, b in links.same)
    assert all(vessels[a] != vessels[b] for a, b in links.different)
    assert len(links.same) == len(vessels) - len(set(vessels))


def test_a_chain_against_a_link_is_named() -> None:
    rows = [link(A, B, "same"), link(B, C, "same"), link(A, C, "different")]
    with pytest.raises(LinksContradict, match=f"{A}.*{C}"):
        analysts_links([A, B, C], rows, {})


def test_tell_counts_and_is_idempotent(cat: Catalogue) -> None:
    assert tell_pairs(cat, LOT, same=[(A, B)], by="test") == 1
    assert tell_pairs(cat, LOT, same=[(B, A)], different=[(A, C)], by="test") == 2


def test_a_judgement_is_turned_round_in_one_step(cat: Catalogue) -> None:
    tell_pairs(cat, LOT, same=[(A, B)], by="test")
    assert tell_pairs(cat, LOT, withdrawn=[(A, B)], different=[(A, B)], by="test") == 1
    assert cat.links(LOT)[0].relation == "different"


def test_all_of_it_or_nothing(cat: Catalogue) -> None:
    with pytest.raises(UnknownName):
        tell_pairs(cat, LOT, same=[(A, B), (A, f"{OTHER}-001")], by="test")
    assert cat.links(LOT) == ()


def test_nothing_told_is_refused(cat: Catalogue) -> None:
    with pytest.raises(InputError, match="nothing was told"):
        tell_pairs(cat, LOT, by="test")


def test_a_link_against_attributions_is_refused(cat: Catalogue) -> None:
    with cat.transaction(by="test"):
        cat.attribute(A, "jar")
        cat.attribute(B, "jar")
    with pytest.raises(LinksContradict):
        tell_pairs(cat, LOT, different=[(A, B)], by="test")
    assert cat.links(LOT) == ()
