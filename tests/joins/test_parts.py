"""Rivals, fits, evidence and pictures, against what can be worked out by hand or by another library."""

import json

import numpy as np
import pytest
from scipy.special import expit

from motifs.errors import ModelError
from motifs.joins import SherdCutOut, draw_join, fields_on_outline, join_llrs, joining_share, load_model, vessel_llr
from motifs.joins.contact import soft_along
from motifs.joins.crossing import _strokes_met
from motifs.joins.features import ALL_FEATURES, EDGE_FEATURES
from motifs.joins.fits import probability, save_model


def test_odds_and_probabilities_are_those_of_the_logistic_function():
    odds = np.array([-8.0, -1.0, 0.0, 2.5, 30.0])
    np.testing.assert_allclose(probability(odds), expit(odds), rtol=1e-12)


def test_one_vessel_by_the_law_of_total_probability():
    # Worked by hand: sherds of one pot touch with probability 0.1, a join 20 times likelier than chance: 0.1 * 20 + 0.9 = 2.9.
    assert vessel_llr([np.log(20.0)], 0.1)[0] == pytest.approx(np.log(2.9))
    assert vessel_llr([-40.0], 0.1)[0] == pytest.approx(np.log(0.9))
    assert vessel_llr([0.0], 0.3)[0] == pytest.approx(0.0)


def test_two_sherds_of_a_small_lot_touch_more_often():
    assert 0 < joining_share(500) < joining_share(60) < joining_share(4) <= 0.9
    assert join_llrs([], 60) == []


def test_the_shipped_model_is_read_and_kept(tmp_path):
    model = load_model()
    assert set(model.edges.names) == set(EDGE_FEATURES)
    assert set(model.fit.names) == set(ALL_FEATURES)
    assert "practice lots" in model.made_by
    save_model(model, tmp_path / "again.json")
    assert load_model(tmp_path / "again.json") == model


@pytest.mark.parametrize("content", ["", "{}", '{"fit": 3}', "[1]", json.dumps({"fit": {"names": ["shoe size"]}})])
def test_a_damaged_model_is_one_clear_line(tmp_path, content):
    file = tmp_path / "joins.json"
    file.write_text(content)
    with pytest.raises(ModelError, match=r"joins.json"):
        load_model(file)


def test_a_missing_model_is_named(tmp_path):
    with pytest.raises(ModelError, match="cannot be read"):
        load_model(tmp_path / "nowhere.json")


def test_smoothing_leaves_out_what_has_no_weight():
    values = np.array([[1.0, 1.0, 99.0, 1.0, 1.0, 1.0]])
    weight = np.array([[1.0, 1.0, 0.0, 1.0, 1.0, 1.0]])
    np.testing.assert_allclose(soft_along(values, weight, 1.0), 1.0)


def test_strokes_are_counted_on_both_sides_and_met_within_reach():
    a, b = np.zeros(80), np.zeros(80)
    a[10:14] = a[40:44] = 1
    b[12:15] = 1
    assert _strokes_met(a, b) == (3, 2)
    assert _strokes_met(np.zeros(80), np.zeros(80)) == (0, 0)


def test_fields_lie_on_the_outline():
    mask = np.zeros((120, 200), bool)
    mask[20:100, 30:170] = True
    outline = np.array([[103.0, 52], [117, 52], [117, 60], [103, 60.0]])
    face = np.zeros((60, 100), bool)
    fields = fields_on_outline(outline, mask, 10.0, ink=None, lab=np.zeros((60, 100, 3), np.float32), face=face)
    assert fields.px_per_mm == pytest.approx(5.0)
    assert not fields.has_ink
    # column 15 of the face covers columns 30 and 31 of the crop, whose left border is the sherd's, x = 103
    assert fields.corner_mm[0] + 15 / 5 == pytest.approx(103 + 0.1)


def test_a_drawing_shows_both_sherds_side_by_side():
    square = np.array([[0.0, 0], [10, 0], [10, 10], [0, 10]])
    red, blue = (np.full((140, 140, 3), colour, np.uint8) for colour in ((200, 30, 30), (30, 30, 200)))
    mask = np.zeros((140, 140), bool)
    mask[20:120, 20:120] = True
    beside = np.array([[1.0, 0, 10.5], [0, 1, 0], [0, 0, 1]])
    drawing = draw_join(SherdCutOut(red, mask, 10.0, square), SherdCutOut(blue, mask, 10.0, square), beside)
    assert drawing.shape == (220, 325, 3)
    assert tuple(drawing[110, 110]) == (200, 30, 30)
    assert tuple(drawing[110, 215]) == (30, 30, 200)


def test_sherds_that_would_lie_in_each_other_are_no_join():
    model = load_model()
    meeting = np.zeros((2, len(ALL_FEATURES)))
    meeting[:, ALL_FEATURES.index("shared_fine")] = 15.0
    meeting[:, ALL_FEATURES.index("length")] = 3.0
    meeting[:, ALL_FEATURES.index("overlap")] = np.log1p([2.0, 60.0])
    beside, within = model.fit.alone(meeting)
    assert probability(np.array([within]))[0] < 0.001
    assert beside > within + 3
