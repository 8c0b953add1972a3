"""Reading a tray: rendered trays with known truth, real photographs, and the hostile and empty cases."""

import contextlib
from dataclasses import replace

import cv2
import numpy as np
import pytest
import skimage.data
from skimage.color import rgb2lab

from motifs.errors import InputError, NoSherdFound
from motifs.imaging import cut_crop, outline_measures, read_photo, read_tray
from motifs.imaging.colour import linear_to_lab
from motifs.records import CROP_PX_PER_MM, PhotoImage
from tests.imaging.measuring import colour_differences, mark, photo_of, sherd_colours
from tests.imaging.trays import BACKDROPS, Recipe, encoded, linear, make_tray

SMALL = Recipe(seed=7, size_px=(1100, 800), px_per_mm=5.0, sherds=8, sherd_mm=32.0, bar="row5", label=True)


def photo(rgb, name="tray.png"):
    return PhotoImage(rgb=np.ascontiguousarray(rgb, dtype=np.uint8), sha256="0" * 64, file_name=name)


@pytest.mark.parametrize("backdrop", ["white", "grey", "black", "blue", "cloth"])
def test_every_sherd_is_found_and_nothing_else(backdrop):
    marks = mark(make_tray(replace(SMALL, backdrop=backdrop)))
    assert marks.f1 == 1.0
    assert np.mean([iou for *_, iou in marks.pairs]) > 0.96
    assert abs(marks.scale_error) < 0.007
    assert marks.reading.warnings == ()


def test_hard_shadows_stay_outside():
    marks = mark(make_tray(replace(SMALL, seed=9, shadow=0.9, falloff=0.5)))
    assert marks.f1 == 1.0
    assert min(iou for *_, iou in marks.pairs) > 0.93


def test_black_paint_on_black_and_white_slip_on_white_make_no_holes():
    for backdrop, slip in (("black", "black-on-white"), ("white", "dark")):
        marks = mark(make_tray(replace(SMALL, backdrop=backdrop, slip=slip, seed=12)))
        assert marks.f1 == 1.0
        assert np.mean([iou for *_, iou in marks.pairs]) > 0.95


def test_one_sherd_without_a_bar():
    marks = mark(make_tray(replace(SMALL, sherds=1, bar="none", label=False)))
    assert marks.f1 == 1.0
    assert marks.reading.scale is None
    assert any("scale" in text for text in marks.reading.warnings)
    measures = outline_measures(marks.reading.sherds[0].outline_px, marks.reading.scale)
    assert measures.area_mm2 is None
    assert measures.max_dimension_mm is None


def test_no_sherd_at_all():
    empty = make_tray(replace(SMALL, sherds=0, bar="none", label=False, dust=0, crumbs=0))
    with pytest.raises(NoSherdFound) as error:
        read_tray(photo_of(empty))
    assert "\n" not in str(error.value)
    assert "tray.jpg" in str(error.value)


def test_bar_and_label_alone_are_no_sherds():
    for backdrop in ("white", "grey", "black", "blue"):
        with pytest.raises(NoSherdFound):
            read_tray(photo_of(make_tray(replace(SMALL, backdrop=backdrop, sherds=0, dust=0, crumbs=0))))


def test_crumbs_are_counted_not_catalogued():
    marks = mark(make_tray(replace(SMALL, crumbs=3, dust=0, backdrop="grey", seed=3)))
    assert marks.f1 == 1.0
    assert marks.reading.crumbs == 3


def test_a_sherd_at_the_frame_is_marked():
    whole = photo_of(make_tray(replace(SMALL, seed=5, sherds=5)))
    first = min(read_tray(whole).sherds, key=lambda sherd: sherd.outline_px[:, 0].min()).outline_px
    cut = int(first[:, 0].mean())
    touching = [sherd for sherd in read_tray(photo(whole.rgb[:, cut:].copy())).sherds if sherd.touches_frame]
    assert len(touching) == 1
    assert "touches the frame" in touching[0].look
    assert touching[0].outline_px[:, 0].min() <= 1.0


