"""Figures of a sherd: right on drawn sherds, with unit and uncertainty, kept, measured again when stale, listed."""

import numpy as np
import pytest

from motifs.evidence.surface import read_face
from motifs.imaging.colour import delta_e
from motifs.imaging.munsell import chip_named
from motifs.records import Scale
from motifs.workflows import measurements
from motifs.workflows.figures import FIGURES, Figure, quality_flags
from motifs.workflows.listing import list_sherds
from motifs.workflows.measurements import ensure_figures, figures_of
from motifs.workflows.repeats import repeat_of
from tests.workflows.drawn_sherds import banded_sherd
from tests.workflows.tray import PAINT, PASTES


def figures_on(crop, relative_sd=0.004):
    face = read_face(crop)
    return measurements._colours(face) | measurements._decoration(face, relative_sd)


@pytest.mark.parametrize("turn_deg", [0.0, 25.0, 100.0, 163.0])
@pytest.mark.parametrize(("repeat_mm", "height_mm", "line_mm"), [(11.0, 16.0, 1.6), (8.0, 13.0, 1.1)])
def test_a_band_is_measured_whichever_way_it_lies(turn_deg, repeat_mm, height_mm, line_mm):
    drawn = banded_sherd(repeat_mm=repeat_mm, height_mm=height_mm, line_mm=line_mm, turn_deg=turn_deg)
    found = figures_on(drawn)
    for name, true, unit in (("repeat", repeat_mm, "mm"), ("band_height", height_mm, "mm")):
        assert found[name].value == pytest.approx(true, abs=3 * found[name].sd)
        assert found[name].sd < 0.04 * true
        assert found[name].unit == unit
    assert abs((found["band_direction"].value - turn_deg + 90) % 180 - 90) <= 1.0
    low, middle, high = found["line_width"].value
    assert low <= middle <= high
    assert middle == pytest.approx(line_mm, rel=0.06)


def test_no_repeat_where_less_than_one_and_a_half_is_seen_and_no_band_without_frames():
    assert figures_on(banded_sherd(repeat_mm=34.0))["repeat"] == Figure(None, "mm")
    assert figures_on(banded_sherd(framed=False))["band_height"] == Figure(None, "mm")


def test_parallel_lines_run_one_way_and_do_not_repeat():
    found = figures_on(banded_sherd(zigzag=False, turn_deg=37.0))
    assert found["line_direction"].value == pytest.approx(37.0, abs=1.0)
    assert found["line_parallel"].value > 0.98
    assert found["repeat"].value is None
    assert found["band_height"].value is None


def test_the_uncertainty_of_the_scale_is_in_every_length():
    crop = banded_sherd()
    sure, unsure = figures_on(crop, 0.0), figures_on(crop, 0.05)
    for name in ("repeat", "band_height"):
        expected = np.hypot(sure[name].sd, 0.05 * sure[name].value)
        assert unsure[name].sd == pytest.approx(expected, rel=0.01)
    middle = np.hypot(sure["line_width"].sd[1], 0.05 * sure["line_width"].value[1])
    assert unsure["line_width"].sd[1] == pytest.approx(middle, rel=0.01)


def test_without_a_scale_nothing_is_in_mm():
    face = read_face(banded_sherd())
    assert {figure.unit for figure in measurements._decoration(face, None).values()} <= {"share", "deg"}


def test_paste_and_two_paints_get_three_chips_each():
    found = figures_on(banded_sherd(second_paint=True))
    assert found["paste_munsell"].value[0]["chip"] == "5YR 6/6"
    firsts = {chips[0]["chip"] for chips in found["paint_munsell"].value}
    assert firsts == {"10YR 3/1", "10R 4/6"}
    assert all(len(chips) == 3 for chips in [found["paste_munsell"].value, *found["paint_munsell"].value])
    assert sum(found["paint_share"].value) == pytest.approx(1.0, abs=0.001)
    assert delta_e(np.array(found["paste_colour"].value), np.array(chip_named("5YR 6/6").lab)) < 1.0


def test_one_paint_stays_one():
    assert len(figures_on(banded_sherd())["paint_colour"].value) == 1


def test_decorated_share_is_what_was_drawn():
    drawn = banded_sherd(zigzag=False, line_mm=2.0, noise=0.0)
    found = figures_on(drawn)["decorated_share"]
    assert found.value == pytest.approx(0.125, abs=3 * found.sd)


