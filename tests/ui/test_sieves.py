"""Lists that are found in, narrowed and ordered: sherds, views, numbers, rims, joins."""

from __future__ import annotations

from dataclasses import replace

import pytest

from motifs.ui.presenters.confirming import LABEL_SIEVE, RIM_SIEVE, VIEW_SIEVE
from motifs.ui.presenters.layout import join_sieve
from motifs.ui.presenters.photographs import sherd_sieve
from motifs.ui.presenters.sieves import ALL, Asked, Sieve, shown_words, sifted
from motifs.workflows.layout import LaidJoin
from motifs.workflows.rims import rim_by_chart, rim_unknown
from tests.ui.conftest import LOT

NUMBERS: Sieve[int] = Sieve(str, {"even": lambda n: n % 2 == 0}, {"as it is": None, "falling": lambda n: -n})


@pytest.mark.parametrize(
    ("asked", "kept"),
    [
        (Asked(), [3, 12, 4, 21]),
        (Asked("2"), [12, 21]),
        (Asked(" 2 ", "even"), [12]),
        (Asked("", "even", "falling"), [12, 4]),
        (Asked("", "no such kind", "no such order"), [3, 12, 4, 21]),
        (Asked("nothing"), []),
    ],
)
def test_a_list_is_sifted(asked, kept):
    assert sifted([3, 12, 4, 21], NUMBERS, asked) == kept


def test_an_empty_list_stays_empty():
    assert sifted([], NUMBERS, Asked("x", "even", "falling")) == []
    assert NUMBERS.shows == (ALL, "even")


def test_what_is_left_out_is_said():
    assert shown_words(3, 3) == ""
    assert shown_words(0, 3) == "0 of 3 shown"


def test_signs_of_the_catalogue_are_found_as_they_stand():
    names: Sieve[str] = Sieve(lambda name: name, {}, {})
    assert sifted(["5*3*2 cm", "a.b", "STRASSE"], names, Asked("*3*")) == ["5*3*2 cm"]
    assert sifted(["5*3*2 cm", "a.b", "STRASSE"], names, Asked("straße")) == ["STRASSE"]


def test_sherds_of_a_photograph(cat):
    sherds = cat.sherds(LOT)
    sieve = sherd_sieve(sherds)
    assert [s.number for s in sifted(sherds, sieve, Asked("-003"))] == [f"{LOT}-003"]
    areas = [s.area_mm2 for s in sifted(sherds, sieve, Asked(order="largest first"))]
    assert areas == sorted(areas, reverse=True)
    assert sifted(sherds, sieve, Asked(show="drawn by a person")) == []


def test_rims_are_narrowed_by_whether_their_diameter_is_known(cat):
    a, b, c = [sherd.number for sherd in cat.sherds(LOT)][:3]
    with cat.transaction(by="A. Reed"):
        cat.record_rim(a, replace(rim_by_chart(180.0, 12.0), note="warped"))
        cat.record_rim(b, rim_unknown())
        cat.record_rim(c, rim_by_chart(240.0, 5.0))
    rims = list(cat.rims(LOT).values())
    assert [rim.sherd for rim in sifted(rims, RIM_SIEVE, Asked(show="diameter unknown"))] == [b]
    assert [rim.sherd for rim in sifted(rims, RIM_SIEVE, Asked(order="largest diameter first"))] == [c, a, b]
    assert [rim.sherd for rim in sifted(rims, RIM_SIEVE, Asked("WARPED"))] == [a]


def test_joins_are_narrowed_by_what_was_said():
    joins = [
        LaidJoin("L-1", "L-2", 0.9, 20.0, None, 0.2, None),
        LaidJoin("L-2", "L-3", 0.95, 10.0, "accepted", 0.4, None),
        LaidJoin("L-1", "L-4", 0.5, 30.0, None, 2.0, "turns too far"),
    ]
    sieve = join_sieve()
    assert [j.b for j in sifted(joins, sieve, Asked(show="not judged"))] == ["L-2", "L-4"]
    assert [j.b for j in sifted(joins, sieve, Asked(show="not used"))] == ["L-4"]
    assert [j.b for j in sifted(joins, sieve, Asked("l-2", order="best fit first"))] == ["L-3", "L-2"]
    assert [j.b for j in sifted(joins, sieve, Asked(order="longest first"))] == ["L-4", "L-2", "L-3"]


@pytest.mark.parametrize("sieve", [VIEW_SIEVE, LABEL_SIEVE, RIM_SIEVE, join_sieve()])
def test_every_sieve_has_a_usual_order_and_kinds(sieve):
    assert len(sieve.orders) >= 2
    assert ALL not in sieve.kinds