def two_discs(gap, radius=60, size=(400, 520)):
    rgb = np.full((*size, 3), 225, dtype=np.uint8)
    for x in (260 - radius - gap / 2, 260 + radius + gap / 2):
        cv2.circle(rgb, (round(x), 200), radius, (150, 100, 70), -1, cv2.LINE_AA)
    return photo(cv2.GaussianBlur(rgb, (0, 0), 0.8))


def test_touching_sherds_are_split_at_a_narrow_neck():
    reading = read_tray(two_discs(gap=-6))
    assert len(reading.sherds) == 2
    for sherd in reading.sherds:
        assert sherd.area_px == pytest.approx(np.pi * 60**2, rel=0.04)


def test_a_wide_neck_is_left_and_marked_or_left():
    reading = read_tray(two_discs(gap=-50))
    assert len(reading.sherds) == 1


def test_outline_of_a_disc_is_true_to_a_fraction_of_a_pixel():
    """The area of a circle is pi r squared; half a pixel of error would be 1.7 % here."""
    rgb = np.full((300, 300, 3), 230.0, dtype=np.float32)
    disc = np.zeros((1200, 1200), dtype=np.uint8)
    cv2.circle(disc, (600, 600), 240, 255, -1)
    cover = cv2.resize(disc, (300, 300), interpolation=cv2.INTER_AREA)[..., None] / 255.0
    light = linear(rgb) * (1 - cover) + linear((150, 100, 70)) * cover
    reading = read_tray(photo(np.rint(encoded(light) * 255)))
    assert reading.sherds[0].area_px == pytest.approx(np.pi * 60**2, rel=0.01)
    measures = outline_measures(reading.sherds[0].outline_px, None)
    assert measures.max_dimension_px == pytest.approx(120, abs=0.8)


@pytest.mark.parametrize("value", [0.0, -3.0, float("nan"), float("inf")])
def test_a_typed_scale_that_is_no_length_is_refused(value):
    for name in ("px_per_mm", "bar_mm"):
        with pytest.raises(InputError) as error:
            read_tray(two_discs(gap=10), **{name: value})
        assert name in str(error.value)


def test_a_typed_scale_wins_over_the_bar():
    reading = read_tray(photo_of(make_tray(SMALL)), px_per_mm=4.0)
    assert reading.scale.px_per_mm == 4.0
    assert reading.scale.source == "typed"


def test_coloured_backdrop_without_reference_says_so():
    marks = mark(make_tray(replace(SMALL, backdrop="blue", bar="none", label=False, cast=0.0)))
    assert marks.reading.light.reference == "none"
    assert any("coloured" in text for text in marks.reading.warnings)


@pytest.mark.parametrize("backdrop", ["grey", "blue"])
def test_colour_of_the_same_sherds_agrees_in_two_lights(backdrop):
    recipe = replace(SMALL, backdrop=backdrop, cast=0.3, slip="none", quality=92)
    trays = [make_tray(replace(recipe, light_seed=seed)) for seed in (1, 2)]
    apart = [np.linalg.norm(rgb2lab(tray.rgb[::40, ::40] / 255.0).mean((0, 1))) for tray in trays]
    first, second = (sherd_colours(tray, mark(tray)) for tray in trays)
    assert len(first.keys() & second.keys()) >= 6
    assert np.median(colour_differences(first, second)) < 2.0
    assert abs(apart[0] - apart[1]) > 2.0  # the photographs themselves do differ


def test_light_brings_a_bar_backdrop_to_its_reflectance():
    """A grey card of sRGB 128 comes out as such within 3 units of L*, whatever the lamp: the bar's white says so."""
    reading = read_tray(photo_of(make_tray(replace(SMALL, backdrop="grey", cast=0.3))))
    true = linear_to_lab(linear(BACKDROPS["grey"])[None])[0]
    assert reading.light.reference == "bar"
    assert np.abs(np.array(reading.light.backdrop_lab) - true).max() < 3.0
    assert reading.light.residual_de < 2.0


