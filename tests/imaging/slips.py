"""Trays with numbered sherds: paper slips in several faces beside them, turned anyhow, or numbers inked on the sherds."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import matplotlib
import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

from motifs.records import PhotoImage

FONTS = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
FACES = ("DejaVuSans", "DejaVuSerif", "DejaVuSansMono", "DejaVuSans-Bold", "DejaVuSerif-Italic", "STIXGeneral")
PREFIXES = ("B-03-", "OT 12-", "2026.14.", "K", "", "11-", "7/")


@dataclass(frozen=True, slots=True)
class NumberedTray:
    """A photograph, the outline of every sherd, and its number."""

    photo: PhotoImage
    outlines: tuple[np.ndarray, ...]
    numbers: tuple[str, ...]


def numbered_tray(
    seed: int, *, inked: bool = False, turn_deg: float = 20.0, text_px: int = 30, sherds: int = 9, bar: bool = False
) -> NumberedTray:
    """Draw a tray of up to 12 sherds. text_px: height of the type, px; turn_deg: slips lie up to so far from level."""
    rng = np.random.default_rng([7, seed])
    image = Image.new("RGB", (1720, 1300), tuple(int(v) for v in rng.integers(90, 190, 3)))
    outlines, numbers = [], []
    for place in range(sherds):
        centre = np.array([230 + 420 * (place % 4), 190 + 400 * (place // 4)]) + rng.uniform(-12, 12, 2)
        outlines.append(_sherd(image, centre, rng))
        numbers.append(_number(rng, numbers))
        at = centre if inked else centre + np.array([rng.uniform(-25, 25), 165])
        _write(image, numbers[-1], at, rng, inked=inked, turn_deg=turn_deg, text_px=text_px)
    if bar:
        _bar(image)
    pixels = np.asarray(image.filter(ImageFilter.GaussianBlur(0.9)), float) + rng.normal(0, 3, (1300, 1720, 3))
    photo = PhotoImage(np.clip(np.rint(pixels), 0, 255).astype(np.uint8), "0" * 64, "tray.jpg")
    return NumberedTray(photo, tuple(outlines), tuple(numbers))


def _sherd(image: Image.Image, centre: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    angles = np.sort(rng.uniform(0, 2 * np.pi, 12))
    outline = centre + (110 * rng.uniform(0.85, 1.0, 12))[:, None] * np.column_stack([np.cos(angles), np.sin(angles)])
    paste = tuple(int(v) for v in np.array([200, 160, 120]) + rng.integers(-25, 25, 3))
    ImageDraw.Draw(image).polygon([tuple(corner) for corner in outline], fill=paste)
    return outline.astype(np.float32)


def _number(rng: np.random.Generator, taken: list[str]) -> str:
    while True:
        prefix = PREFIXES[int(rng.integers(len(PREFIXES)))]
        number = prefix + str(int(rng.integers(1, 10000))).zfill(int(rng.integers(1, 5)))
        if number not in taken and len(number) >= 2:
            return number


def _write(
    image: Image.Image,
    text: str,
    at: np.ndarray,
    rng: np.random.Generator,
    *,
    inked: bool,
    turn_deg: float,
    text_px: int,
) -> None:
    font = ImageFont.truetype(FONTS / f"{FACES[int(rng.integers(len(FACES)))]}.ttf", text_px)
    size = (int(font.getlength(text)) + text_px, round(1.9 * text_px))
    paper = (0, 0, 0, 0) if inked else (*(int(v) for v in rng.integers(232, 252, 3)), 255)
    ink = (30, 25, 30, 255) if rng.random() < 0.7 else (40, 45, 110, 255)
    slip = Image.new("RGBA", size, paper)
    ImageDraw.Draw(slip).text((size[0] / 2, size[1] / 2), text, ink, font, anchor="mm")
    slip = slip.rotate(float(rng.uniform(-turn_deg, turn_deg)), Image.Resampling.BICUBIC, expand=True)
    image.paste(slip, (round(at[0] - slip.width / 2), round(at[1] - slip.height / 2)), slip)


def _bar(image: Image.Image) -> None:
    pen, font = ImageDraw.Draw(image), ImageFont.truetype(FONTS / "DejaVuSans.ttf", 22)
    pen.rectangle((900, 1170, 1560, 1250), fill=(245, 245, 245))
    for block in range(5):
        pen.rectangle(
            (930 + 120 * block, 1180, 1050 + 120 * block, 1205), fill=(15, 15, 15) if block % 2 == 0 else (240,) * 3
        )
        pen.text((930 + 120 * block, 1225), str(block), (20, 20, 20), font, anchor="mm")
    pen.text((1530, 1225), "5", (20, 20, 20), font, anchor="mm")
