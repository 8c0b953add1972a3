"""Pictures to judge by: a number that was read beside its sherd, a view by itself, a stretch of rim along an outline."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw

from motifs.errors import InputError
from motifs.workflows.covered import photo_to_show

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.catalogue import Catalogue, LabelRow, SherdRow, ViewRow

SIDE_PX = 900
"""Longer side of a picture; smaller parts of a photograph are enlarged up to twice."""

_MARGIN_SHARE = 0.06
_INK, _RIM = (24, 72, 120), (176, 60, 20)


def label_picture(cat: Catalogue, label: LabelRow) -> NDArray[np.uint8]:
    """Draw the sherd a number was read for, with its outline, and a frame around the number, (h, w, 3) uint8 sRGB.

    Raises
    ------
    CollectionDamaged, UnknownName
        The original is gone; the sherd is no longer there.
    """
    outlines = [piece.outline_px for piece in _pieces(cat, label)]
    frame = np.asarray(label.box_px, dtype=np.float64)
    window = _Window.around([*outlines, frame])
    picture, pen = window.drawn(cat, label.photo_id)
    for outline in outlines:
        pen.line(window.places(outline), fill=_INK, width=3)
    pen.line(window.places(frame), fill=_RIM, width=4)
    return np.asarray(picture)


def view_picture(cat: Catalogue, view: ViewRow) -> NDArray[np.uint8]:
    """Draw a view as it lies on its photograph, with its outline, (h, w, 3) uint8 sRGB."""
    window = _Window.around([view.outline_px])
    picture, pen = window.drawn(cat, view.photo_id)
    pen.line(window.places(view.outline_px), fill=_INK, width=3)
    return np.asarray(picture)


def rim_stretch(outline_px: NDArray[np.float32], begin: float, end: float) -> NDArray[np.float64]:
    """Part of a closed outline, (n, 2), from one share of its length to another.

    Past 1 it goes on from the beginning.

    Raises
    ------
    InputError
        The shares are no stretch, or more than half of the outline, so that the other way round would be meant.
    """
    if not 0.0 <= begin < end or begin > 1.0 or end - begin > 0.5:
        raise InputError(
            f"from {begin:.0%} to {end:.0%} is no stretch of rim; take between nothing and half of the outline"
        )
    closed = np.vstack([outline_px, outline_px[:1]]).astype(np.float64)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.linspace(begin, end, 200) % 1.0 * along[-1]
    return np.stack([np.interp(at, along, closed[:, axis]) for axis in (0, 1)], axis=1)


def rim_picture(cat: Catalogue, piece: SherdRow | ViewRow, begin: float, end: float) -> NDArray[np.uint8]:
    """Draw a face or a view with the stretch that is called rim, (h, w, 3) uint8 sRGB; a dot where the outline begins."""
    window = _Window.around([piece.outline_px])
    picture, pen = window.drawn(cat, piece.photo_id)
    pen.line(window.places(piece.outline_px), fill=_INK, width=3)
    pen.line(window.places(rim_stretch(piece.outline_px, begin, end), is_closed=False), fill=_RIM, width=8)
    x, y = window.places(piece.outline_px)[0]
    pen.ellipse((x - 8, y - 8, x + 8, y + 8), fill=_INK)
    return np.asarray(picture)


def _pieces(cat: Catalogue, label: LabelRow) -> list[SherdRow | ViewRow]:
    """Face and views of the label's sherd that lie on the label's photograph."""
    sherd = cat.sherd(label.sherd)
    views = [view for view in cat.views(label.lot, sherd=label.sherd) if view.photo_id == label.photo_id]
    return [sherd, *views] if sherd.photo_id == label.photo_id else [*views]


class _Window:
    """A part of a photograph, enlarged or made smaller for the screen: left, top, width, height in px of the photograph."""

    def __init__(self, left: int, top: int, width: int, height: int) -> None:
        self.left, self.top, self.width, self.height = left, top, width, height
        self.zoom = min(2.0, SIDE_PX / max(width, height))

    @classmethod
    def around(cls, outlines: Sequence[NDArray[np.floating]]) -> _Window:
        """The window that holds all outlines with a margin."""
        points = np.vstack(outlines)
        margin = _MARGIN_SHARE * float(np.ptp(points, axis=0).max()) + 8
        low, high = np.floor(points.min(axis=0) - margin).astype(int), np.ceil(points.max(axis=0) + margin).astype(int)
        return cls(int(low[0]), int(low[1]), int(high[0] - low[0]), int(high[1] - low[1]))

    def drawn(self, cat: Catalogue, photo_id: int) -> tuple[Image.Image, ImageDraw.ImageDraw]:
        """The part of the photograph, what is kept back covered, and a pen to draw on it."""
        photo = Image.fromarray(photo_to_show(cat, cat.photo(photo_id)).rgb)
        box = (self.left, self.top, self.left + self.width, self.top + self.height)
        size = (max(1, round(self.width * self.zoom)), max(1, round(self.height * self.zoom)))
        picture = photo.crop(box).resize(size, Image.Resampling.LANCZOS if self.zoom > 1 else Image.Resampling.BOX)
        return picture, ImageDraw.Draw(picture)

    def places(self, outline: NDArray[np.floating], *, is_closed: bool = True) -> list[tuple[float, float]]:
        """Where points of the photograph lie in the picture."""
        moved = (np.asarray(outline, dtype=np.float64) - (self.left, self.top) + 0.5) * self.zoom
        places = [(float(x), float(y)) for x, y in moved]
        return [*places, places[0]] if is_closed else places
