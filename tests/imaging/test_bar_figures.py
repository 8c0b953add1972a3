"""Figures at the ends of a bar of five blocks: 5 cm from 10 cm, and what is said where none can be read."""

from dataclasses import replace

import numpy as np
import pytest

from motifs.imaging import read_tray
from motifs.imaging.bar_figures import length_by_figures
from motifs.imaging.references import FIVE_BLOCKS
from motifs.imaging.scale_bar import find_bar
from motifs.records import PhotoImage
from tests.imaging.trays import Recipe, make_tray

PLAIN = Recipe(seed=21, size_px=(1300, 900), px_per_mm=5.0, sherds=4, sherd_mm=30.0, backdrop="grey")


def figures_of(rgb):
    bar = find_bar(rgb, rgb)
    return length_by_figures(rgb, bar.corners_px, bar.block_px, bar.hidden_ends)


@pytest.mark.parametrize(
    ("design", "seed", "backdrop", "length_mm"),
    [
        ("row5", 21, "blue", 50.0),
        ("checker5", 22, "black", 50.0),
        ("row5", 23, "cloth", 50.0),
        ("row5x2", 21, "blue", 100.0),
        ("row5x2", 22, "black", 100.0),
        ("row5x2", 24, "white", 100.0),
    ],
)
def test_the_last_figure_tells_the_length(design, seed, backdrop, length_mm):
    rgb = make_tray(replace(PLAIN, bar=design, seed=seed, backdrop=backdrop)).rgb
    assert figures_of(rgb) == length_mm
    # Looked at from the other side of the table.
    assert figures_of(np.ascontiguousarray(rgb[::-1, ::-1])) == length_mm


def test_a_tray_with_two_centimetre_blocks_is_read_to_scale_without_its_length():
    tray = make_tray(replace(PLAIN, bar="row5x2"))
    reading = read_tray(PhotoImage(tray.rgb, "0" * 64, "tray.jpg"))
    assert reading.scale.px_per_mm == pytest.approx(5.0, rel=0.007)
    assert FIVE_BLOCKS not in reading.warnings


def test_without_figures_it_is_said_what_was_assumed():
    tray = make_tray(replace(PLAIN, bar="row5", figures=False))
    photo = PhotoImage(tray.rgb, "0" * 64, "tray.jpg")
    reading = read_tray(photo)
    assert reading.scale.px_per_mm == pytest.approx(5.0, rel=0.007)
    assert FIVE_BLOCKS in reading.warnings
    assert FIVE_BLOCKS not in read_tray(photo, bar_mm=50.0).warnings


def test_nothing_written_says_nothing():
    corners = np.array([(50, 50), (250, 50), (250, 90), (50, 90)], dtype=np.float32)
    assert length_by_figures(np.full((150, 300, 3), 120, np.uint8), corners, 40.0) is None
    noise = np.random.default_rng(1).integers(0, 256, (150, 300, 3), dtype=np.uint8)
    assert length_by_figures(noise, corners, 40.0) is None
