"""From foreground to pieces: bar, labels and writing left out, crumbs counted, touching sherds split."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

from motifs.imaging.foreground import fill_holes
from motifs.imaging.outline import hull_diameter
from motifs.imaging.splitting import split_touching

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.imaging.foreground import Foreground

CRUMB_MM: Final = 8.0
"""Pieces whose largest dimension is below this are counted, not catalogued.

Type counts usually leave out pieces below 10 to 15 mm (common practice); the limit here is lower, so that
no small sherd is dropped in silence.
"""

CRUMB_SHARE: Final = 1.0 / 80.0
"""Without a scale: the same limit as a share of the photograph's longer side."""

_DUST_SHARE: Final = 0.2  # below this part of the crumb limit it is dust: not even counted
_MOST_WRITING: Final = 1.2  # height of a line of writing over the crumb limit
_LEAST_INK: Final = 15.0  # units of L* that ink is darker than what it stands on
_BETWEEN_STROKES: Final = 14.0  # L*a*b* units that blurred paper between strokes may differ from the backdrop
_MOST_INK: Final = 0.65  # share of its hull that writing covers
_CARD: Final = 0.85  # rectangularity of a card, seen a little at a slant and with its shadow
_PAPER_LIGHTNESS: Final = 74.0
_WHITE_CHROMA: Final = 10.0
_WHITE_CARD: Final = 0.92  # rectangularity of white paper
_TINTED_LIGHTNESS: Final = 80.0
_TINTED_CHROMA: Final = 27.0
_SQUARE: Final = 0.95  # rectangularity of what was cut, not broken
_RULER: Final = 6.0  # length over width from which a rectangle is a ruler or a joint of the table
_STRAIGHT: Final = 0.88  # share of its smallest rectangle that a ruler fills, blurred and a little bent by the lens
_STRIP: Final = 4.0  # the same for a strip along the frame
_STRIP_WIDTH: Final = 0.6  # of the crumb limit
_BAR_MARGIN: Final = 0.25  # of the bar's height


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece on the working image: mask (h, w) bool inside box (left, top, right, bottom), and a doubt."""

    mask: NDArray[np.bool_]
    box: tuple[int, int, int, int]
    doubt: str | None


def find_pieces(
    foreground: Foreground, bar_corners: NDArray[np.float32] | None, crumb_px: float
) -> tuple[list[Piece], int]:
    """Cut the foreground into pieces.

    Parameters
    ----------
    foreground
        Of the working image.
    bar_corners
        (4, 2) corners of the scale bar on the working image, or None.
    crumb_px
        Largest dimension, in px of the working image, below which a piece is a crumb.

    Returns
    -------
    tuple
        The pieces from top to bottom, and the number of crumbs.
    """
    mask = foreground.mask.copy()
    bar_zone = np.zeros(mask.shape, dtype=np.uint8)
    if bar_corners is not None:
        cv2.fillConvexPoly(bar_zone, np.rint(_widened(bar_corners)).astype(np.int32), 1)
        mask &= bar_zone == 0
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    pieces: list[Piece] = []
    crumbs = 0
    beside_bar = set(np.unique(labels[cv2.dilate(bar_zone, np.ones((7, 7), dtype=np.uint8)) > 0]).tolist())
    for label in range(1, count):
        left, top, width, height, _ = stats[label].tolist()
        box = (left, top, left + width, top + height)
        part = labels[top : top + height, left : left + width] == label
        longest = _longest(part)
        if longest < _DUST_SHARE * crumb_px:
            continue
        lab = foreground.lab[top : top + height, left : left + width]
        if label in beside_bar and _is_bar_remainder(part, bar_corners):
            near_bar = bar_zone[top : top + height, left : left + width] > 0
            cut_free = _hangs_on(part, near_bar, crumb_px)
        else:
            cut_free = [part]
        for piece in cut_free:
            if is_printed(foreground, piece, box, crumb_px) or _is_strip(piece, box, mask.shape, crumb_px):
                continue
            if _longest(piece) < crumb_px:
                crumbs += 1
                continue
            pieces.extend(Piece(half, box, doubt) for half, doubt in split_touching(piece, lab))
    return pieces, crumbs


def _widened(corners: NDArray[np.float32]) -> NDArray[np.float32]:
    middle = corners.mean(axis=0)
    along, across = corners[1] - corners[0], corners[3] - corners[0]
    height = float(np.hypot(*across))
    margin = _BAR_MARGIN * height + 2.0
    along, across = along / np.hypot(*along) * margin, across / np.hypot(*across) * margin
    wide: NDArray[np.float32] = corners + np.array(
        [-along - across, along - across, along + across, -along + across], dtype=np.float32
    )
    return wide if np.isfinite(wide).all() else np.repeat(middle[None], 4, axis=0)


def _longest(part: NDArray[np.bool_]) -> float:
    contours, _ = cv2.findContours(part.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return hull_diameter(np.vstack(contours)[:, 0].astype(np.float32)) + 1.0


def _is_bar_remainder(part: NDArray[np.bool_], bar_corners: NDArray[np.float32] | None) -> bool:
    """The bar's card around the cut, its rims, or its figures."""
    if bar_corners is None:
        return False
    height = float(np.hypot(*(bar_corners[3] - bar_corners[0])))
    inner = cv2.distanceTransform(np.pad(part, 1).astype(np.uint8), cv2.DIST_L2, 3)
    return 2.0 * float(inner.max()) < 1.2 * height or rectangularity(fill_holes(part)) > _CARD