def test_crop_is_at_fixed_scale_with_its_mask():
    tray = make_tray(SMALL)
    reading = read_tray(photo_of(tray))
    for sherd in reading.sherds:
        crop = cut_crop(photo_of(tray), reading.light, reading.scale, sherd.outline_px)
        assert crop.image.shape[:2] == crop.mask.shape
        assert crop.px_per_mm == CROP_PX_PER_MM
        assert crop.source_px_per_mm == pytest.approx(5.0, rel=0.007)
        area_mm2 = outline_measures(sherd.outline_px, reading.scale).area_mm2
        assert crop.mask.sum() / CROP_PX_PER_MM**2 == pytest.approx(area_mm2, rel=0.03)


def test_crop_without_scale_is_nominal():
    picture = two_discs(gap=20)
    reading = read_tray(picture)
    crop = cut_crop(picture, reading.light, None, reading.sherds[0].outline_px)
    assert not crop.is_scaled
    assert max(crop.mask.shape) == pytest.approx(50 * CROP_PX_PER_MM, rel=0.2)


def test_crop_outside_the_photograph_is_refused():
    picture = two_discs(gap=20)
    light = read_tray(picture).light
    with pytest.raises(ValueError, match="outside"):
        cut_crop(picture, light, None, [(9000, 9000), (9050, 9000), (9000, 9050)])


@pytest.mark.parametrize("shape", [(1, 1), (1, 50), (3, 3), (40, 2), (20, 20)])
@pytest.mark.parametrize("kind", ["black", "white", "noise"])
def test_tiny_and_empty_photographs_raise_only_photo_errors(shape, kind):
    rng = np.random.default_rng(0)
    rgb = {
        "black": np.zeros((*shape, 3)),
        "white": np.full((*shape, 3), 255),
        "noise": rng.integers(0, 256, (*shape, 3)),
    }
    try:
        read_tray(photo(rgb[kind]))
    except NoSherdFound as error:
        assert "\n" not in str(error)


def test_noise_is_read_without_a_crash():
    rgb = np.random.default_rng(1).integers(0, 256, (300, 400, 3))
    with contextlib.suppress(NoSherdFound):
        assert read_tray(photo(rgb)).light.gain.shape[2] == 3


def grey_to_rgb(image):
    return np.repeat(np.asarray(image, dtype=np.uint8)[..., None], 3, axis=2)


def test_the_24_coins_of_a_real_photograph():
    """scikit-image's `coins`: Greek coins from Pompeii (Brooklyn Museum), uneven light, grey; 24 by eye."""
    picture = photo(grey_to_rgb(skimage.data.coins()))
    reading = read_tray(picture)
    assert len(reading.sherds) == 24
    assert reading.scale is None
    widths = [outline_measures(sherd.outline_px, None).max_dimension_px for sherd in reading.sherds]
    assert min(widths) > 25
    assert max(widths) < 75


def test_a_real_silhouette():
    """scikit-image's `horse`: a black shape on white; its own pixels are the truth."""
    image = skimage.data.horse()
    reading = read_tray(photo(grey_to_rgb(image * 255)))
    assert len(reading.sherds) == 1
    drawn = np.zeros(image.shape, dtype=np.uint8)
    cv2.fillPoly(drawn, [np.rint(reading.sherds[0].outline_px).astype(np.int32)], 1)
    dark = ~image
    assert (dark & (drawn > 0)).sum() / (dark | (drawn > 0)).sum() > 0.9


@pytest.mark.parametrize("name", ["coffee", "chelsea", "rocket", "brick", "gravel", "page"])
def test_photographs_that_are_no_trays_do_not_crash(name):
    image = getattr(skimage.data, name)()
    image = image if image.ndim == 3 else grey_to_rgb(image)
    try:
        reading = read_tray(photo(image[..., :3]))
    except NoSherdFound:
        return
    assert reading.scale is None  # none of them shows a bar


def test_the_same_photograph_reads_the_same_twice_and_through_a_file(tmp_path):
    tray = make_tray(SMALL)
    path = tmp_path / "tray.jpg"
    path.write_bytes(tray.jpeg())
    first, second = read_tray(read_photo(path)), read_tray(read_photo(path))
    assert len(first.sherds) == len(second.sherds) == len(tray.masks)
    for a, b in zip(first.sherds, second.sherds, strict=True):
        assert np.array_equal(a.outline_px, b.outline_px)
