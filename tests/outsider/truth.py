"""Truth records of rendered lots and their JSON form.

Pixel coordinates are (x, y), pixel centres at whole numbers. Lengths carry their unit in the name.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from skimage.measure import approximate_polygon, find_contours

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray


@dataclass(frozen=True)
class SherdTruth:
    """One sherd on one photograph. motifs: share (0..1) of the sherd that each motif's zone covers."""

    key: str
    pot: str
    outline_px: tuple[tuple[float, float], ...]
    area_mm2: float
    motifs: dict[str, float] = field(default_factory=dict)
    paste_lab: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class PhotoTruth:
    """One photograph. bar_mm: length of the scale bar in view, None without one."""

    file: str
    width_px: int
    height_px: int
    px_per_mm: float
    bar_mm: int | None
    backdrop: str
    sherds: tuple[SherdTruth, ...]


@dataclass(frozen=True)
class Contact:
    """Two sherds that were one before the break, and the length of the fracture that they share."""

    a: str
    b: str
    length_mm: float


@dataclass(frozen=True)
class LotTruth:
    """Everything true about one lot."""

    lot: str
    site: str
    style: str
    kind: str
    seed: int
    photos: tuple[PhotoTruth, ...]
    contacts: tuple[Contact, ...] = ()

    def pot_of(self) -> dict[str, str]:
        """Pot by sherd key."""
        return {sherd.key: sherd.pot for photo in self.photos for sherd in photo.sherds}

    def motifs_of(self) -> dict[str, dict[str, float]]:
        """Motif shares by sherd key."""
        return {sherd.key: sherd.motifs for photo in self.photos for sherd in photo.sherds}


def write_truth(lot: LotTruth, path: Path) -> None:
    """Write a lot's truth as JSON, whole or not at all."""
    partial = path.with_suffix(".partial")
    partial.write_text(json.dumps(asdict(lot), indent=1), encoding="utf-8")
    partial.replace(path)


def read_truth(path: Path) -> LotTruth:
    """Read what `write_truth` wrote."""
    raw = json.loads(path.read_text(encoding="utf-8"))
    photos = tuple(_photo(item) for item in raw["photos"])
    contacts = tuple(Contact(**item) for item in raw["contacts"])
    return LotTruth(raw["lot"], raw["site"], raw["style"], raw["kind"], raw["seed"], photos, contacts)


def _photo(raw: dict[str, Any]) -> PhotoTruth:
    return PhotoTruth(**{**raw, "sherds": tuple(_sherd(item) for item in raw["sherds"])})


def _sherd(raw: dict[str, Any]) -> SherdTruth:
    outline = tuple((float(x), float(y)) for x, y in raw["outline_px"])
    lab = tuple(raw["paste_lab"]) if raw["paste_lab"] else None
    return SherdTruth(**{**raw, "outline_px": outline, "paste_lab": lab})


def outline_of(mask: NDArray[np.bool_], offset_xy: tuple[int, int] = (0, 0)) -> tuple[tuple[float, float], ...]:
    """Outline of the largest component edge of a mask, half a pixel outside the outermost pixel centres.

    Parameters
    ----------
    mask : (H, W) bool
    offset_xy : whole pixels added to x and y.
    """
    padded = np.pad(mask, 1).astype(float)
    contour = max(find_contours(padded, 0.5), key=len)
    contour = approximate_polygon(contour, 0.3)[:-1] - 1.0
    return tuple((round(float(x) + offset_xy[0], 2), round(float(y) + offset_xy[1], 2)) for y, x in contour)


def fracture_contacts(labels: NDArray[np.int32], px_per_mm: float) -> dict[tuple[int, int], float]:
    """Shared fracture length in mm of every touching pair of labels on a surface that closes in x.

    Pixel-edge crossings times pi/4 estimate the length of a curve of no preferred direction (Crofton's
    formula for two directions). Label -1 is no piece.
    """
    counts: dict[tuple[int, int], int] = {}
    right = np.roll(labels, -1, axis=1)
    for first, second in ((labels, right), (labels[:-1], labels[1:])):
        unlike = (first != second) & (first >= 0) & (second >= 0)
        low, high = np.minimum(first, second)[unlike], np.maximum(first, second)[unlike]
        pairs, crossings = np.unique(np.stack([low, high], 1), axis=0, return_counts=True)
        for (a, b), crossing in zip(pairs, crossings, strict=True):
            counts[int(a), int(b)] = counts.get((int(a), int(b)), 0) + int(crossing)
    return {pair: count * np.pi / 4 / px_per_mm for pair, count in counts.items()}
