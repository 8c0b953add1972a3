"""Rims: formulas against the published table, unknown as an answer, EVE, and what is refused."""

import numpy as np
import pytest

from motifs.errors import InputError, UnknownName
from motifs.workflows.listing import list_sherds
from motifs.workflows.rims import (
    lot_rims,
    propose_rim,
    record_rim,
    rim_by_chart,
    rim_by_chord,
    rim_unknown,
    rim_warnings,
    withdraw_rim,
)
from motifs.workflows.views import add_view
from tests.truth.sites_quantity import DIAMETER_PER_SAGITTA, DIAMETERS, EVE, RIMS

LOT = "B-03"


@pytest.mark.parametrize(("chord", "sagitta", "diameter", "digits"), DIAMETERS)
def test_diameter_is_that_of_the_table(chord, sagitta, diameter, digits):
    reading = rim_by_chord(chord, sagitta, reading_sd_mm=0.01)
    # Some values of the table were rounded twice, so the last printed digit holds within one unit.
    assert reading.diameter_mm == pytest.approx(diameter, abs=1.01 * 10**-digits)
    assert reading.percent == pytest.approx(100 * np.arcsin(chord / reading.diameter_mm) / np.pi)


@pytest.mark.parametrize(("diameter", "percent", "_arc", "chord", "sagitta"), RIMS)
def test_share_is_that_of_the_table(diameter, percent, _arc, chord, sagitta):
    reading = rim_by_chord(chord, sagitta, reading_sd_mm=0.01)
    assert reading.diameter_mm == pytest.approx(diameter, rel=5e-4)
    assert reading.percent == pytest.approx(percent, rel=5e-4)


def test_uncertainty_follows_the_slope_of_the_table():
    chord, sagitta, slope = DIAMETER_PER_SAGITTA
    reading = rim_by_chord(chord, sagitta, reading_sd_mm=0.1)
    by_chord = chord / (2 * sagitta)
    assert reading.diameter_sd_mm == pytest.approx(0.1 * np.hypot(slope, by_chord))


def test_uncertainty_of_the_share_by_chance():
    """Against 20,000 readings that err by chance."""
    rng = np.random.default_rng(5)
    chords, sagittas = 60 + rng.normal(0, 0.25, 20000), 6 + rng.normal(0, 0.25, 20000)
    diameters = chords**2 / (4 * sagittas) + sagittas
    reading = rim_by_chord(60, 6)
    assert reading.percent_sd == pytest.approx(np.std(100 * np.arcsin(chords / diameters) / np.pi), rel=0.05)
    assert reading.diameter_sd_mm == pytest.approx(np.std(diameters), rel=0.05)


def test_an_arc_past_half_way_round():
    # Rise above the radius: 100 mm across, 75 mm high is two thirds of the rim (cos 120 degrees is minus a half).
    reading = rim_by_chord(100 * np.sin(np.pi / 3), 75.0)
    assert reading.diameter_mm == pytest.approx(100.0)
    assert reading.percent == pytest.approx(200 / 3)


@pytest.mark.parametrize(("chord", "sagitta"), [(60, 1.0), (30, 0.8), (40, 2.0)])
def test_a_tiny_rise_is_no_diameter(chord, sagitta):
    with pytest.raises(InputError, match="record the rim with diameter unknown"):
        rim_by_chord(chord, sagitta)


@pytest.mark.parametrize("bad", [(0, 5), (60, 0), (float("nan"), 5), (60, -1)])
def test_lengths_that_cannot_be(bad):
    with pytest.raises(InputError, match="not a length above 0"):
        rim_by_chord(*bad)


@pytest.mark.parametrize("bad", [(0.0, 10.0), (200.0, 0.0), (200.0, 101.0), (float("inf"), 5.0)])
def test_chart_readings_that_cannot_be(bad):
    with pytest.raises(InputError, match="cannot be"):
        rim_by_chart(*bad)


