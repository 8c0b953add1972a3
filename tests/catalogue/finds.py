"""Finds to catalogue: an invented field season at Kestrel Ford and Ashby Weir."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motifs.records import LightField, Scale, SherdCrop

if TYPE_CHECKING:
    from pathlib import Path

    from motifs.catalogue import Catalogue

SQUARE = np.array([[10, 10], [60, 10], [60, 60], [10, 60]], np.float32)
SCALE = Scale(12.5, "bar", 0.004)
PERSON = "M. Oduya"


def light() -> LightField:
    gain = np.random.default_rng(3).uniform(0.5, 1.0, (4, 6, 3)).astype(np.float32)
    return LightField(gain, "bar", (71.25, -0.5, 3.125), 0.75)


def crop(seed: int = 0, size: tuple[int, int] = (24, 31)) -> SherdCrop:
    rng = np.random.default_rng(seed)
    return SherdCrop(rng.integers(0, 256, (*size, 3), np.uint8), rng.random(size) > 0.4, 10.0, 12.53, True)


def add_tray(cat: Catalogue, lot: str, sherds: int = 4, content: bytes | None = None, site: str | None = None):
    """Bring in a photo with sherds, crops included; return the sherds' numbers."""
    content = content or f"tray of {lot}".encode()
    with cat.transaction(by=PERSON):
        cat.ensure_lot(lot, site=site)
        photo = cat.add_photo(
            lot, content, file_name=f"{lot} tray.JPG", width_px=600, height_px=400, scale=SCALE, light=light()
        )
        rows = [
            cat.add_sherd(photo.photo_id, SQUARE + 70 * i, area_mm2=16.0, max_dimension_mm=5.6) for i in range(sherds)
        ]
        for i, row in enumerate(rows):
            cat.save_crop(row.number, crop(i))
    return [row.number for row in rows]


def files_of(folder: Path) -> dict[str, bytes]:
    """Everything in a collection folder but the database's own files."""
    paths = (path for path in folder.rglob("*") if path.is_file() and not path.name.startswith("catalogue.sqlite"))
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in paths}
