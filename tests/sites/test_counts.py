import numpy as np
import pandas as pd
import pytest

from motifs.errors import InputError
from motifs.sites import (
    adjusted_weight_g,
    arc_mm,
    brokenness,
    chord_mm,
    completeness,
    diameter_per_sagitta,
    eve_by_type,
    maximum_vessels,
    mean_sherd_weight_g,
    mnv_by_kind,
    mnv_by_parts,
    mnv_by_rim_eve,
    repeats_round,
    rim_diameter_mm,
    rim_eve,
    rim_fraction,
    sagitta_mm,
    size_classes,
    thickness_by_surface_mm,
    thickness_by_weight_mm,
    vessels_represented,
)
from tests.truth import sites_quantity as truth

RIMS = pd.DataFrame(truth.RIM_SET, columns=["type", "diameter_mm", "percent"])


@pytest.mark.parametrize(("chord", "sagitta", "diameter", "digits"), truth.DIAMETERS)
def test_diameter(chord, sagitta, diameter, digits):
    assert rim_diameter_mm(chord, sagitta) == pytest.approx(diameter, abs=0.501 * 10**-digits)


def test_field_check_and_error():
    chord, rise, diameter = truth.FIELD_CHECK_M
    assert rim_diameter_mm(1000 * chord, 1000 * rise) == pytest.approx(1000 * diameter, abs=0.05)
    chord, rise, slope = truth.DIAMETER_PER_SAGITTA
    assert diameter_per_sagitta(chord, rise) == pytest.approx(slope)


@pytest.mark.parametrize(("diameter", "percent", "arc", "chord", "sagitta"), truth.RIMS)
def test_rim_table(diameter, percent, arc, chord, sagitta):
    share = percent / 100
    assert arc_mm(diameter, share) == pytest.approx(arc, abs=1e-3)
    assert chord_mm(diameter, share) == pytest.approx(chord, abs=1e-3)
    assert sagitta_mm(diameter, share) == pytest.approx(sagitta, abs=1e-3)
    assert rim_fraction(chord_mm(diameter, share), diameter) == pytest.approx(share)
    assert rim_diameter_mm(chord_mm(diameter, share), sagitta_mm(diameter, share)) == pytest.approx(diameter)


@pytest.mark.parametrize(("diameter", "chord", "percent"), truth.PERCENT_FROM_CHORD)
def test_percent_from_chord(diameter, chord, percent):
    assert 100 * rim_fraction(chord, diameter) == pytest.approx(percent, abs=5e-4)


def test_more_than_half_a_rim():
    assert rim_fraction(chord_mm(200, 0.8), 200, is_over_half=True) == pytest.approx(0.8)
    assert rim_fraction(200, 200) == pytest.approx(0.5)


def test_repeats_round():
    found = repeats_round(truth.REPEATS["diameter_mm"], truth.REPEATS["repeat_mm"])
    assert found == pytest.approx(truth.REPEATS["repeats"], abs=0.005)


def test_eve():
    percents, expected = truth.EVE
    assert rim_eve(percents) == pytest.approx(expected)
    assert rim_eve([]) == 0.0
    frame = eve_by_type(RIMS)
    assert frame["eve"].sum() == pytest.approx(truth.RIM_SET_EVE)
    assert frame.loc["A", "rims"] == 5


def test_minimum_numbers_name_their_method():
    by_diameter, by_type = mnv_by_rim_eve(RIMS), mnv_by_rim_eve(RIMS, with_diameter=False)
    assert (by_diameter.number, by_type.number) == (truth.RIM_SET_MNV, truth.RIM_SET_MNV_BY_TYPE)
    assert by_diameter.by_type == (("A", 3), ("B", 1))
    assert "type and diameter" in by_diameter.method
    assert maximum_vessels([None] * len(RIMS)).number == truth.RIM_SET_MAXIMUM


def test_rounding_makes_no_vessel():
    thirds = pd.DataFrame({"type": "A", "diameter_mm": 200, "percent": [100 / 3] * 3})
    assert mnv_by_rim_eve(thirds).number == 1
    tenths = pd.DataFrame({"type": "A", "diameter_mm": 200, "percent": [10.0] * 10})
    assert mnv_by_rim_eve(tenths).number == 1


def test_rims_of_unknown_diameter():
    unknown = pd.DataFrame({"type": ["A", "A", "C"], "diameter_mm": [200, None, None], "percent": [60, None, 4]})
    found = mnv_by_rim_eve(unknown)
    assert found.by_type == (("A", 1), ("C", 1))
    notes = " ".join(found.warnings)
    assert "1 rim(s) have no percentage" in notes
    assert "1 rim(s) are below 5 %" in notes
    assert "2 rim(s) have no diameter" in notes


