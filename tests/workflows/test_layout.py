"""The layout of a vessel in the catalogue: joins, bands, loose ones, locks, prints and words; refused in one line what cannot be."""

import numpy as np
import pypdfium2
import pytest

from motifs.catalogue import Catalogue
from motifs.errors import InputError, UnknownName
from motifs.workflows import layout_sheets as sheets
from motifs.workflows.assembly_words import block_letter, side_of
from motifs.workflows.joins import judge_joins
from motifs.workflows.layout import lay_out_vessel, leave_to_joins, place_by_hand, vessel_by_name, vessel_by_number
from motifs.workflows.moves import move_sherds
from motifs.workflows.rims import record_rim, rim_by_chart
from motifs.workflows.unjoined import lay_beside

LOT, BY = "B-03", "A. Reed"


@pytest.fixture
def vessel(cat: Catalogue):
    numbers = [sherd.number for sherd in cat.sherds(LOT)]
    move_sherds(cat, LOT, numbers[:5], "1", by=BY)
    return numbers[:5]


def test_everything_loose_without_joins(cat, vessel):
    laid = lay_out_vessel(cat, LOT, "1", by=BY)
    assert {one.sherd for one in laid.sherds} == set(vessel)
    assert {one.by for one in laid.sherds} <= {"joins", "loose"}
    boxes = [(one.outline_mm.min(axis=0), one.outline_mm.max(axis=0)) for one in laid.sherds if one.by == "loose"]
    for k, (low, high) in enumerate(boxes):
        for other_low, other_high in boxes[k + 1 :]:
            assert (high < other_low).any() or (other_high < low).any()


def test_a_vessel_is_known_by_number_or_name(cat, vessel):
    assert vessel_by_name(cat, LOT, "1") == "1"
    assert vessel_by_number(cat, LOT, "1") == "1"
    for find in (vessel_by_name, vessel_by_number):
        with pytest.raises(UnknownName, match="as sort and the sorting table show them"):
            find(cat, LOT, "no such")
    with pytest.raises(UnknownName):
        lay_out_vessel(cat, LOT, "9", by=BY)


def test_a_sherd_laid_by_hand_stays_until_it_is_released(cat, vessel):
    place_by_hand(cat, vessel[0], 321.0, -45.0, 30.0, by=BY)
    one = lay_out_vessel(cat, LOT, "1", by=BY).sherd(vessel[0])
    assert one.is_locked
    assert (one.x_mm, one.y_mm, one.turn_deg) == pytest.approx((321.0, -45.0, 30.0), abs=0.5)
    leave_to_joins(cat, vessel[0], by=BY)
    assert not lay_out_vessel(cat, LOT, "1", by=BY).sherd(vessel[0]).is_locked
    with pytest.raises(UnknownName):
        leave_to_joins(cat, vessel[0], by=BY)
    with pytest.raises(InputError):
        place_by_hand(cat, vessel[0], float("inf"), 0, 0, by=BY)


def test_a_refused_join_is_not_used(cat, vessel):
    laid = lay_out_vessel(cat, LOT, "1", by=BY)
    for join in laid.joins:
        judge_joins(cat, LOT, refused=[(join.a, join.b)], by=BY)
    assert all(one.by != "joins" for one in lay_out_vessel(cat, LOT, "1", by=BY).sherds)


def test_flat_says_so_and_a_rim_unrolls(cat, vessel):
    laid = lay_out_vessel(cat, LOT, "1", by=BY)
    assert laid.wall == "flat"
    assert any("as if flat" in note for note in laid.notes)
    record_rim(cat, vessel[0], rim_by_chart(200.0, 10.0), by=BY)
    notes = lay_out_vessel(cat, LOT, "1", by=BY).notes
    assert any("cylinder" in note for note in notes)


def test_prints_are_true_to_scale(cat, vessel, tmp_path):
    laid = lay_out_vessel(cat, LOT, "1", by=BY)
    document = pypdfium2.PdfDocument(sheets.true_size_pdf(cat, laid))
    # A4 by ISO 216: 210 by 297 mm.
    assert [round(side / 72 * 25.4) for side in document[0].get_size()] == [210, 297]
    told = [document[k].get_textpage().get_text_range() for k in range(len(document))]
    assert "10 cm" in told[0]
    assert vessel[0] in " ".join(told)
    assert bar_mm(document[0]) == pytest.approx(100.0, abs=0.2)
    figure, ratio = sheets.plan_figure(laid)
    assert f"1:{ratio}" in figure.caption
    sheets.save_plan(laid, tmp_path / "plan.svg")
    assert "<svg" in (tmp_path / "plan.svg").read_text()
    steps = pypdfium2.PdfDocument(sheets.step_sheet_pdf(laid))[0].get_textpage().get_text_range()
    assert "conservator" in steps
    with pytest.raises(InputError, match=r"\.svg or \.pdf"):
        sheets.save_plan(laid, tmp_path / "plan.gif")
    with pytest.raises(InputError):
        sheets.save_picture(cat, laid, tmp_path / "nowhere" / "x.png")


def bar_mm(page):
    """How long the blocks of the bar at the foot are together, as pdfium measures them."""
    boxes = [item.get_bounds() for item in page.get_objects() if item.type == pypdfium2.raw.FPDF_PAGEOBJ_PATH]
    blocks = [b for b in boxes if b[3] < 50 and 20 < b[2] - b[0] < 40]
    return (max(b[2] for b in blocks) - min(b[0] for b in blocks)) / 72 * 25.4


def test_the_picture_has_every_sherd(cat, vessel):
    laid = lay_out_vessel(cat, LOT, "1", by=BY)
    image = sheets.picture_of_layout(cat, laid, px_per_mm=4.0)
    corner = np.min([one.outline_mm.min(axis=0) for one in laid.sherds], axis=0) - 6.0
    paper = image[0, 0]
    for one in laid.sherds:
        x, y = ((np.array([one.x_mm, one.y_mm]) - corner) * 4.0).astype(int)
        assert (image[y, x] != paper).any()


def square(x, y):
    return np.array([[0, 0], [20, 0], [20, 20], [0, 20.0]]) + np.array([x, y])


def test_unjoined_sherds_go_to_the_height_of_their_part():
    laid = [square(0, 0), square(0, 20), square(0, 40), square(0, 0), square(0, 0)]
    group = np.array([0, 0, 0, 1, 2])
    put = lay_beside(laid, group, ["rim", "body", "base", "body", None], [False] * 5, is_upright=True)
    assert put.by == ("joins", "joins", "joins", "band", "loose")
    moved = laid[3] + put.shift_mm[3]
    assert moved[:, 1].mean() == pytest.approx(30.0, abs=1.0)
    assert moved[:, 0].min() > 20.0
    assert (laid[4] + put.shift_mm[4])[:, 1].min() > 60.0
    assert (
        lay_beside(laid, group, ["rim", "body", "base", "body", None], [False] * 5, is_upright=False).by[3] == "loose"
    )
    assert lay_beside([], np.zeros(0, np.intp), [], [], is_upright=False).by == ()


def test_words_of_a_step():
    assert [side_of(deg) for deg in (0, 90, 180, 270)] == ["left", "above", "right", "below"]
    assert [block_letter(k) for k in (0, 25, 26, 27)] == ["A", "Z", "AA", "AB"]
