"""The scale bar: designs, angles, backdrops, its uncertainty, and what is not a bar."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from motifs.imaging.scale_bar import ScaleBar, find_bar, scale_of_bar
from tests.imaging.trays import Recipe, make_tray

PLAIN = Recipe(seed=21, size_px=(1300, 900), px_per_mm=6.0, sherds=4, sherd_mm=30.0, label=True)


def read(recipe, bar_mm=None):
    rgb = make_tray(recipe).rgb
    bar = find_bar(rgb, rgb)
    return None if bar is None else scale_of_bar(bar, bar_mm)


@pytest.mark.parametrize("design", ["row5", "row10", "checker10", "checker5", "half10", "halfchecker10"])
@pytest.mark.parametrize(("backdrop", "outlined"), [("white", False), ("black", False), ("blue", True)])
def test_every_design_is_read_within_the_target(design, backdrop, outlined):
    scale, warning = read(replace(PLAIN, bar=design, backdrop=backdrop, outline_bar=outlined))
    assert scale.px_per_mm == pytest.approx(6.0, rel=0.007)
    assert scale.source == "bar"
    assert 0 < scale.relative_sd < 0.02
    assert warning is None


def drawn_bar(angle_deg, blocks=10, block_px=40.0, size=(900, 900)):
    """A bar drawn here at four times the size, so that its edges are anti-aliased."""
    big = np.full((size[0] * 4, size[1] * 4, 3), 118, dtype=np.uint8)
    turn = np.deg2rad(angle_deg)
    along, across = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    start = np.array(size[::-1]) / 2 - along * blocks * block_px / 2 - across * block_px / 2
    for k in range(blocks):
        corner = start + k * block_px * along
        quad = np.array(
            [corner, corner + block_px * along, corner + block_px * (along + across), corner + block_px * across]
        )
        cv2.fillPoly(big, [np.rint(quad * 4 * 16).astype(np.int32)], (235,) * 3 if k % 2 else (25,) * 3, cv2.LINE_8, 4)
    return cv2.resize(big, size[::-1], interpolation=cv2.INTER_AREA)


@pytest.mark.parametrize("angle", [0, 7, 30, 45, 61, 90, 133, 180])
def test_any_angle(angle):
    rgb = drawn_bar(angle)
    bar = find_bar(rgb, rgb)
    assert bar.block_px == pytest.approx(40.0, rel=0.002)
    assert bar.blocks == 10


def test_corners_enclose_the_blocks():
    bar = find_bar(drawn_bar(30), drawn_bar(30))
    assert cv2.contourArea(bar.corners_px) == pytest.approx(400 * 40, rel=0.06)


def test_two_centimetre_blocks_need_the_length():
    recipe = replace(PLAIN, bar="row5x2", backdrop="grey", px_per_mm=6.0)
    scale, warning = read(recipe, bar_mm=100.0)
    assert scale.px_per_mm == pytest.approx(6.0, rel=0.007)
    assert warning is None


def bar_of(blocks, hidden=0):
    corners = np.zeros((4, 2), dtype=np.float32)
    return ScaleBar(corners, 0.01, 50.0, 0.05, blocks, hidden, None, (0.0, 0.0))


@pytest.mark.parametrize(
    ("blocks", "hidden", "bar_mm", "px_per_mm", "warns"),
    [
        (10, 0, None, 5.0, False),
        (5, 0, None, 5.0, False),
        (20, 0, None, 10.0, False),
        (9, 1, None, 5.0, False),
        (7, 0, None, 5.0, True),
        (16, 0, None, 10.0, True),
        (10, 0, 50.0, 10.0, False),
        (5, 0, 100.0, 2.5, False),
        (3, 2, 100.0, 2.5, False),
        (7, 0, 100.0, 5.0, True),
    ],
)
def test_what_a_block_is(blocks, hidden, bar_mm, px_per_mm, warns):
    scale, warning = scale_of_bar(bar_of(blocks, hidden), bar_mm)
    assert scale.px_per_mm == pytest.approx(px_per_mm)
    assert (warning is not None) == warns


def test_a_painted_checkerboard_is_no_bar():
    rgb = np.full((600, 600, 3), 200, dtype=np.uint8)
    for row in range(8):
        for column in range(8):
            tone = 30 if (row + column) % 2 else 235
            rgb[100 + 40 * row : 140 + 40 * row, 100 + 40 * column : 140 + 40 * column] = tone
    assert find_bar(rgb, rgb) is None


def test_nothing_is_no_bar():
    for tone in (0, 128, 255):
        flat = np.full((60, 80, 3), tone, dtype=np.uint8)
        assert find_bar(flat, flat) is None


def test_clipped_whites_give_no_light():
    rgb = drawn_bar(0)
    rgb = np.where(rgb > 200, 255, rgb).astype(np.uint8)
    assert find_bar(rgb, rgb).white is None
    assert find_bar(drawn_bar(0), drawn_bar(0)).white is not None


@pytest.mark.parametrize("angle", [0, 20, 45])
def test_a_row_of_painted_dots_is_no_bar(angle):
    """Three to six even dots along the edge of a sherd have the pitch of a bar, but round corners."""
    big = np.full((2400, 2400, 3), 120, dtype=np.uint8)
    turn = np.deg2rad(angle)
    along, across = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    middle = np.array([1200.0, 1200.0])
    quad = np.array([middle + a * along + b * across for a, b in ((-900, -300), (900, -300), (900, 300), (-900, 300))])
    cv2.fillPoly(big, [np.rint(quad).astype(np.int32)], (215, 180, 170))
    for k in range(-2, 3):
        centre = np.rint(middle + 330 * k * along).astype(int)
        cv2.circle(big, (int(centre[0]), int(centre[1])), 82, (40, 30, 30), -1, cv2.LINE_AA)
    rgb = cv2.resize(big, (800, 800), interpolation=cv2.INTER_AREA)
    assert find_bar(rgb, rgb) is None
