"""Sites compared from the catalogue: counts, units, tests, the untagged view, periods and places."""

import json

import numpy as np
import pytest

from motifs.errors import InputError, UnknownName
from motifs.sites import count_table
from motifs.workflows import site_vectors
from motifs.workflows.correct import attribute
from motifs.workflows.site_json import comparison_document
from motifs.workflows.site_rows import read_periods, read_places, tag_rows
from motifs.workflows.sites import ComparingSettings, compare_sites, tagged_view
from tests.truth import sites_mississippi as published
from tests.workflows.conftest import LOT, OTHER

UNTAGGED = ComparingSettings(with_vectors=False, unit="sherd", permutations=99)


@pytest.fixture
def tagged(cat):
    """Kestrel Ford: 4 scrolls, 4 combs (two of them on one sherd); Marl Hill: 1 scroll, 3 combs."""
    first, second = ([sherd.number for sherd in cat.sherds(lot)] for lot in (LOT, OTHER))
    with cat.transaction(by="test"):
        for number in first[:4]:
            cat.add_tag(number, "scroll", "motif")
        for number in first[3:7]:
            cat.add_tag(number, "comb", "motif")
        cat.add_tag(first[7], "indeterminate", "motif")
        cat.add_tag(second[0], "scroll", "motif")
        for number in second[1:]:
            cat.add_tag(number, "comb", "motif")
    return cat


def test_nothing_tagged_is_an_answer(cat):
    found = compare_sites(cat, UNTAGGED, by="test")
    document = comparison_document(found)
    assert document["table"] == document["brainerd_robinson"] == document["ordination"] == document["diversity"] == {}
    assert any("tag some" in note for note in found.notes)


def test_sherds_are_counted_and_compared(tagged):
    found = compare_sites(tagged, UNTAGGED, by="test")
    assert found.unit == "sherds"
    assert found.tagged.table.frame().to_dict("index") == {
        "Kestrel Ford": {"comb": 4, "scroll": 4},
        "Marl Hill": {"comb": 3, "scroll": 1},
    }
    # 200 - (|50 - 75| + |50 - 25|), Brainerd & Robinson 1951.
    assert found.tagged.similarity.values[0, 1] == pytest.approx(150.0)
    assert 0 < found.tagged.pairs[0].tested.p_value <= 1
    assert any("indeterminate" in note for note in found.notes)
    json.dumps(comparison_document(found), allow_nan=False)


def test_vessels_count_once_and_people_go_before_proposals(tagged):
    first = [sherd.number for sherd in tagged.sherds(LOT)]
    attribute(tagged, first[:4], "A", by="test")
    found = compare_sites(tagged, ComparingSettings(with_vectors=False, permutations=99), by="test")
    assert found.judged == 1
    assert found.proposed == 0
    # Vessel A has both motifs; the three loose combs may all be of it, so that they add none.
    assert found.tables["mnv"].row("Kestrel Ford").tolist() == [1, 1]
    assert found.tables["vessel"].row("Kestrel Ford").tolist() == [1, 1]
    assert found.tables["sherd"].row("Kestrel Ford").tolist() == [4, 4]


def test_restricted_sherds_are_left_out_and_said_so(tagged):
    hidden = tagged.sherds(OTHER)[0].number
    rows = tag_rows(tagged, is_shown=lambda sherd: sherd.number != hidden)
    assert hidden not in set(rows.frame["sherd"])
    assert "1 sherd(s) are restricted and are left out" in rows.notes


def test_sites_without_tags_by_their_vectors(tagged, monkeypatch):
    rng = np.random.default_rng(3)

    def drawn(_cat, _spec, sherds, **_):
        return {sherd.number: rng.normal(0, 1, 8) + 3 * (sherd.lot == OTHER) for sherd in sherds}

    monkeypatch.setattr(site_vectors, "ensure_vectors", drawn)
    found = compare_sites(tagged, ComparingSettings(permutations=199), by="test")
    pair = found.untagged.pairs[0]
    assert pair.energy.p_value < 0.05
    assert pair.similarity < 150
    assert pair.tagged == pytest.approx(found.tagged.similarity.values[0, 1])
    assert found.untagged.pieces == {"Kestrel Ford": 8, "Marl Hill": 4}


