"""Cues on drawn crops with known widths and colours, and colour spaces against scikit-image."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from skimage.color import rgb2lab

from motifs.errors import ModelError
from motifs.evidence import compare_sherds, load_calibration, measure_sherd, settle_polarity, vessel_votes
from motifs.evidence.colour import lab_to_linear, linear_to_lab, linear_to_log_ratio, srgb_to_linear
from motifs.records import CueReading, CueVote, SherdCrop

PASTE, PAINT = (178, 141, 108), (60, 48, 42)


def striped(width_mm=1.2, pitch_mm=6.0, paste=PASTE, paint=PAINT, side_mm=40, light=1.0, noise=2.0):
    """A square sherd of 10 px/mm with straight strokes of a known width."""
    side = side_mm * 10
    image = np.full((side, side, 3), paste, np.float32)
    for start in np.arange(30, side - 30, pitch_mm * 10):
        image[:, round(start) : round(start + width_mm * 10)] = paint
    image = cv2.GaussianBlur(image, (0, 0), 0.8) + np.random.default_rng(0).normal(0, noise, image.shape)
    linear = srgb_to_linear(np.clip(image, 0, 255).astype(np.uint8)) * light
    back = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-9) ** (1 / 2.4) - 0.055)
    mask = np.zeros((side, side), bool)
    mask[10:-10, 10:-10] = True
    return SherdCrop((np.clip(back, 0, 1) * 255 + 0.5).astype(np.uint8), mask, 10.0, 10.0, True)


def test_lab_agrees_with_scikit_image():
    rgb = np.random.default_rng(1).integers(0, 256, (50, 3), dtype=np.uint8)
    ours = linear_to_lab(srgb_to_linear(rgb))
    assert np.abs(ours - rgb2lab(rgb[None] / 255.0)[0]).max() < 0.05
    assert np.abs(lab_to_linear(ours) - srgb_to_linear(rgb)).max() < 1e-6


def test_light_is_a_constant_in_log_ratio_colour():
    colours = np.array([[0.3, 0.2, 0.1], [0.5, 0.4, 0.3]])
    moved = linear_to_log_ratio(colours * [1.2, 1.0, 0.8]) - linear_to_log_ratio(colours)
    assert np.abs(moved[0, 1:] - moved[1, 1:]).max() < 1e-9


@pytest.mark.parametrize("width_mm", [0.8, 1.2, 2.0])
def test_stroke_width_in_mm(width_mm):
    reading = measure_sherd(striped(width_mm), {})["line"]
    assert reading.value[0] == pytest.approx(width_mm, rel=0.15)


def test_colours_of_ground_and_ink():
    readings = measure_sherd(striped(), {})
    for cue, rgb in (("paste", PASTE), ("paint", PAINT)):
        assert np.abs(np.subtract(readings[cue].value, rgb2lab(np.array([[rgb]]) / 255.0)[0, 0])).max() < 3.0


def test_a_plain_sherd_has_no_ink_and_a_crumb_nothing():
    plain = measure_sherd(striped(paint=PASTE), {})
    assert "paste" in plain
    assert not {"paint", "line"} & plain.keys()
    crumb = SherdCrop(np.full((12, 12, 3), 120, np.uint8), np.ones((12, 12), bool), 10.0, 10.0, True)
    assert measure_sherd(crumb, {}) == {}


def test_without_a_scale_nothing_in_mm():
    crop = striped()
    unscaled = SherdCrop(crop.image, crop.mask, 10.0, 10.0, is_scaled=False)
    assert not {"line", "gap", "texture"} & measure_sherd(unscaled, {}).keys()


def test_pairs_same_vessel_against_other_paste():
    calibration = load_calibration()
    a, b = measure_sherd(striped(), {}), measure_sherd(striped(light=0.97), {})
    other = measure_sherd(striped(width_mm=2.0, paste=(200, 120, 80)), {})
    alike = sum(vote.llr for vote in compare_sherds(a, b, calibration))
    unlike = sum(vote.llr for vote in compare_sherds(a, other, calibration))
    assert alike > 0 > unlike
    assert all(vote.why for vote in compare_sherds(a, other, calibration))


def test_a_swapped_sherd_is_put_right():
    def sherd(shift):
        return {
            "paste": CueReading((60.0 + shift, 10.0, 20.0), (0.5,) * 3),
            "paint": CueReading((25.0 + shift, 3.0, 5.0), (0.5,) * 3),
        }

    lot = [sherd(i * 0.2) for i in range(8)]
    lot[3] = {"paste": lot[3]["paint"], "paint": lot[3]["paste"]}
    settled = settle_polarity(lot)
    assert settled[3]["paste"].value[0] > 55
    assert settle_polarity([]) == []


def test_a_missing_table_is_one_clear_line(tmp_path):
    with pytest.raises(ModelError, match="missing"):
        load_calibration(tmp_path / "evidence.json")
    (tmp_path / "evidence.json").write_text("{}")
    with pytest.raises(ModelError, match="calibration table"):
        load_calibration(tmp_path / "evidence.json")


def test_a_vote_of_a_tied_sherd_on_a_cue_of_its_neighbour_keeps_its_words() -> None:
    """Sherds tied together vote as one, also on what only one of them shows."""
    shown = {"gap": CueReading((3.0,), (0.1,))}
    vote = CueVote("gap", 1.5, "as the sherd it is tied to")
    assert vessel_votes({}, [shown], [vote]) == (vote,)
    assert vessel_votes(shown, [shown], [vote])[0].why.startswith("gap")
