"""The photo mat: the sheet as printed, and photographs of it at slants, through lenses, in coloured light, half covered."""

import re
from dataclasses import replace
from functools import lru_cache

import cv2
import numpy as np
import pytest
from shapely.geometry import Polygon

from motifs.errors import UnknownName
from motifs.imaging import outline_measures, read_tray
from motifs.imaging.mat_design import MATS, mat_design
from motifs.imaging.mat_page import mat_pdf
from motifs.imaging.mat_reading import find_mat
from motifs.imaging.plane import plane_mm
from motifs.imaging.standpoint import height_note, height_warning, standpoint
from motifs.records import PhotoImage
from tests.imaging.mats import Shot, draw_page, shoot

SHOT = Shot(size_px=(1600, 1200), sherds=4)


@lru_cache(maxsize=8)
def seen(**changes):
    return shoot(replace(SHOT, **changes))


def photo_of(shot, focal_px=None):
    return PhotoImage(shot.rgb, "0" * 64, "mat.jpg", focal_px)


def length_errors(shot, mat):
    """Relative errors of lengths over 20 mm between places all over the field, seen by OpenCV's camera."""
    rng, zone = np.random.default_rng(0), mat.design.field
    ends = rng.uniform([zone.x, zone.y], [zone.x + zone.width, zone.y + zone.height], (2, 400, 2))
    true = np.hypot(*(ends[0] - ends[1]).T)
    found = np.hypot(*(plane_mm(mat.plane, shot.to_px(ends[0])) - plane_mm(mat.plane, shot.to_px(ends[1]))).T)
    return np.abs(found / true - 1)[true > 20]


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"tilt_deg": 30.0},
        {"tilt_deg": 30.0, "k1": -0.1, "focal_share": 0.8, "toward_deg": 200.0},
        {"tilt_deg": 25.0, "k1": 0.06, "mat": "A3", "toward_deg": 20.0},
        {"tilt_deg": 20.0, "hand": True},
        {"tilt_deg": 25.0, "size_px": (1000, 750), "blur_px": 1.0, "quality": 75},
    ],
)
def test_lengths_are_right_within_half_a_per_cent_at_up_to_thirty_degrees(changes):
    shot = seen(**changes)
    mat = find_mat(shot.rgb, shot.rgb, shot.rgb)
    errors = length_errors(shot, mat)
    assert np.percentile(errors, 95) < 0.005
    assert np.median(errors) < 3 * mat.relative_sd
    assert mat.design.name == changes.get("mat", "A4")


def test_lot_and_site_are_read_at_a_slant():
    mat = find_mat(*[seen(tilt_deg=30.0).rgb] * 3)
    assert (mat.lot, mat.site) == ("K-12", "Kestrel Ford")


def test_the_sherds_and_nothing_of_the_print_are_found():
    shot = seen(tilt_deg=30.0)
    reading = read_tray(photo_of(shot))
    assert reading.scale.source == "mat"
    assert reading.light.reference == "mat"
    assert reading.light.reference_de < 2.0
    assert len(reading.sherds) == len(shot.outlines_mm)
    assert reading.crumbs == 0
    for outline, true_mm in zip(shot.outlines_px, shot.outlines_mm, strict=True):
        true = Polygon(outline).buffer(0)
        overlaps = [true.intersection(Polygon(s.outline_px).buffer(0)).area / true.area for s in reading.sherds]
        found = reading.sherds[int(np.argmax(overlaps))]
        assert max(overlaps) > 0.95
        measures = outline_measures(found.outline_px, reading.scale)
        assert measures.area_mm2 == pytest.approx(Polygon(true_mm).buffer(0).area, rel=0.05)


def test_what_reaches_over_the_mat_is_marked():
    shot = seen(tilt_deg=20.0, hand=True)
    looks = [sherd.look for sherd in read_tray(photo_of(shot)).sherds]
    assert sum("over the edge of the mat" in (look or "") for look in looks) == 1
    assert len(looks) == len(shot.outlines_mm) + 1


def test_the_same_sherds_in_two_lights_on_the_mat():
    from skimage.color import deltaE_ciede2000, rgb2lab

    from motifs.imaging import cut_crop
    from tests.imaging.shapes import encoded, linear

    def colours(shot):
        photo, found = photo_of(shot), {}
        reading = read_tray(photo)
        for sherd in reading.sherds:
            crop = cut_crop(photo, reading.light, reading.scale, sherd.outline_px)
            inner = cv2.erode(crop.mask.astype(np.uint8), np.ones((15, 15), np.uint8)) > 0
            at = plane_mm(reading.scale.plane, sherd.outline_px).mean(axis=0)
            nearest = int(np.argmin([np.hypot(*(outline.mean(0) - at)) for outline in shot.outlines_mm]))
            mean = encoded(linear(crop.image[inner]).mean(axis=0))
            found[nearest] = rgb2lab(mean[None, None])[0, 0]
        return found

    day = colours(seen(tilt_deg=10.0, exposure=0.95))
    lamp = colours(seen(tilt_deg=25.0, cast=(1.0, 0.76, 0.5), exposure=0.7, falloff=0.6))
    assert day.keys() == lamp.keys()
    assert np.median([deltaE_ciede2000(day[key], lamp[key]) for key in day]) < 2.0


