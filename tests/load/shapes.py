"""Four drawn trays of sixteen sherds each, and their crops: what a made collection shows, over and over."""

from __future__ import annotations

import io
import zlib
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw

from motifs.catalogue import derived_files
from motifs.imaging import cut_crop, outline_measures
from motifs.records import LightField, PhotoImage, Scale
from motifs.workflows.pictures import THUMBNAIL_PX_PER_MM, WEBP_QUALITY

if TYPE_CHECKING:
    from numpy.typing import NDArray

TRAYS, ACROSS, DOWN = 4, 4, 4
PER_TRAY = ACROSS * DOWN
WIDTH_PX, HEIGHT_PX = 2000, 1600
PX_PER_MM = 10.0
CORNERS = 600
"""Corners of an outline, as intake finds them on a photograph of this size."""
PASTES = ((178, 112, 72), (206, 186, 150), (140, 90, 70), (96, 78, 66))
SCALE = Scale(PX_PER_MM, "bar", 0.003)
BLANK_KEY = "0" * 64


@dataclass(frozen=True, slots=True)
class DrawnSherd:
    """One sherd of a drawn tray: (N, 2) outline in px, its sizes, and its files as they would be kept under BLANK_KEY."""

    outline_px: NDArray[np.float32]
    area_mm2: float
    max_dimension_mm: float
    crop_png: bytes
    mask_png: bytes
    small_webp: bytes


@dataclass(frozen=True, slots=True)
class DrawnTray:
    """A drawn photograph as JPEG, and its sherds."""

    jpeg: bytes
    sherds: tuple[DrawnSherd, ...]


def light_of(seed: int, cells: tuple[int, int] = (48, 64)) -> LightField:
    """A light field with as many cells as intake keeps, a little brighter on the left."""
    rows, columns = cells
    gain = np.broadcast_to(np.linspace(1.05, 0.95, columns, dtype=np.float32)[None, :, None], (rows, columns, 3))
    gain = gain * np.float32(1.0 + 0.0001 * (seed % 997))
    return LightField(gain.astype(np.float32), "backdrop", (62.0, 0.5, 1.0), 0.8)


@lru_cache(maxsize=2)
def draw_trays(seed: int) -> tuple[DrawnTray, ...]:
    """The trays of a seed."""
    return tuple(_tray(np.random.default_rng((seed, number))) for number in range(TRAYS))


def retagged(png: bytes, content_key: str) -> bytes:
    """The PNG of a crop under another content key: the text in it and that chunk's check sum are changed, nothing else."""
    start = png.index(b"tEXtcontent_key\0")
    end = start + len(b"tEXtcontent_key\0") + len(content_key)
    chunk = b"tEXtcontent_key\0" + content_key.encode()
    return png[:start] + chunk + zlib.crc32(chunk).to_bytes(4, "big") + png[end + 4 :]


def with_comment(jpeg: bytes, comment: bytes) -> bytes:
    """The same photograph in a file of other bytes (ITU-T T.81, B.2.4.5: a comment segment after the start of the image)."""
    return jpeg[:2] + b"\xff\xfe" + (len(comment) + 2).to_bytes(2, "big") + comment + jpeg[2:]


def _tray(rng: np.random.Generator) -> DrawnTray:
    image = Image.new("RGB", (WIDTH_PX, HEIGHT_PX), (150, 150, 150))
    outlines = [_outline(rng, place) for place in range(PER_TRAY)]
    for place, outline in enumerate(outlines):
        _paint(image, outline, PASTES[place % len(PASTES)], rng)
    stream = io.BytesIO()
    image.save(stream, "JPEG", quality=80)
    photo = PhotoImage(np.asarray(image), "", "tray.jpg")
    return DrawnTray(stream.getvalue(), tuple(_sherd(photo, outline) for outline in outlines))


def _outline(rng: np.random.Generator, place: int) -> NDArray[np.float32]:
    """A rough ring of CORNERS corners in its cell of the tray."""
    middle = np.array([WIDTH_PX / ACROSS * (place % ACROSS + 0.5), HEIGHT_PX / DOWN * (place // ACROSS + 0.5)])
    around = np.linspace(0, 2 * np.pi, CORNERS, endpoint=False)
    reach = np.full(CORNERS, rng.uniform(95, 145))
    for turns in range(2, 30):
        reach += 14.0 / turns * rng.normal() * np.sin(turns * around + rng.uniform(0, 2 * np.pi))
    ring = middle + reach[:, None] * np.column_stack([np.cos(around), np.sin(around)])
    return ring.round(2).astype(np.float32)


def _paint(
    image: Image.Image, outline: NDArray[np.float32], paste: tuple[int, int, int], rng: np.random.Generator
) -> None:
    """Fill an outline with paste and a few wavering lines."""
    left, top = (int(value) for value in outline.min(axis=0))
    width, height = (int(value) + 2 for value in outline.max(axis=0) - outline.min(axis=0))
    mask, face = Image.new("L", (width, height), 0), Image.new("RGB", (width, height), paste)
    ImageDraw.Draw(mask).polygon([(float(x) - left, float(y) - top) for x, y in outline], fill=255)
    pen = ImageDraw.Draw(face)
    for y in np.arange(0, height, rng.uniform(24, 40)):
        pen.line((0, y, width, y + float(rng.normal(0, 8))), fill=(60, 35, 28), width=int(rng.integers(6, 14)))
    image.paste(face, (left, top), mask=mask)


def _sherd(photo: PhotoImage, outline: NDArray[np.float32]) -> DrawnSherd:
    crop = cut_crop(photo, light_of(0), SCALE, outline)
    sizes = outline_measures(outline, SCALE)
    image, mask = derived_files.crop_png(crop, BLANK_KEY)
    shown = Image.fromarray(np.dstack([crop.image, crop.mask.astype(np.uint8) * 255]))
    factor = THUMBNAIL_PX_PER_MM / crop.px_per_mm
    small = shown.resize((round(shown.width * factor), round(shown.height * factor)), Image.Resampling.BOX)
    stream = io.BytesIO()
    small.save(stream, "WEBP", quality=WEBP_QUALITY, method=2)
    assert sizes.area_mm2 is not None
    assert sizes.max_dimension_mm is not None
    return DrawnSherd(outline, sizes.area_mm2, sizes.max_dimension_mm, image, mask, stream.getvalue())