def test_small_rims_are_told():
    assert "under 5 %" in rim_warnings(rim_by_chart(180, 3.0))[0]
    assert rim_warnings(rim_by_chart(180, 12.0)) == ()
    assert rim_warnings(rim_unknown()) == ()


def test_eve_of_a_lot(cat):
    shares, eve = EVE
    numbers = [sherd.number for sherd in cat.sherds(LOT)]
    assert lot_rims(cat, LOT).rims == ()
    for number, share in zip(numbers, shares, strict=False):
        record_rim(cat, number, rim_by_chart(200, share), by="M. Oduya")
    record_rim(cat, numbers[6], rim_unknown("chipped"), by="M. Oduya")
    found = lot_rims(cat, LOT)
    assert found.eve == pytest.approx(eve)
    assert (len(found.rims), found.with_share, found.unknown) == (6, 5, 1)
    assert "no number of vessels" in found.method
    record_rim(cat, numbers[0], rim_unknown(), by="M. Oduya")
    assert lot_rims(cat, LOT).eve == pytest.approx(eve - 0.10)
    withdraw_rim(cat, numbers[0], by="M. Oduya")
    assert len(lot_rims(cat, LOT).rims) == 5
    listed = {row.sherd: row.measurements for row in list_sherds(cat, LOT)}
    assert [(tag.term, tag.kind) for tag in cat.tags(numbers[1])] == [("rim", "position")]
    assert listed[numbers[1]]["rim_share"]["value"] == 12
    assert listed[numbers[6]]["rim_diameter"] == {"value": None, "unit": "mm", "sd": None, "method": "unknown"}


def test_a_proposal_along_the_outline_of_a_rim_view(cat):
    """A ring segment of 180 mm outer diameter and 15 % of the rim, drawn as a view seen from above."""
    sherd = cat.sherds(LOT)[0]
    k = cat.photo(sherd.photo_id).scale.px_per_mm
    turns = np.linspace(-0.15 * np.pi, 0.15 * np.pi, 60)
    outer = np.column_stack([90 * np.sin(turns), 90 - 90 * np.cos(turns)])
    inner = np.column_stack([84 * np.sin(turns[::-1]), 90 - 84 * np.cos(turns[::-1])])
    outline = (np.vstack([outer, inner]) * k + 300).astype(np.float32)
    view = add_view(cat, sherd.number, sherd.photo_id, outline, "rim", by="test")
    ends = [tuple(map(float, outline[0])), tuple(map(float, outline[59]))]
    proposal = propose_rim(cat, sherd.number, *ends, view_id=view.view_id)
    assert proposal.reading.diameter_mm == pytest.approx(180, abs=1.5)
    assert proposal.reading.percent == pytest.approx(15, abs=0.3)
    assert proposal.reading.diameter_sd_mm >= cat.photo(sherd.photo_id).scale.relative_sd * 179
    assert proposal.warnings == ()
    assert cat.rims(LOT) == {}
    on_face = propose_rim(
        cat, sherd.number, tuple(sherd.outline_px[0]), tuple(sherd.outline_px[len(sherd.outline_px) // 4])
    )
    assert on_face.reading is None or "along the axis" in on_face.warnings[0]


def test_proposals_need_a_scale_and_a_view_of_the_sherd(cat):
    a, b = cat.sherds(LOT)[:2]
    view = add_view(cat, a.number, a.photo_id, a.outline_px, "rim", by="test")
    with pytest.raises(InputError, match="not of sherd"):
        propose_rim(cat, b.number, (0, 0), (9, 9), view_id=view.view_id)
    with pytest.raises(UnknownName):
        propose_rim(cat, "B-03-099", (0, 0), (9, 9))
    sizes = {one.number: (None, None) for one in cat.sherds(photo_id=a.photo_id)}
    with cat.transaction(by="test"):
        cat.set_scale(a.photo_id, None, sizes)
    with pytest.raises(InputError, match="no scale"):
        propose_rim(cat, a.number, (0, 0), (9, 9))