def test_no_mat_no_reading():
    flat = np.full((300, 400, 3), 180, np.uint8)
    assert find_mat(flat, flat, flat) is None
    page = np.repeat(draw_page(mat_design("A4"), None, None)[::4, ::4, None], 3, axis=2)
    few = np.full_like(page, 255)
    few[: page.shape[0] // 3, : page.shape[1] // 3] = page[: page.shape[0] // 3, : page.shape[1] // 3]
    assert find_mat(few, few, few) is None  # two markers are not enough


def test_a_mat_without_lot_says_none():
    page = np.repeat(draw_page(mat_design("A4"), None, None)[::2, ::2, None], 3, axis=2)
    mat = find_mat(page, page, page)
    assert (mat.lot, mat.site) == (None, None)
    assert mat.plane.k1 == pytest.approx(0.0, abs=0.01)


def test_sizes_are_those_of_iso_216():
    assert {design.name: (design.width, design.height) for design in MATS} == {"A4": (297, 210), "A3": (420, 297)}
    assert mat_design(" a3 ").name == "A3"
    with pytest.raises(UnknownName, match="A4, A3"):
        mat_design("letter")


@pytest.mark.parametrize("design", MATS, ids=lambda design: design.name)
def test_nothing_is_printed_over_anything_else(design):
    boxes = (
        [marker.box for marker in design.markers] + [patch.box for patch in design.patches] + [design.bar, design.code]
    )
    shapes = [Polygon(box.corners()) for box in boxes]
    page = Polygon([(5, 5), (design.width - 5, 5), (design.width - 5, design.height - 5), (5, design.height - 5)])
    assert all(page.contains(shape) for shape in shapes)
    assert max(a.intersection(b).area for i, a in enumerate(shapes) for b in shapes[:i]) < 1e-9
    quiet = [Polygon(marker.box.grown(2.0).corners()) for marker in design.markers]
    others = [Polygon(box.corners()) for box in boxes[len(design.markers) :]]
    assert not any(a.intersects(b) for a in quiet for b in others)
    assert len({marker.number for marker in MATS[0].markers + MATS[1].markers}) == 15 + 19


def test_the_pdf_is_at_true_size_with_its_letters_in_it():
    """1 point is 1/72 inch (ISO 32000-1): an A4 page is 841.89 by 595.28 points; letters are embedded as FontFile2."""
    content = mat_pdf(mat_design("A4"), lot="Ξ-12", site="Жаворонок")
    box = re.search(rb"/MediaBox \[ ?([\d. ]+)\]", content).group(1).split()
    assert [float(value) for value in box] == pytest.approx([0, 0, 841.89, 595.28], abs=0.01)
    assert b"/FontFile2" in content
    assert b"/PrintScaling /None" in content
    assert content == mat_pdf(mat_design("A4"), lot="Ξ-12", site="Жаворонок")


def test_the_pdf_rasterised_is_read_as_the_page_it_is():
    import pypdfium2 as pdfium
    design = mat_design("A4")
    page = pdfium.PdfDocument(mat_pdf(design, lot="11-4", site="Kestrel Ford"))[0]
    rgb = np.ascontiguousarray(np.asarray(page.render(scale=6 * 25.4 / 72).to_pil().convert("RGB")))
    mat = find_mat(rgb, rgb, rgb)
    assert (mat.lot, mat.site, len(mat.seen)) == ("11-4", "Kestrel Ford", len(design.markers))
    ends = np.array([(design.bar.x, design.bar.y), (design.bar.x + design.bar.width, design.bar.y)]) * 6 - 0.5
    assert np.hypot(*np.diff(plane_mm(mat.plane, ends), axis=0)[0]) == pytest.approx(100.0, abs=0.1)


def test_where_the_camera_stood():
    shot = seen(tilt_deg=30.0)
    mat = find_mat(shot.rgb, shot.rgb, shot.rgb)
    middle = np.array([mat.design.width / 2, mat.design.height / 2])
    for focal in (shot.focal_px, None):
        stand = standpoint(mat.plane, middle, focal)
        assert stand.tilt_deg == pytest.approx(30.0, abs=1.5)
        near, far = shot.to_px([middle]), shot.to_px([middle], height_mm=10.0)
        assert np.isfinite(near).all()
        assert np.isfinite(far).all()
    flat = seen()
    level = find_mat(flat.rgb, flat.rgb, flat.rgb).plane
    assert standpoint(level, middle, None).distance_mm is None
    sideways = np.array([50.0, 0.0])
    side = flat.to_px([middle - sideways, middle + sideways], height_mm=10.0)
    raised = np.hypot(*np.diff(plane_mm(level, side), axis=0)[0]) / 100.0 - 1.0
    assert 10.0 / standpoint(level, middle, flat.focal_px).distance_mm == pytest.approx(raised, rel=0.1)


def test_height_is_put_in_words_with_figures():
    """10 mm at 600 mm is 1.7 %, at 1200 mm 0.8 % (dz / Z)."""
    assert "1.7 % from 600 mm" in height_note()
    assert "0.8 % from 1200 mm" in height_note()
    assert "1.7 %" in height_warning(600.0)
    assert height_warning(1200.0) is None
    assert height_warning(None) is None