def test_the_published_table_comes_through():
    """Lipo, Madsen & Dunnell 2015, PLOS ONE 10(4) e0124942, Table 2: 20 sites by 10 decorated types."""
    table = count_table(list(published.COUNTS.values()), list(published.COUNTS), published.TYPES, "sherds")
    found = tagged_view(table, ComparingSettings(permutations=49), [])
    values = found.similarity.values
    assert values.shape == (20, 20)
    at = {site: place for place, site in enumerate(found.similarity.sites)}
    for a, b, similarity in (published.BR_HIGHEST, published.BR_LOWEST):
        assert values[at[a], at[b]] == pytest.approx(similarity, abs=1e-6)
    assert len(found.pairs) == 190
    assert found.ordination.inertias[:3] == pytest.approx([0.126621, 0.079249, 0.058774], abs=1e-6)
    assert {found.seriation.sites[0], found.seriation.sites[-1]} == {"13-N-5", "Holden Lake"}
    # Wilson interval of 12 painted sherds of 91 at 13-P-10.
    share = found.shares["13-P-10", "Painted"]
    assert (share.count, share.total) == (12, 91)
    assert (100 * share.low, 100 * share.high) == pytest.approx((7.71, 21.65), abs=0.005)


def test_periods_give_change(tagged):
    found = compare_sites(tagged, UNTAGGED, periods={LOT: "early", OTHER: "late"}, by="test")
    assert found.periods.periods == ("early", "late")
    assert found.periods.steps[0].likeness.similarity == pytest.approx(150.0)


def test_tables_of_periods_and_places(tmp_path):
    file = tmp_path / "periods.csv"
    file.write_text("lot,period,year\nB-03,early,1000\nC-1,late,1200\n")
    assert read_periods(file) == ({"B-03": "early", "C-1": "late"}, {"early": 1000.0, "late": 1200.0})
    places = tmp_path / "places.csv"
    places.write_text("site,east_km,north_km\nMarl Hill,123.4,-17\n")
    assert read_places(places)[0].east_km == 120.0
    assert read_places(places)[0].north_km == -20.0
    assert read_places(places, rounded_km=0)[0].east_km == 123.4


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("lot,when\na,b\n", "no column 'period'"),
        ("lot,period\na,b\na,c\n", "listed twice"),
        ("lot,period,year\na,b,soon\n", "no number"),
        ("lot,period\n,b\n", "no lot"),
        ("", "no CSV table"),
    ],
)
def test_a_bad_table_is_refused_in_one_line(tmp_path, text, word):
    file = tmp_path / "periods.csv"
    file.write_text(text)
    with pytest.raises(InputError, match=word):
        read_periods(file)


def test_a_place_off_the_earth_is_refused(tmp_path):
    file = tmp_path / "places.csv"
    file.write_text("site,east_km,north_km\nMarl Hill,1e9,0\n")
    with pytest.raises(InputError, match="farther"):
        read_places(file)


def test_unknown_things_are_named(cat):
    with pytest.raises(UnknownName, match="no site 'Nowhere'"):
        tag_rows(cat, sites=["Nowhere"])
    with pytest.raises(InputError, match="no kind of tag"):
        tag_rows(cat, "colour")
    with pytest.raises(InputError, match="unit 'pots'"):
        compare_sites(cat, ComparingSettings(unit="pots"), by="test")


def test_what_the_gate_keeps_back_is_counted_nowhere_and_said(tagged):
    with tagged.transaction(by="test"):
        tagged.restrict("motif", "scroll", "sacred")
    found = compare_sites(tagged, UNTAGGED, by="test")
    assert found.tagged.table.motifs == ("comb",)
    assert "5 sherd(s) are restricted and left out" in found.notes