def test_no_rims_no_vessels():
    none = mnv_by_rim_eve(RIMS.iloc[:0])
    assert (none.number, none.by_type) == (0, ())
    assert maximum_vessels([]).number == 0


def test_largest_part():
    parts = pd.DataFrame({"type": ["jar", "jug"], "rims": [3, 1], "bases": [2, 2], "handles": [5, 1]})
    assert mnv_by_parts(parts).by_type == (("jar", 3), ("jug", 2))
    assert mnv_by_parts(parts, handles_per_vessel=1).by_type == (("jar", 5), ("jug", 2))


def test_kinds():
    sherds = pd.DataFrame(
        {"fabric": ["f", "f", "f", None], "form": ["jar", "jar", "bowl", "jar"], "decoration": ["wave"] * 4}
    )
    found = mnv_by_kind(sherds)
    assert found.number == 2
    assert "1 sherd(s) lack" in found.warnings[0]


def test_joined_rims_count_once():
    assert maximum_vessels(["j1", "j1", None, "", "j2"]).number == 4


def test_represented_completeness_brokenness():
    assert vessels_represented(["v1", "v1", "v2", None]) == vessels_represented(["v2", "v1", "", "v1"])
    found = vessels_represented(["v1", "v1", "v2", None])
    assert (found.low, found.high) == (2, 3)
    assert (vessels_represented([None, ""]).low, vessels_represented([]).high) == (1, 0)
    orton = truth.ORTON
    assert completeness(orton["eve"], orton["represented"]) == orton["completeness"]
    assert brokenness(orton["sherds"], orton["eve"]) == orton["brokenness"]


def test_weights():
    w = truth.WEIGHTS
    assert adjusted_weight_g(w["weight_g"], w["thickness_mm"]).tolist() == list(w["adjusted_g"])
    assert thickness_by_weight_mm(w["weight_g"], w["thickness_mm"]) == pytest.approx(w["by_weight_mm"])
    assert thickness_by_surface_mm(w["weight_g"], w["thickness_mm"]) == pytest.approx(w["by_surface_mm"])
    assert mean_sherd_weight_g(171.75, 28) == pytest.approx(6.13, abs=0.005)


def test_size_classes():
    found = size_classes([5, 20, 39.9, 80, 200])
    assert found.to_dict() == {"<20": 1, "20-40": 2, "40-60": 0, "60-80": 0, ">=80": 2}
    assert size_classes([]).sum() == 0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: rim_diameter_mm(0, 5), "chord_mm"),
        (lambda: rim_diameter_mm(60, float("nan")), "sagitta_mm"),
        (lambda: rim_fraction(201, 200), "longer than the diameter"),
        (lambda: arc_mm(200, 10), "10 % of the rim is 0.1"),
        (lambda: rim_eve([0]), "not a share of a rim"),
        (lambda: rim_eve([101]), "not a share of a rim"),
        (lambda: mnv_by_rim_eve(RIMS.drop(columns="percent")), "'percent' is missing"),
        (lambda: mnv_by_rim_eve(RIMS.assign(type=None)), "no type"),
        (lambda: mnv_by_rim_eve(RIMS.assign(percent="many")), "not a number"),
        (lambda: mnv_by_parts(pd.DataFrame({"type": ["a"], "rims": [1.5], "bases": [0], "handles": [0]})), "rims"),
        (lambda: mnv_by_parts(pd.DataFrame({"type": ["a", "a"], "rims": 1, "bases": 0, "handles": 0})), "twice"),
        (lambda: mnv_by_kind(RIMS, []), "kinds"),
        (lambda: completeness(1.0, 0), "vessel represented"),
        (lambda: completeness(3.0, 2), "more than the 2 vessels"),
        (lambda: brokenness(5, 0), "above 0"),
        (lambda: mean_sherd_weight_g(5, 0), "sherds"),
        (lambda: adjusted_weight_g([1, 2], [1]), "one weight"),
        (lambda: adjusted_weight_g([1], [0]), "above 0"),
        (lambda: size_classes([0]), "above 0"),
        (lambda: size_classes([np.nan]), "above 0"),
        (lambda: size_classes([5], [40, 20]), "rise"),
    ],
)
def test_hostile(call, words):
    with pytest.raises(InputError, match=words):
        call()
