"""Records of finds: texts to the letter, one field on many finds with a look first, undo, numbers that change."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from motifs.errors import InputError, NameRefused, UnknownName
from motifs.workflows.record_edits import finds_of, keep_changes, preview_field, save_fields
from motifs.workflows.restricting import restrict

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue

PERSON = "M. Oduya"
FIRST = "B-03-001"


def test_an_empty_record_and_one_with_everything_hostile_in_it(cat: Catalogue) -> None:
    assert {find.number: find.fields for find in finds_of(cat, "C-1")} == {f"C-1-00{n}": {} for n in range(1, 5)}
    fields = {"accession number": "0012", "find number": "11-4", "note": "=1+1\n'x' <b> \u4e2d", "weight g": "1.50"}
    assert save_fields(cat, FIRST, "B-03", fields, by=PERSON).fields == fields
    assert save_fields(cat, "1E5", "B-03", {"form": "jar"}, by=PERSON).lot == "B-03"  # never photographed
    assert [find.number for find in finds_of(cat, "B-03")][-1] == "1E5"
    assert save_fields(cat, FIRST, "B-03", {"note": ""}, by=PERSON).fields.keys() == fields.keys() - {"note"}


def test_what_cannot_be_written_is_said_field_by_field(cat: Catalogue) -> None:
    with pytest.raises(InputError, match=r"weight g holds a unit.*latitude is out of range.*nothing was kept"):
        save_fields(cat, FIRST, "B-03", {"weight g": "3 g", "latitude": "200"}, by=PERSON)
    with pytest.raises(InputError, match="no field"):
        save_fields(cat, FIRST, "B-03", {"taste": "x"}, by=PERSON)
    with pytest.raises(InputError, match="in lot 'B-03'"):
        save_fields(cat, FIRST, "C-1", {"form": "jar"}, by=PERSON)
    with pytest.raises(UnknownName):
        save_fields(cat, "x", "nowhere", {"form": "jar"}, by=PERSON)
    with pytest.raises(NameRefused):
        save_fields(cat, "../x", "B-03", {"form": "jar"}, by=PERSON)
    assert cat.records() == ()


def test_one_field_on_many_is_looked_at_first_and_undone_at_once(cat: Catalogue) -> None:
    save_fields(cat, FIRST, "B-03", {"ware": "buff"}, by=PERSON)
    numbers = [f"B-03-00{n}" for n in (1, 2, 3)]
    changes = preview_field(cat, numbers, "ware", "grey")
    assert [(one.number, one.before) for one in changes] == [(numbers[0], "buff"), (numbers[1], ""), (numbers[2], "")]
    assert cat.record(FIRST).fields == {"ware": "buff"}  # looking changes nothing
    assert keep_changes(cat, changes, by=PERSON) == 3
    assert preview_field(cat, numbers, "ware", "grey") == ()
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert [record.fields for record in cat.records()] == [{"ware": "buff"}]
    with pytest.raises(InputError, match="no find"):
        preview_field(cat, [], "ware", "grey")
    with pytest.raises(UnknownName):
        preview_field(cat, ["nobody"], "ware", "grey")


def test_what_somebody_else_wrote_in_between_is_not_lost(cat: Catalogue) -> None:
    changes = preview_field(cat, [FIRST, "B-03-002"], "ware", "grey")
    save_fields(cat, "B-03-002", "B-03", {"ware": "red"}, by="R. Vance")
    with pytest.raises(InputError, match="somebody else"):
        keep_changes(cat, changes, by=PERSON)
    assert [record.number for record in cat.records()] == ["B-03-002"]


def test_a_record_follows_its_sherd_to_another_number(cat: Catalogue) -> None:
    save_fields(cat, FIRST, "B-03", {"form": "jar"}, by=PERSON)
    save_fields(cat, "B-03-002", "B-03", {"form": "bowl"}, by=PERSON)
    with cat.transaction(by=PERSON):
        cat.renumber({FIRST: "B-03-002", "B-03-002": "0012"})
    assert cat.record("B-03-002").fields == {"form": "jar"}
    assert cat.record("0012").fields == {"form": "bowl"}
    with cat.transaction(by=PERSON):
        cat.undo("B-03")
    assert cat.record(FIRST).fields == {"form": "jar"}


def test_a_restricted_find_keeps_its_record_back(cat: Catalogue) -> None:
    save_fields(cat, FIRST, "B-03", {"form": "jar"}, by=PERSON)
    save_fields(cat, "k-1", "C-1", {"form": "urn"}, by=PERSON)
    restrict(cat, "sherd", FIRST, "burial", by=PERSON)
    restrict(cat, "lot", "C-1", "sacred", by=PERSON)
    assert cat.records() == ()
    for number in (FIRST, "k-1"):
        with pytest.raises(InputError, match="restricted"):
            cat.record(number)
    assert len(cat.seeing_all().records()) == 2
