import json

import numpy as np
import pandas as pd
import pytest

from motifs.errors import InputError, UnknownName
from motifs.sites import count_table, long_rows, motif_table, table_of_frame, table_schema, without_empty
from tests.truth import sites_mississippi as truth

ROWS = pd.DataFrame(
    [
        # Ostervik: vessel v1 in three sherds, a loose sherd of the same motif, a loose one of another
        ("Ostervik", "0012", "v1", "meander", "fine"),
        ("Ostervik", "0013", "v1", "meander", "fine"),
        ("Ostervik", "1E5", "v1", "meander", "fine"),
        ("Ostervik", "11-4", "", "meander", "fine"),
        ("Ostervik", "11-5", None, "chevron", "coarse"),
        # Dunholt: two vessels, one sherd with two motifs, one tag entered twice
        ("Dunholt", "0012", "v1", "chevron", "fine"),
        ("Dunholt", "0014", "v2", "chevron", "fine"),
        ("Dunholt", "0014", "v2", "meander", "fine"),
        ("Dunholt", "0014", "v2", "meander", "fine"),
        ("Dunholt", "0015", "", "", "coarse"),
    ],
    columns=["site", "sherd", "vessel", "motif", "fabric"],
)


def test_three_units_count_differently_and_are_named():
    tables = {unit: motif_table(ROWS, unit) for unit in ("sherd", "mnv", "vessel")}
    counts = {unit: table.frame().loc["Ostervik"].to_dict() for unit, table in tables.items()}
    assert counts["sherd"] == {"chevron": 1, "meander": 4}
    assert counts["vessel"] == {"chevron": 0, "meander": 1}
    assert counts["mnv"] == {"chevron": 1, "meander": 1}
    assert tables["sherd"].frame().loc["Dunholt"].to_dict() == {"chevron": 2, "meander": 1}
    assert [tables[unit].unit for unit in tables] == ["sherds", "vessels (minimum number)", "vessels (as sorted)"]


def test_minimum_number_tells_loose_sherds_apart_by_fabric():
    loose = ROWS.assign(vessel=["v1", "v1", "v1", "", *ROWS["vessel"][4:]])
    loose.loc[3, "fabric"] = "coarse"
    by_fabric = motif_table(loose, "mnv", distinct_by=["fabric"])
    assert by_fabric.row("Ostervik").tolist() == [1, 2]
    assert motif_table(loose, "mnv").row("Ostervik").tolist() == [1, 1]


def test_what_is_left_out_is_said():
    table = motif_table(ROWS, "vessel")
    text = " ".join(table.warnings)
    assert "1 tag row(s) carry no motif" in text
    assert "2 tag row(s) belong to no sorted vessel" in text
    assert "Fewer than 30 vessels (as sorted)" in text


def test_order_of_rows_does_not_matter_and_order_of_periods_is_kept():
    shuffled = ROWS.sample(frac=1.0, random_state=3)
    assert np.array_equal(motif_table(shuffled, "mnv").counts, motif_table(ROWS, "mnv").counts)
    ordered = motif_table(ROWS, "sherd", order=["Ostervik", "Empty", "Dunholt"])
    assert ordered.sites == ("Ostervik", "Empty", "Dunholt")
    kept, no_sites, no_motifs = without_empty(ordered)
    assert (kept.sites, no_sites, no_motifs) == (("Ostervik", "Dunholt"), ("Empty",), ())


def test_a_site_without_motifs_keeps_its_empty_row():
    rows = pd.concat([ROWS, pd.DataFrame([("Lunde", "1", "", "", "fine")], columns=ROWS.columns)])
    assert motif_table(rows, "sherd").row("Lunde").tolist() == [0, 0]


def test_retyped_table_has_its_published_margins(mississippi):
    assert dict(zip(mississippi.sites, mississippi.counts.sum(axis=1), strict=True)) == truth.ROW_TOTALS
    assert mississippi.counts.sum(axis=0).tolist() == list(truth.COLUMN_TOTALS)
    assert mississippi.counts.sum() == truth.TOTAL


def test_long_rows_fit_the_schema(mississippi):
    rows, schema = long_rows(mississippi), table_schema()
    assert json.loads(json.dumps(schema)) == schema
    assert [field["name"] for field in schema["fields"]] == list(rows.columns)
    assert not rows.duplicated(schema["primaryKey"]).any()
    assert rows["count"].sum() == truth.TOTAL
    assert set(rows["unit"]) == {"sherds"}


def test_frame_goes_there_and_back(mississippi):
    again = table_of_frame(mississippi.frame(), "sherds")
    assert np.array_equal(again.counts, mississippi.counts)
    assert again.sites == mississippi.sites


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda rows: rows.drop(columns="motif"), "'motif' is missing"),
        (lambda rows: rows.drop(columns="vessel"), "'vessel' is missing"),
        (lambda rows: rows.assign(sherd=np.arange(len(rows)) * 1.0), "read as decimals"),
        (lambda rows: rows.assign(site=""), "no site"),
        (lambda rows: rows.assign(motif=""), "none can be counted"),
        (lambda rows: rows.iloc[:0], "none can be counted"),
    ],
)
def test_bad_rows_get_one_clear_line(change, words):
    with pytest.raises(InputError, match=words) as caught:
        motif_table(change(ROWS), "vessel")
    assert "\n" not in str(caught.value)


def test_unknown_names():
    with pytest.raises(InputError, match="unit 'weight'"):
        motif_table(ROWS, "weight")
    with pytest.raises(UnknownName, match="Dunholt"):
        motif_table(ROWS, "sherd", order=["Ostervik"])
    with pytest.raises(UnknownName, match="Nowhere"):
        motif_table(ROWS, "sherd").row("Nowhere")


@pytest.mark.parametrize(
    ("counts", "sites", "words"),
    [
        ([[1, 2]], ["a", "b"], "1 x 2, but 2 sites"),
        ([[1, 2], [3, 4]], ["a", "a"], "listed twice"),
        ([[1, -2]], ["a"], "-2 is not a count"),
        ([[1, np.nan]], ["a"], "nan is not a count"),
        ([[1, np.inf]], ["a"], "inf is not a count"),
        ([[1, 1e300]], ["a"], "too large"),
        ([["x", 2]], ["a"], "not a number"),
        ([1, 2], ["a"], "rows and columns"),
        (np.zeros((0, 2)), [], "empty"),
    ],
)
def test_bad_counts_get_one_clear_line(counts, sites, words):
    with pytest.raises(InputError, match=words):
        count_table(counts, sites, ["m", "n"], "sherds")


def test_the_unit_is_never_left_out():
    with pytest.raises(InputError, match="unit"):
        count_table([[1]], ["a"], ["m"], " ")
