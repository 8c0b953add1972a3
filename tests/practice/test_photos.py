import cv2
import numpy as np
import pytest

from motifs.practice import BACKDROPS, BAR_DESIGNS, Lens, Light, photograph
from motifs.practice.sherds import flat_outline

EVEN = Light(0.0, 55.0, 0.6, 0.5, (1.0, 1.0, 1.0), 0.95, 1.0, 0.0, 0.0)
SHARP = Lens(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 95)
TILTED = Lens(0.3, 0.002, 0.001, 0.02, -0.015, 0.0, 95)


def filled(outline, shape):
    """Return the pixels whose centre lies inside an outline; OpenCV's own fill is half a pixel fat, so eightfold."""
    low = np.floor(outline.min(axis=0)).astype(int) - 1
    size = np.ceil(outline.max(axis=0)).astype(int) + 2 - low
    big = np.zeros((size[1] * 8, size[0] * 8), np.uint8)
    cv2.fillPoly(big, [np.round(((outline - low + 0.5) * 8 - 0.5) * 16).astype(np.int32)], 255, cv2.LINE_8, 4)
    small = cv2.resize(big, (int(size[0]), int(size[1])), interpolation=cv2.INTER_AREA) > 127
    mask = np.zeros((shape[0] + 400, shape[1] + 400), bool)
    mask[low[1] + 200 : low[1] + 200 + size[1], low[0] + 200 : low[0] + 200 + size[0]] = small
    return mask[200:-200, 200:-200]


def test_a_photograph_follows_from_its_seed(pot, fragments, photo):
    pieces = [(pot, one) for one in fragments if one.area_mm2 > 220.0]
    again = photograph(pieces, 5, px_per_mm=5.0, bar_mm=50.0, bar_design="row", backdrop="grey", labels=True)
    assert np.array_equal(photo.rgb, again.rgb)
    assert np.array_equal(photo.labels, again.labels)


def test_outlines_match_the_masks_and_nothing_overlaps(photo):
    taken = np.zeros(photo.labels.shape, bool)
    for sherd in photo.sherds:
        drawn = filled(sherd.outline_px, photo.labels.shape)
        seen = photo.mask(sherd.number)
        assert (drawn & seen).sum() / (drawn | seen).sum() > 0.985
        assert not (taken & seen).any()
        taken |= seen
        assert sherd.outline_px.dtype == np.float32
    for outline in (*photo.labels_px, photo.bar_px):
        assert not (filled(outline, photo.labels.shape) & taken).any()
    assert sorted(set(np.unique(photo.labels)) - {0}) == [one.number for one in photo.sherds]


def test_outlines_match_under_perspective_too(pot, fragments):
    tilted = photograph([(pot, one) for one in fragments[:5]], 8, px_per_mm=5.0, lens=TILTED)
    for sherd in tilted.sherds:
        drawn, seen = filled(sherd.outline_px, tilted.labels.shape), tilted.mask(sherd.number)
        assert (drawn & seen).sum() / (drawn | seen).sum() > 0.98


@pytest.mark.parametrize("design", BAR_DESIGNS)
@pytest.mark.parametrize("bar_mm", [50.0, 100.0])
def test_the_bar_has_its_length_and_its_blocks(pot, fragments, design, bar_mm):
    one = photograph(
        [(pot, fragments[0])], 3, px_per_mm=5.0, bar_mm=bar_mm, bar_design=design, light=EVEN, lens=SHARP, labels=False
    )
    a, b, _, d = one.bar_px.astype(np.float64)
    margin = 0.0 if "card" not in design else None
    if margin == 0.0:
        assert np.hypot(*(b - a)) * one.mm_per_px == pytest.approx(bar_mm, rel=0.004)
    along, down = (b - a) / np.hypot(*(b - a)), (d - a) / np.hypot(*(d - a))
    # Read the tone along the upper row of blocks and count its changes: one between every two blocks.
    margins_px = (np.hypot(*(b - a)) - bar_mm / one.mm_per_px) / 2
    at = a + down * (margins_px + 1.2 / one.mm_per_px)
    places = [at + along * (margins_px + (k + 0.5) * 10.0 / one.mm_per_px) for k in range(int(bar_mm / 10))]
    grey = one.rgb.mean(axis=2)
    tones = np.array([grey[round(p[1]), round(p[0])] for p in places])
    assert (tones[::2] < 70).all()
    assert (tones[1::2] > 150).all()


