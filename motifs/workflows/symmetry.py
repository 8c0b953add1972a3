"""The symmetry of one sherd's decoration, or of a box of it, and a drawing of its axes and centres."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from motifs.design import DesignSymmetry, draw_symmetry, marks_of, read_symmetry, tone_of
from motifs.errors import InputError
from motifs.evidence.surface import read_face
from motifs.workflows.crops import crops_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from numpy.typing import NDArray

    from motifs.catalogue import BoxPx, Catalogue
    from motifs.evidence.surface import Face
    from motifs.records import SherdCrop

CLEAR = 0.85
"""Repeats as alike as this need no second look at another signal."""


@dataclass(frozen=True, slots=True)
class SherdSymmetry:
    """Symmetry of a sherd's decoration. repeat_mm: lengths of its shifts, empty without a scale; px are the crop's."""

    sherd: str
    box_px: BoxPx | None
    read_from: str  # "ink", "marks" or "tone": what of the picture was followed
    symmetry: DesignSymmetry
    repeat_mm: tuple[float, ...]


def read_sherd(cat: Catalogue, number: str, *, box_px: BoxPx | None = None) -> SherdSymmetry:
    """Read the symmetry of a sherd, or of a box of its crop.

    Parameters
    ----------
    number : catalogue number.
    box_px : x, y, width, height in px of the crop, e.g. one band of several.

    Raises
    ------
    UnknownName
        No such sherd.
    InputError
        The box holds no part of the sherd.
    """
    crop = _crop(cat, number)
    return read_crop(crop, number, box_px=box_px)


def read_crop(crop: SherdCrop, number: str = "", *, box_px: BoxPx | None = None) -> SherdSymmetry:
    """Read the symmetry of a crop; see `read_sherd`."""
    if box_px is not None and not _boxed(crop.mask, box_px, 1.0).any():
        shown = ",".join(str(side) for side in box_px)
        height, width = crop.mask.shape
        raise InputError(
            f"the box {shown} holds no part of sherd '{number}' (its crop is {width} by {height} px); draw it over the sherd"
        )
    face = read_face(crop)
    if face is None:
        return SherdSymmetry(number, box_px, "ink", _too_small(), ())
    factor = face.px_per_mm / crop.px_per_mm
    mask = face.inner if box_px is None else _boxed(face.inner, box_px, factor)
    name, found = _best_reading(face, mask)
    lengths = tuple(float(np.hypot(*shift)) / face.px_per_mm for shift in found.shifts_px)
    return SherdSymmetry(number, box_px, name, _scaled(found, 1 / factor), lengths if crop.is_scaled else ())


def draw_reading(crop: SherdCrop, reading: SherdSymmetry) -> NDArray[np.uint8]:
    """Return the crop's image, (h, w, 3) uint8, with the axes and centres of the reading over it."""
    return draw_symmetry(crop.image, reading.symmetry.elements)


def save_drawing(cat: Catalogue, reading: SherdSymmetry, file: Path) -> None:
    """Write the drawing of a reading as PNG.

    Raises
    ------
    InputError
        The file is not to be a .png, its folder is not there or cannot be written to.
    """
    if file.suffix.lower() != ".png":
        raise InputError(f"the picture '{file}' would be no PNG; give it a name that ends in .png")
    picture = Image.fromarray(draw_reading(_crop(cat, reading.sherd), reading))
    try:
        picture.save(file)
    except OSError as wrong:
        raise InputError(
            f"cannot write '{file}' ({wrong.strerror or wrong}); name a folder you may write to"
        ) from wrong


def _crop(cat: Catalogue, number: str) -> SherdCrop:
    return next(crop for _, crop in crops_of(cat, [cat.sherd(number)]))


def _boxed(mask: NDArray[np.bool_], box_px: BoxPx, factor: float) -> NDArray[np.bool_]:
    """Keep the mask inside a box only."""
    x, y, width, height = (round(side * factor) for side in box_px)
    inside = np.zeros_like(mask)
    inside[max(y, 0) : max(y + height, 0), max(x, 0) : max(x + width, 0)] = True
    return mask & inside


def _best_reading(face: Face, mask: NDArray[np.bool_]) -> tuple[str, DesignSymmetry]:
    """Read from the ink where it is told from its ground, else from marks or tone, whichever repeats best."""
    found: list[tuple[str, DesignSymmetry]] = []
    for name, signal in _signals(face, mask):
        found.append((name, read_symmetry(*_trimmed(signal, mask))))
        if found[-1][1].coherence >= CLEAR:
            break
    best = max(found, key=lambda one: (one[1].group is not None, one[1].coherence))
    ys, xs = np.nonzero(mask)
    return best if not len(ys) else (best[0], _moved(best[1], float(xs.min()), float(ys.min())))


def _signals(face: Face, mask: NDArray[np.bool_]) -> Iterator[tuple[str, NDArray[np.float64]]]:
    if face.ink_is_known:
        yield "ink", face.coverage.astype(np.float64)
    yield "marks", marks_of(face.linear, mask, face.px_per_mm)
    yield "tone", tone_of(face.linear, mask, face.px_per_mm)


def _trimmed(signal: NDArray[np.float64], mask: NDArray[np.bool_]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Cut away what lies outside the mask's frame."""
    ys, xs = np.nonzero(mask)
    if not len(ys):
        return signal, mask
    part = (slice(ys.min(), ys.max() + 1), slice(xs.min(), xs.max() + 1))
    return signal[part], mask[part]


def _moved(found: DesignSymmetry, x: float, y: float) -> DesignSymmetry:
    elements = tuple(
        replace(one, points_px=tuple((px + x, py + y) for px, py in one.points_px)) for one in found.elements
    )
    return replace(found, elements=elements)


def _scaled(found: DesignSymmetry, factor: float) -> DesignSymmetry:
    elements = tuple(
        replace(one, points_px=tuple((px * factor, py * factor) for px, py in one.points_px)) for one in found.elements
    )
    shifts = tuple((x * factor, y * factor) for x, y in found.shifts_px)
    return replace(found, elements=elements, shifts_px=shifts)


def _too_small() -> DesignSymmetry:
    nothing = np.zeros((2, 2))
    return read_symmetry(nothing, nothing > 0)
