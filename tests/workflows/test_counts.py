"""Counts of a lot through the catalogue, against worked figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from motifs.errors import UnknownName
from motifs.sites.counts import VesselsRepresented
from motifs.workflows.counts import CountLine, LotCounts, lot_counts, measure_lines, type_words
from motifs.workflows.joins import judge_joins
from motifs.workflows.rims import record_rim, rim_by_chart, rim_unknown
from motifs.workflows.tagging import tag_sherds
from tests.truth import sites_quantity as truth
from tests.workflows.conftest import LOT
from tests.workflows.test_table import BY, NUMBERS, propose

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

TYPES = {"A": "slipped", "B": "polished"}


@pytest.fixture
def rims(cat: Catalogue) -> Catalogue:
    """The worked set of eight rims of two types as eight sherds of a lot."""
    for number, (kind, diameter_mm, percent) in zip(NUMBERS, truth.RIM_SET, strict=True):
        record_rim(cat, number, rim_by_chart(diameter_mm, percent), by=BY)
        tag_sherds(cat, [number], "treatment", TYPES[kind], by=BY)
    return cat


def by_method(counts: LotCounts) -> dict[str, CountLine]:
    return {line.method: line for line in (*counts.vessels, *counts.measures)}


def test_nothing_recorded_is_nothing_counted(cat: Catalogue) -> None:
    counts = lot_counts(cat, LOT)
    assert (counts.sherds, counts.rims) == (8, 0)
    assert counts.vessels[0].low == 0
    assert all(line.low is None and line.notes for line in counts.vessels[1:])
    assert {line.what: line.low for line in counts.measures} == {
        "EVE": None,
        "vessels represented": 1,
        "completeness": None,
        "brokenness": None,
    }
    with pytest.raises(UnknownName):
        lot_counts(cat, "never")


def test_the_worked_rims_give_the_worked_numbers(rims: Catalogue) -> None:
    """Orton, Tyers & Vince 1993 and Voss & Allen 2010 (from memory), invented rims: see tests/truth/sites_quantity.py."""
    found = by_method(lot_counts(rims, LOT))
    assert found["sum of rim shares over 100"].low == pytest.approx(truth.RIM_SET_EVE)
    assert found["rim EVE rounded up by type and diameter (classes of 2 cm)"].low == truth.RIM_SET_MNV
    assert found["rim EVE rounded up by type"].low == truth.RIM_SET_MNV_BY_TYPE
    assert found["one for each rim that joins no other"].low == truth.RIM_SET_MAXIMUM
    assert found["largest of rims, bases and handles / 2 by type, after joins"].low == truth.RIM_SET_MAXIMUM
    assert found["sherds over EVE"].low == pytest.approx(8 / truth.RIM_SET_EVE)


def test_joining_rims_are_one_rim(rims: Catalogue) -> None:
    judge_joins(rims, LOT, accepted=[(NUMBERS[0], NUMBERS[1]), (NUMBERS[1], NUMBERS[2])], by=BY)
    found = by_method(lot_counts(rims, LOT))
    assert found["one for each rim that joins no other"].low == truth.RIM_SET_MAXIMUM - 2
    assert found["largest of rims, bases and handles / 2 by type, after joins"].low == truth.RIM_SET_MAXIMUM - 2
    # 40 + 35 + 30 % is 105 %: one rim cannot be more than whole.
    assert found["sum of rim shares over 100"].low == pytest.approx(truth.RIM_SET_EVE - 0.05)


def test_parts_and_unknown_rims(cat: Catalogue) -> None:
    tag_sherds(cat, NUMBERS[:2], "position", "footring", by=BY)
    tag_sherds(cat, NUMBERS[2:7], "position", "strap handle", by=BY)
    record_rim(cat, NUMBERS[7], rim_unknown(), by=BY)
    found = by_method(lot_counts(cat, LOT))
    parts = found["largest of rims, bases and handles / 2 by type, after joins"]
    assert parts.low == 3  # five handles in pairs, above two bases and one rim
    assert found["rim EVE rounded up by type and diameter (classes of 2 cm)"].low == 1
    assert found["sum of rim shares over 100"].low is None


def test_completeness_and_brokenness_as_worked() -> None:
    """Orton 1985 (formulas from memory)."""
    represented = VesselsRepresented(truth.ORTON["represented"], truth.ORTON["represented"])
    found = {line.what: line for line in measure_lines(truth.ORTON["sherds"], [25.0] * 10, represented)}
    assert found["EVE"].low == truth.ORTON["eve"]
    assert found["completeness"].low == found["completeness"].high == truth.ORTON["completeness"]
    assert found["brokenness"].low == truth.ORTON["brokenness"]


def test_more_equivalents_than_vessels_are_told_not_hidden() -> None:
    found = {line.what: line for line in measure_lines(9, [90.0] * 3, VesselsRepresented(2, 5))}
    assert (found["completeness"].low, found["completeness"].high) == (pytest.approx(2.7 / 5), 1.0)
    assert found["completeness"].notes == ("EVE 2.70 is more than the 2 known families",)
    none = {line.what: line for line in measure_lines(9, [90.0] * 3, VesselsRepresented(2, 2))}
    assert none["completeness"].low is None
    assert "check the rim readings" in none["completeness"].notes[0]


def test_families_on_the_table_carry_their_range(cat: Catalogue) -> None:
    propose(cat, [0, 1, 0, 1, 0, 1, 0, None])
    found = by_method(lot_counts(cat, LOT))
    proposed = found["sherd families by the evidence, with its range"]
    assert (proposed.low, proposed.high) == (2, 2)
    assert proposed.notes == ("2 lie on the table", "unassigned: 1")
    represented = found["sherd families, plus loose sherds for the upper number"]
    assert (represented.low, represented.high) == (2, 3)


def test_different_kinds_need_every_kind_of_tag(cat: Catalogue) -> None:
    method = "different combinations of treatment, technique, motif"
    tag_sherds(cat, NUMBERS, "treatment", "slipped", by=BY)
    tag_sherds(cat, NUMBERS, "technique", "painted", by=BY)
    assert by_method(lot_counts(cat, LOT))[method].low is None
    tag_sherds(cat, NUMBERS[:3], "motif", "meander", by=BY)
    tag_sherds(cat, NUMBERS[3:5], "motif", "bird", by=BY)
    line = by_method(lot_counts(cat, LOT))[method]
    assert line.low == 2
    assert "3 sherd(s) lack" in line.notes[0]
    assert type_words(cat.tags(NUMBERS[0])) == "slipped, painted"