def test_an_empty_face_has_no_repeat():
    nothing = np.zeros((40, 40))
    assert repeat_of(nothing, np.ones((40, 40), bool), 5.0) is None
    assert repeat_of(nothing, np.zeros((40, 40), bool), 5.0) is None


def test_intake_measures_and_keeps_and_the_list_shows_it(cat):
    listed = list_sherds(cat, "B-03")
    assert all(row.is_measured and row.flags == () for row in listed)
    for row in listed:
        for name in ("area", "max_dimension", "line_width", "blur"):
            figure = row.measurements[name]
            assert figure["unit"] in {"mm", "mm2", "px"}
            assert None not in (figure["value"], figure["sd"])
        assert row.measurements["area"]["value"] == pytest.approx(row.measurements["area_mm2"], rel=1e-4)
        assert row.measurements["repeat"]["unit"] == "mm"
        # Lines were drawn within about 10 degrees of the horizontal.
        direction = row.measurements["line_direction"]["value"]
        assert min(direction, 180 - direction) < 12


def test_paste_and_paint_are_those_of_the_tray(cat):
    """Named from the light-corrected photograph: the colours drawn are within 3 CIEDE2000."""
    from motifs.imaging.colour import linear_to_lab, to_linear

    drawn = [linear_to_lab(to_linear(np.array(rgb, np.uint8))) for rgb in (*PASTES, PAINT)]
    for row in list_sherds(cat, "B-03"):
        paste = np.array(row.measurements["paste_colour"]["value"])
        paint = np.array(row.measurements["paint_colour"]["value"][0])
        assert min(delta_e(paste, one) for one in drawn[:2]) < 3
        assert delta_e(paint, drawn[2]) < 4


def test_kept_figures_are_not_measured_again(cat, monkeypatch):
    sherds = cat.sherds("B-03")
    first = ensure_figures(cat, sherds, by="test")
    monkeypatch.setattr(measurements, "measure_figures", lambda *_: pytest.fail("measured again"))
    assert ensure_figures(cat, sherds, by="test") == first == figures_of(cat, sherds)


def test_a_new_scale_or_outline_or_version_makes_them_stale(cat, monkeypatch):
    sherd = cat.sherds("B-03")[0]
    before = ensure_figures(cat, [sherd], by="test")[sherd.number]
    photo = cat.photo(sherd.photo_id)
    sizes = {one.number: (1.0, 2.0) for one in cat.sherds(photo_id=photo.photo_id)}
    with cat.transaction(by="test"):
        cat.set_scale(photo.photo_id, Scale(photo.scale.px_per_mm / 2, "typed", 0.02), sizes)
    sherd = cat.sherd(sherd.number)
    assert figures_of(cat, [sherd]) == {}
    assert not list_sherds(cat, "B-03")[0].is_measured
    after = ensure_figures(cat, [sherd], by="test")[sherd.number]
    assert after["max_dimension"].value == pytest.approx(2 * before["max_dimension"].value, rel=1e-3)
    assert after["max_dimension"].sd >= 0.02 * after["max_dimension"].value
    monkeypatch.setattr(measurements, "CUES_VERSION", "another")
    assert figures_of(cat, [sherd]) == {}


def test_an_uncertainty_alone_makes_them_stale(cat):
    """The content key holds the scale, not its uncertainty; the figures rest on both."""
    sherd = cat.sherds("B-03")[0]
    photo = cat.photo(sherd.photo_id)
    sizes = {one.number: (1.0, 2.0) for one in cat.sherds(photo_id=photo.photo_id)}
    with cat.transaction(by="test"):
        cat.set_scale(photo.photo_id, Scale(photo.scale.px_per_mm, photo.scale.source, 0.03), sizes)
    assert figures_of(cat, [cat.sherd(sherd.number)]) == {}


def test_nothing_to_measure(cat):
    assert ensure_figures(cat, [], by="test") == {}


def test_flags_in_words():
    bad = {"blur": Figure(3.2, "px", 0.1), "burnt_share": Figure(0.2, "share"), "blocked_share": Figure(0.0, "share")}
    assert quality_flags(bad) == ("soft: its outline is blurred by 3.2 px", "burnt out: 20% of the face")
    assert quality_flags({"blur": Figure(None, "px")}) == ()


def test_figures_are_one_row_a_sherd(cat):
    number = cat.sherds("B-03")[0].number
    assert FIGURES in cat.measurements(number)
