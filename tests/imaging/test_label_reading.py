"""Numbers on slips and sherds: read right way up, kept as text, given to the nearest sherd."""

import subprocess
import sys

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from motifs.imaging.label_reading import ReadText, as_number, label_sherds, read_texts
from motifs.records import PhotoImage
from tests.imaging.slips import FONTS, numbered_tray


def square(x, y, side=100):
    return np.array([[x, y], [x + side, y], [x + side, y + side], [x, y + side]], np.float32)


def text(words, x, y, *, wide=60, high=20):
    return ReadText(words, 0.9, None, np.array([[x, y], [x + wide, y], [x + wide, y + high], [x, y + high]], float))


@pytest.mark.parametrize(
    ("changes", "right"),
    [({"turn_deg": 180.0, "bar": True}, 8), ({"inked": True, "text_px": 26, "turn_deg": 180.0}, 8)],
)
def test_numbers_of_a_tray(changes, right):
    """Rendered in six type faces at any angle; at least eight of nine right, and nothing from the scale bar."""
    tray = numbered_tray(3, **changes)
    found = label_sherds(read_texts(tray.photo), tray.outlines)
    read = {one.sherd: one.read for one in found}
    assert sum(one.text == tray.numbers[place] for place, one in read.items()) >= right
    assert all(one.is_inked == bool(changes.get("inked")) for one in found)
    assert all(one.text not in "012345" for one in read.values())


@pytest.mark.parametrize(("number", "other"), [("6886", "9889"), ("9608", "8096"), ("B-03-17", None)])
def test_a_number_that_reads_both_ways_up_is_told(number, other):
    image = Image.new("RGB", (500, 260), (120, 130, 140))
    pen = ImageDraw.Draw(image)
    pen.rectangle((120, 90, 380, 170), fill=(246, 245, 238))
    pen.text((250, 130), number, (25, 25, 35), ImageFont.truetype(FONTS / "DejaVuSans.ttf", 44), anchor="mm")
    (read,) = read_texts(PhotoImage(np.asarray(image), "0" * 64, "slip.png"))
    assert (read.text, read.rival) == (number, other)


def test_a_blank_photograph_has_no_text():
    blank = PhotoImage(np.full((300, 400, 3), 140, np.uint8), "0" * 64, "blank.png")
    assert read_texts(blank) == ()


@pytest.mark.parametrize("typed", ["0012", "11-4", "1E5", "3/12", "2026.014.0037a", "10-P-1", "00123", "OT 12-4"])
def test_text_stays_text(typed):
    assert as_number(typed) == typed


@pytest.mark.parametrize(
    ("read", "number"),
    [
        ("１１－４", "11-4"),
        ("11–4", "11-4"),
        (" 0012. ", "0012"),
        ("B—03—1", "B-03-1"),
        ("O012", "O012"),
        ("2026 . 14 . 37", "2026.14.37"),
    ],
)
def test_plain_signs(read, number):
    assert as_number(read) == number


@pytest.mark.parametrize(
    "read", ["", "cm", "5 cm", "10cm", "Kestrel Ford", "0 1 2 3", "12:30", "标签12", "-", "x" * 40 + "1"]
)
def test_what_is_no_number(read):
    assert as_number(read) is None


def test_slips_are_shared_out_one_to_one():
    outlines = [square(0, 0), square(200, 0), square(400, 0)]
    texts = [text("1", 20, 110), text("2", 250, 112), text("3", 415, 108)]
    found = label_sherds(texts, outlines)
    assert [(one.sherd, one.read.text, one.is_inked, one.is_clear) for one in found] == [
        (0, "1", False, True),
        (1, "2", False, True),
        (2, "3", False, True),
    ]


def test_a_slip_between_two_sherds_is_unclear_and_one_far_away_is_nobodys():
    outlines = [square(0, 0), square(200, 0)]
    between, far = text("7", 120, 40), text("8", 900, 900)
    (found,) = label_sherds([between, far], outlines)
    assert (found.read.text, found.is_clear) == ("7", False)


def test_ink_goes_before_paper():
    (found,) = label_sherds([text("paper", 20, 105), text("ink", 20, 40)], [square(0, 0)])
    assert (found.read.text, found.is_inked) == ("ink", True)
    assert label_sherds([text("paper", 20, 105)], [square(0, 0)], with_slips=False) == ()


def test_nothing_to_give():
    assert label_sherds([], [square(0, 0)]) == label_sherds([text("1", 0, 0)], []) == ()


def test_the_reader_loads_only_when_something_is_read():
    code = "import sys, motifs.imaging.label_reading, motifs.workflows.intake; print('rapidocr_onnxruntime' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
