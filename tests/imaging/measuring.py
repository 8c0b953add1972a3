"""How well a tray was read: matches at IoU, scale error, colour agreement. Shared by the tests and the benchmark."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import cv2
import numpy as np
from scipy.optimize import linear_sum_assignment
from skimage.color import deltaE_ciede2000, rgb2lab

from motifs.errors import NoSherdFound
from motifs.imaging import cut_crop, read_tray
from motifs.records import PhotoImage, TrayReading
from tests.imaging.shapes import encoded, linear

if TYPE_CHECKING:
    from tests.imaging.trays import Tray


@dataclass(frozen=True)
class Marks:
    """Marks of one reading. pairs: (place in truth, place in reading, IoU) for IoU >= 0.5."""

    reading: TrayReading | None
    truths: int
    found: int
    pairs: list[tuple[int, int, float]] = field(default_factory=list)
    scale_error: float | None = None

    @property
    def f1(self) -> float:
        return 2 * len(self.pairs) / max(1, self.truths + self.found)


def photo_of(tray: Tray) -> PhotoImage:
    return PhotoImage(rgb=tray.rgb, sha256="0" * 64, file_name="tray.jpg")


def mark(tray: Tray) -> Marks:
    photo = photo_of(tray)
    try:
        reading = read_tray(photo)
    except NoSherdFound:
        return Marks(None, len(tray.masks), 0)
    overlap = np.zeros((len(tray.masks), len(reading.sherds)))
    for j, sherd in enumerate(reading.sherds):
        drawn = np.zeros(tray.rgb.shape[:2], dtype=np.uint8)
        cv2.fillPoly(drawn, [np.rint(sherd.outline_px).astype(np.int32)], 1)
        inside = drawn > 0
        for i, mask in enumerate(tray.masks):
            both = np.count_nonzero(mask & inside)
            if both:
                overlap[i, j] = both / np.count_nonzero(mask | inside)
    rows, columns = linear_sum_assignment(-overlap)
    pairs = [(int(i), int(j), float(overlap[i, j])) for i, j in zip(rows, columns, strict=True) if overlap[i, j] >= 0.5]
    error = None if reading.scale is None else reading.scale.px_per_mm / tray.recipe.px_per_mm - 1
    return Marks(reading, len(tray.masks), len(reading.sherds), pairs, error)


def sherd_colours(tray: Tray, marks: Marks) -> dict[int, np.ndarray]:
    """L*a*b* of the mean light of every matched sherd, away from its edge, by its identity in the recipe."""
    colours = {}
    if marks.reading is None:
        return colours
    for i, j, _ in marks.pairs:
        crop = cut_crop(photo_of(tray), marks.reading.light, marks.reading.scale, marks.reading.sherds[j].outline_px)
        inner = cv2.erode(crop.mask.astype(np.uint8), np.ones((21, 21), np.uint8)) > 0
        if inner.sum() > 200:
            mean = encoded(linear(crop.image[inner]).mean(axis=0))
            colours[tray.ids[i]] = rgb2lab(mean[None, None])[0, 0]
    return colours


def colour_differences(first: dict[int, np.ndarray], second: dict[int, np.ndarray]) -> list[float]:
    """CIEDE2000 of the same sherds in two lights."""
    return [float(deltaE_ciede2000(first[key], second[key])) for key in first.keys() & second.keys()]
