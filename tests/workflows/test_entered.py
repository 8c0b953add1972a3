"""Cues that a person entered: wall thickness, weight in its place, rim diameter."""

from __future__ import annotations

import pytest

from motifs.evidence import compare_sherds, load_calibration
from motifs.records import CueReading
from motifs.workflows.entered import wall_reading


def test_thickness_goes_before_weight_and_text_is_no_number():
    assert wall_reading({"thickness mm": "6.5", "weight g": "90"}, 900.0) == CueReading((6.5,), (0.3,))
    assert wall_reading({"thickness mm": "thin"}, 900.0) is None
    assert wall_reading({"thickness mm": "nan", "weight g": "-3"}, 900.0) is None
    assert wall_reading({}, 900.0) is None
    assert wall_reading({"weight g": "20"}, None) is None


def test_weight_comes_to_a_thickness():
    """A tile of 40 by 50 mm, 10 mm thick, of 1.9 g/cm3 weighs 20 cm3 * 1.9 = 38 g."""
    reading = wall_reading({"weight g": "38"}, 40.0 * 50.0)
    assert reading is not None
    assert reading.value[0] == pytest.approx(10.0)
    assert reading.sd[0] == pytest.approx(1.2)


def test_rims_and_walls_vote_in_words():
    calibration = load_calibration()

    def votes(a, b):
        return {vote.cue: vote for vote in compare_sherds(a, b, calibration)}

    narrow = {"rim": CueReading((120.0,), (5.0,)), "wall": CueReading((5.0,), (0.3,))}
    wide = {"rim": CueReading((300.0,), (10.0,)), "wall": CueReading((5.2,), (0.3,))}
    told = votes(narrow, wide)
    assert told["rim"].llr < -1
    assert told["wall"].llr > 0
    assert told["rim"].why == "rim diameter 120 mm against 300 mm"
    assert votes(narrow, {"rim": CueReading((121.0,), (5.0,))})["rim"].llr > 1
    assert "rim" not in votes(narrow, {"wall": CueReading((5.0,), (0.3,))})
