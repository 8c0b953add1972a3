"""Figures in words: no more digits than the uncertainty allows, never one chip alone, what is not seen says why."""

from motifs.catalogue import RimReading
from motifs.workflows.figure_words import figure_lines, has_slip, measured_lines
from motifs.workflows.figures import Figure
from motifs.workflows.listing import list_sherds
from motifs.workflows.rims import record_rim

CHIPS = [{"chip": "5YR 6/6", "de": 0.91}, {"chip": "7.5YR 6/6", "de": 3.76}, {"chip": "2.5YR 6/6", "de": 4.19}]


def words(figures, **kwargs):
    return {line.name: (line.text, line.note) for line in figure_lines(figures, **kwargs)}


def test_digits_follow_the_uncertainty():
    told = words(
        {
            "area": Figure(1234.56, "mm2", 31.0),
            "max_dimension": Figure(45.678, "mm", 0.234),
            "repeat": Figure(11.04, "mm", 2.4),
            "line_width": Figure([1.2, 1.4, 1.6], "mm", [0.05, 0.048, 0.05]),
            "decorated_share": Figure(0.2345, "share", 0.027),
            "line_direction": Figure(25.4, "deg", 3.0),
        }
    )
    assert told["area"][0] == "1235 ± 31 mm²"
    assert told["maximum dimension"][0] == "45.7 ± 0.2 mm"
    assert told["repeat"][0] == "11.0 ± 2.4 mm"
    assert told["line width"] == ("1.40 ± 0.05 mm", "half of it between 1.20 and 1.60 mm")
    assert told["decorated share"][0] == "23% ± 3%"
    assert told["lines run"][0] == "25 ± 3° from horizontal"


def test_three_chips_and_slip_where_a_person_said_so():
    figures = {"paste_munsell": Figure(CHIPS, "CIEDE2000")}
    assert words(figures)["paste colour"][0] == "5YR 6/6 (0.9), 7.5YR 6/6 (3.8), 2.5YR 6/6 (4.2)"
    assert "paste colour" not in words(figures, is_slipped=True)
    assert words(figures, is_slipped=True)["slip colour"] == words(figures)["paste colour"]


def test_directions_follow_the_rim():
    figures = {"line_direction": Figure(25.0, "deg", 2.0)}
    assert words(figures)["lines run"] == (
        "25 ± 2° from horizontal",
        "anticlockwise, as photographed; nobody said yet which way is up",
    )
    # Turned clockwise by 40 degrees, what ran 25 degrees anticlockwise runs 15 degrees clockwise.
    assert words(figures, rim_up_deg=40.0)["lines run"] == ("165 ± 2° from horizontal", "anticlockwise, rim up")


def test_two_paints():
    told = words({"paint_munsell": Figure([CHIPS, CHIPS], "CIEDE2000"), "paint_share": Figure([0.7, 0.3], "share")})
    assert told["paint colour 2"][1] == "30% of the decoration"


def test_what_is_not_seen_says_why_and_what_is_not_measured_says_nothing():
    told = words({"repeat": Figure(None, "mm"), "band_height": Figure(None, "mm"), "line_width": Figure(None, "mm")})
    assert told["repeat"] == ("not seen", "less than one and a half repeats are seen")
    assert told["line width"][0] == "not seen"
    assert words({"area": Figure(None, "mm2")}) == {} == words({})


def test_a_soft_photograph_is_told():
    assert words({"blur": Figure(3.21, "px", 0.1)})["photograph"][0] == "soft: its outline is blurred by 3.2 px"


def test_lines_of_a_sherd(cat):
    sherd = cat.sherds("B-03")[0]
    before = [line.name for line in measured_lines(cat, sherd)]
    assert {"area", "paste colour", "paint colour", "line width"} <= set(before)
    with cat.transaction(by="test"):
        cat.add_tag(sherd.number, "Slipped", "treatment")
    record_rim(cat, sherd.number, RimReading("chord", 185.0, 8.8, 10.5, 0.5, 60.0, 5.0), by="M. Oduya")
    after = {line.name: line.text for line in measured_lines(cat, sherd)}
    assert has_slip(cat.tags(sherd.number))
    assert "slip colour" in after
    measured = list_sherds(cat, "B-03")[0].measurements
    assert "slip_munsell" in measured
    assert "paste_munsell" not in measured
    assert after["rim"] == "diameter 185 ± 9 mm, 10 % of the rim"