def test_a_sherd_keeps_its_size(pot, fragments):
    whole = [one for one in fragments if one.area_mm2 > 300][:6]
    flat = photograph([(pot, one) for one in whole], 4, px_per_mm=6.0, lens=SHARP, light=EVEN)
    for fragment, sherd in zip(whole, flat.sherds, strict=True):
        outline, _ = flat_outline(pot.form, fragment)
        expected = cv2.contourArea(outline.astype(np.float32))
        seen = flat.mask(sherd.number).sum() * flat.mm_per_px**2
        assert 0.8 * expected < seen < 1.02 * expected


def test_light_multiplies_everything_in_the_photograph(pot, fragments):
    def shot(cast):
        light = Light(0.0, 55.0, 0.6, 0.5, cast, 0.6, 1.0, 0.0, 0.0)
        one = photograph([(pot, fragments[0])], 6, px_per_mm=4.0, light=light, lens=SHARP, backdrop="grey", bar_mm=50.0)
        return (one.rgb / 255.0) ** 2.2

    plain, warm = shot((1.0, 1.0, 1.0)), shot((1.3, 1.0, 0.75))
    bright = (plain > 0.03).all(axis=2) & (warm > 0.03).all(axis=2) & (warm < 0.9).all(axis=2)
    ratio = warm[bright] / plain[bright]
    # 2.2 stands for the sRGB curve here, so a few per cent are left over.
    assert np.median(ratio, axis=0) == pytest.approx([1.3, 1.0, 0.75], rel=0.05)
    assert np.percentile(ratio, [5, 95], axis=0)[:, 0] == pytest.approx([1.3, 1.3], rel=0.12)


def test_relief_is_shaded_by_the_light_and_turns_with_it():
    from motifs.practice import break_pot, paint_pot

    cut = paint_pot(12, technique="grooved", families=["dots-large"], px_per_mm=4.0, girth_mm=260.0, height_mm=90.0)
    piece = max(break_pot(cut, 1, pieces=12), key=lambda one: one.area_mm2)

    def shot(azimuth):
        light = Light(azimuth, 40.0, 0.3, 0.5, (1.0, 1.0, 1.0), 0.8, 1.0, 0.0, 0.0)
        one = photograph([(cut, piece)], 9, px_per_mm=5.0, light=light, lens=SHARP, labels=False, bar_mm=0.0)
        inside = cv2.erode(one.mask(1).astype(np.uint8), np.ones((15, 15))).astype(bool)
        tone = one.rgb.mean(axis=2)
        return (tone - cv2.GaussianBlur(tone, (0, 0), 8))[inside]

    assert np.corrcoef(shot(0.0), shot(180.0))[0, 1] < 0.3
    assert np.corrcoef(shot(0.0), shot(10.0))[0, 1] > 0.8


@pytest.mark.parametrize("backdrop", list(BACKDROPS))
def test_an_empty_tray_has_its_backdrop(backdrop):
    empty = photograph([], 2, px_per_mm=4.0, backdrop=backdrop, bar_mm=0.0, light=EVEN, lens=SHARP)
    assert empty.sherds == ()
    assert empty.bar_px is None
    assert not empty.labels.any()
    assert np.abs(np.median(empty.rgb, axis=(0, 1)) - BACKDROPS[backdrop]).max() < 14


def test_families_on_a_sherd_are_shares(photo, pot):
    names = {one.name for one in pot.families}
    for sherd in photo.sherds:
        assert set(sherd.families) <= names
        assert sum(sherd.families.values()) <= 1.0 + 1e-6
        assert 0.0 <= sherd.decorated <= 1.0
    assert any(sherd.families for sherd in photo.sherds)


def test_sixty_sherds_find_room(pot, fragments):
    small = [(pot, fragments[k % len(fragments)]) for k in range(60)]
    full = photograph(small, 1, px_per_mm=2.0, labels=False)
    assert len(full.sherds) == 60
    assert len(np.unique(full.labels)) == 61
