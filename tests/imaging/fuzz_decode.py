"""Long fuzz of reading photographs: `python -m tests.imaging.fuzz_decode 5000 [seed]`.

Files of every format are damaged and read; what can still be decoded goes through the reading of a tray, and one outline of it
through the cutting of a crop. Nothing but the program's own one-line errors may come out.
"""

from __future__ import annotations

import io
import sys
import tempfile
from collections import Counter
from pathlib import Path

import cv2
import numpy as np
import tifffile
from PIL import Image

from motifs.errors import InputError, NoSherdFound, PhotoError
from motifs.imaging import cut_crop, outline_measures, read_photo, read_tray
from motifs.imaging.mat_design import mat_design
from tests.imaging.mats import draw_page
from tests.imaging.test_decode import mutated
from tests.imaging.test_formats import dng, exif_of_a_phone, heic


def small_tray() -> np.ndarray:
    """Two sherds and a bar on grey, (120, 160, 3) uint8."""
    rgb = np.full((120, 160, 3), 150, dtype=np.uint8)
    cv2.fillPoly(rgb, [np.array([[20, 20], [60, 15], [70, 50], [30, 60]])], (142, 79, 62))
    cv2.fillPoly(rgb, [np.array([[95, 30], [140, 25], [130, 70], [100, 66]])], (192, 135, 94))
    for k in range(10):
        cv2.rectangle(rgb, (20 + 12 * k, 95), (31 + 12 * k, 104), (20,) * 3 if k % 2 else (240,) * 3, -1)
    return rgb


def small_mat() -> np.ndarray:
    """A mat with a sherd, small, (H, W, 3) uint8."""
    page = draw_page(mat_design("A4"), "K-12", None)
    rgb = np.repeat(cv2.resize(page, None, fx=0.2, fy=0.2, interpolation=cv2.INTER_AREA)[..., None], 3, axis=2)
    cv2.fillPoly(rgb, [np.array([[200, 150], [300, 140], [280, 260], [210, 240]])], (142, 79, 62))
    return rgb


def originals() -> list[tuple[str, bytes]]:
    """One whole file of every kind."""
    tray, mat = small_tray(), small_mat()
    files = []
    for name, rgb, form, extra in (
        ("tray.jpg", tray, "JPEG", {"exif": exif_of_a_phone(6)}),
        ("tray.jpg", tray, "JPEG", {"progressive": True, "quality": 90}),
        ("tray.png", tray, "PNG", {}),
        ("tray.tif", tray, "TIFF", {}),
        ("tray.tif", tray, "TIFF", {"compression": "tiff_lzw"}),
        ("mat.jpg", mat, "JPEG", {"quality": 80}),
    ):
        stream = io.BytesIO()
        Image.fromarray(rgb).save(stream, form, **extra)
        files.append((name, stream.getvalue()))
    deep = io.BytesIO()
    planes = np.moveaxis(tray.astype(np.uint16) * 257, 2, 0)
    tifffile.imwrite(deep, planes, photometric="rgb", planarconfig="separate")
    return [*files, ("deep.tif", deep.getvalue()), ("tray.heic", heic(tray)), ("tray.dng", dng(tray / 255.0))]


def fuzz_trays(folder: Path, count: int, seed: int) -> Counter[str]:
    """Read `count` damaged files as trays; counts what became of them."""
    rng = np.random.default_rng(seed)
    files = originals()
    became: Counter[str] = Counter()
    for turn in range(count):
        name, content = files[turn % len(files)]
        path = folder / name
        path.write_bytes(mutated(content, rng))
        try:
            became[_read(path)] += 1
        except InputError as error:
            text = str(error)
            assert text
            assert "\n" not in text, text
            became[
                "refused" if isinstance(error, PhotoError) and not isinstance(error, NoSherdFound) else "no sherd"
            ] += 1
        if turn % 500 == 499:
            print(turn + 1, dict(became), flush=True)
    return became


def _read(path: Path) -> str:
    photo = read_photo(path)
    reading = read_tray(photo)
    for sherd in reading.sherds:
        outline_measures(sherd.outline_px, reading.scale)
    crop = cut_crop(photo, reading.light, reading.scale, reading.sherds[0].outline_px)
    assert crop.image.shape[:2] == crop.mask.shape
    return "read"


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 5000
    with tempfile.TemporaryDirectory() as folder:
        became = fuzz_trays(Path(folder), count, seed=int(sys.argv[2]) if len(sys.argv) > 2 else 1)
    print(f"{count} damaged files: {dict(became)}; no other exception")


if __name__ == "__main__":
    main()
