"""What on a tray is no sherd, and where sherds that touch are parted."""

import cv2
import numpy as np
import pytest

from motifs.errors import NoSherdFound
from motifs.imaging import read_tray
from motifs.imaging.splitting import MAY_BE_TWO, split_touching
from motifs.records import PhotoImage

CLAY, DARK = (150, 100, 70), (44, 42, 46)


def photo(rgb):
    blurred = cv2.GaussianBlur(rgb, (0, 0), 0.8)
    noisy = blurred + np.random.default_rng(4).normal(0, 1.2, blurred.shape)
    return PhotoImage(rgb=np.clip(noisy, 0, 255).astype(np.uint8), sha256="0" * 64, file_name="tray.png")


def backdrop(colour=DARK, size=(600, 800)):
    return np.full((*size, 3), colour, dtype=np.uint8)


def lay(rgb, corners, colour, turn_deg=0.0):
    middle = np.mean(corners, axis=0)
    angle = np.deg2rad(turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    points = (np.asarray(corners, float) - middle) @ turn.T + middle
    cv2.fillPoly(rgb, [np.rint(points * 16).astype(np.int32)], colour, cv2.LINE_AA, 4)


def box(left, top, width, height):
    return [(left, top), (left + width, top), (left + width, top + height), (left, top + height)]


SHERD = [(90, 120), (230, 90), (300, 210), (210, 330), (110, 260)]


@pytest.mark.parametrize("paper", [(236, 236, 232), (222, 234, 214), (244, 222, 200), (238, 220, 224)])
@pytest.mark.parametrize("turn_deg", [0, 8, 30])
def test_paper_labels_white_or_tinted_are_left_out(paper, turn_deg):
    rgb = backdrop()
    lay(rgb, SHERD, CLAY)
    lay(rgb, box(480, 250, 190, 90), paper, turn_deg)
    cv2.putText(rgb, "0012", (510, 305), cv2.FONT_HERSHEY_SIMPLEX, 1.0, (60, 60, 70), 2, cv2.LINE_AA)
    assert len(read_tray(photo(rgb)).sherds) == 1


def test_a_pale_broken_piece_is_no_label():
    rgb = backdrop()
    lay(rgb, SHERD, (228, 222, 208))
    assert len(read_tray(photo(rgb)).sherds) == 1


def test_a_ruler_and_the_edge_of_the_table_are_no_sherds():
    rgb = backdrop((150, 152, 150))
    lay(rgb, box(60, 480, 640, 50), (190, 150, 60), 3)
    rgb[:8, 100:500] = (40, 30, 24)
    with pytest.raises(NoSherdFound):
        read_tray(photo(rgb))
    lay(rgb, SHERD, CLAY)
    assert len(read_tray(photo(rgb)).sherds) == 1


def waisted(neck_px):
    """Two lobes 160 px across with a waist between them, (h, w) bool."""
    part = np.zeros((220, 420), dtype=np.uint8)
    cv2.fillPoly(
        part,
        [
            np.array(
                [
                    (20, 30),
                    (150, 30),
                    (210, 110 - neck_px // 2),
                    (270, 30),
                    (400, 30),
                    (400, 190),
                    (270, 190),
                    (210, 110 + neck_px // 2),
                    (150, 190),
                    (20, 190),
                ]
            )
        ],
        1,
    )
    return part > 0


def flat(part, lightness=55.0):
    return np.where(part[..., None], np.array([lightness, 10.0, 18.0]), np.array([90.0, 0.0, 0.0])).astype(np.float32)


def test_a_waist_without_a_contact_is_marked_and_with_one_is_cut():
    part = waisted(85)
    lab = flat(part)
    (whole,) = split_touching(part, lab)
    assert whole[1] == MAY_BE_TWO
    gap = lab.copy()
    gap[:, 209:212, 0] -= 15.0  # the shadow between two edges
    assert len(split_touching(part, gap)) == 2
    two_pastes = lab.copy()
    two_pastes[:, 210:] += np.array([14.0, 6.0, 0.0], dtype=np.float32)
    assert len(split_touching(part, two_pastes)) == 2


def test_a_thin_neck_is_cut_by_shape_alone():
    halves = split_touching(waisted(40))
    assert len(halves) == 2
    assert sum(int(mask.sum()) for mask, _ in halves) == pytest.approx(int(waisted(40).sum()), rel=0.01)


def test_lobes_that_share_a_corner_are_no_neck():
    """A concave piece with several maxima of depth, no waist anywhere: one sherd."""
    part = np.zeros((260, 360), dtype=np.uint8)
    cv2.fillPoly(part, [np.array([(20, 120), (120, 100), (150, 60), (260, 20), (340, 90), (250, 240), (110, 200)])], 1)
    assert len(split_touching(part > 0)) == 1


def test_nothing_and_one_pixel_are_one_piece_at_most():
    dot = np.zeros((3, 3), dtype=bool)
    dot[1, 1] = True
    assert len(split_touching(dot)) == 1