def _hangs_on(part: NDArray[np.bool_], near_bar: NDArray[np.bool_], crumb_px: float) -> list[NDArray[np.bool_]]:
    """Sherds that hang on the remains of the bar's card by a shadow or a fold; the remains themselves are left out."""
    size = 2 * int(0.15 * crumb_px) + 3
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    padded = np.pad(part, size).astype(np.uint8)
    opened = cv2.morphologyEx(padded, cv2.MORPH_OPEN, kernel)[size:-size, size:-size]
    count, labels = cv2.connectedComponents(opened, connectivity=4)
    touching = set(
        np.unique(labels[cv2.dilate(near_bar.astype(np.uint8), np.ones((9, 9), dtype=np.uint8)) > 0]).tolist()
    )
    loose = [labels == label for label in range(1, count) if label not in touching]
    return [piece for piece in loose if _longest(piece) >= crumb_px and rectangularity(piece) < _CARD]


def is_printed(
    foreground: Foreground, part: NDArray[np.bool_], box: tuple[int, int, int, int], crumb_px: float
) -> bool:
    """Whether a piece is a paper label or writing rather than a sherd.

    Paper is a rectangle with straight sides, lighter than most clay and nearly without colour. Writing is thin,
    dark strokes.
    """
    left, top, right, bottom = box
    lab = foreground.lab[top:bottom, left:right]
    strong = float((part & foreground.raw[top:bottom, left:right]).sum()) / max(float(part.sum()), 1.0)
    return _is_paper(lab, part, strong) or _is_writing(lab, part, foreground.colour.centre, crumb_px)


def _is_paper(lab: NDArray[np.float32], part: NDArray[np.bool_], strong: float) -> bool:
    """Light, evenly coloured, and a rectangle; or, on white, so faint that no shadow or edge marks it as a thing."""
    chroma = np.hypot(lab[..., 1], lab[..., 2])[part]
    usual = float(np.median(chroma))
    lightness = float(np.median(lab[..., 0][part]))
    if strong < 0.25 and lightness > 85.0 and usual < 5.0:
        return True
    shape = rectangularity(fill_holes(part)) if lightness > _PAPER_LIGHTNESS else 0.0
    if usual < _WHITE_CHROMA:
        return shape > _WHITE_CARD
    # Coloured paper has one colour all over, save for its print; slip and paste do not, nor are their corners square.
    unevenness = float(np.subtract(*np.percentile(chroma, (75, 25))))
    return lightness > _TINTED_LIGHTNESS and usual < _TINTED_CHROMA and unevenness < 2.5 and shape > _SQUARE


def _is_writing(
    lab: NDArray[np.float32], part: NDArray[np.bool_], backdrop_lab: NDArray[np.float64], crumb_px: float
) -> bool:
    """Dark thin strokes with gaps between them, in a line no higher than figures are."""
    contours, _ = cv2.findContours(part.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    hull = cv2.convexHull(np.vstack(contours))
    _, sides, _ = cv2.minAreaRect(hull)
    height = min(sides) + 1.0
    darkest = float(np.percentile(lab[..., 0][part], 10))
    if height > _MOST_WRITING * crumb_px or darkest > backdrop_lab[0] - _LEAST_INK:
        return False
    ink = part & (lab[..., 0] < 0.5 * (darkest + backdrop_lab[0]))
    between = lab[part & ~ink]
    if len(between) and float(np.linalg.norm(np.median(between, axis=0) - backdrop_lab)) > _BETWEEN_STROKES:
        return False
    widest = 2.0 * float(cv2.distanceTransform(np.pad(ink, 1).astype(np.uint8), cv2.DIST_L2, 3).max())
    is_open = float(ink.sum()) < _MOST_INK * max(float(cv2.contourArea(hull)), 1.0)
    return widest < 3.0 or (is_open and widest < 0.5 * height)


def _is_strip(part: NDArray[np.bool_], box: tuple[int, int, int, int], shape: tuple[int, ...], crumb_px: float) -> bool:
    """A ruler, a joint between boards, or the edge of the backdrop along the frame: long, narrow and straight."""
    contours, _ = cv2.findContours(part.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    _, sides, _ = cv2.minAreaRect(np.vstack(contours))
    short, long = min(sides) + 1.0, max(sides) + 1.0
    left, top, right, bottom = box
    at_frame = left <= 1 or top <= 1 or right >= shape[1] - 1 or bottom >= shape[0] - 1
    if at_frame and short < _STRIP_WIDTH * crumb_px and long > _STRIP * short:
        return True
    return long > _RULER * short and float(fill_holes(part).sum()) > _STRAIGHT * short * long


def rectangularity(part: NDArray[np.bool_]) -> float:
    """Share of its smallest rectangle that a piece's convex hull fills, 0..1; 0 for a piece with deep notches.

    Spurs are opened away first, and writing at the edge of a label may bite into it.
    """
    size = 2 * int(0.08 * np.sqrt(part.sum())) + 3
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    opened = cv2.morphologyEx(np.pad(part, size).astype(np.uint8), cv2.MORPH_OPEN, kernel)
    contours, _ = cv2.findContours(opened, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:
        return 0.0
    outer = max(contours, key=cv2.contourArea)
    hull = cv2.convexHull(outer)
    hull_area = max(float(cv2.contourArea(hull)), 1.0)
    if float(cv2.contourArea(outer)) < 0.9 * hull_area:
        return 0.0
    _, (width, height), _ = cv2.minAreaRect(hull)
    # The opening rounded four corners; a circle of that size fills pi / 4 of its square.
    lost = 4.0 * (1.0 - np.pi / 4.0) * (0.5 * size) ** 2
    return min(1.0, (hull_area + lost) / max(width * height, 1.0))
