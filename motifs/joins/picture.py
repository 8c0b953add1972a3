"""A proposed join as a picture: both sherds cut out and laid together, with a bar of 10 mm, to judge by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

from motifs.joins.pieces import middle_mm

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

MARGIN_MM: Final = 6.0
BAR_MM: Final = 10.0
PAPER: Final = (244, 243, 238)
LINE: Final = (30, 30, 30)
CONTACT: Final = (0, 110, 90)
EDGES: Final = ((150, 60, 20), (40, 70, 150))
LARGEST_PX: Final = 4000


@dataclass(frozen=True, slots=True)
class SherdCutOut:
    """One sherd to draw: crop (h, w, 3) uint8 sRGB and its mask, px_per_mm of both, and outline_mm as given to the matching."""

    image: NDArray[np.uint8]
    mask: NDArray[np.bool_]
    px_per_mm: float
    outline_mm: NDArray[np.floating]


def draw_join(
    a: SherdCutOut,
    b: SherdCutOut,
    transform: ArrayLike,
    *,
    stretch_a_mm: tuple[float, float] | None = None,
    px_per_mm: float = 10.0,
) -> NDArray[np.uint8]:
    """Draw two sherds laid edge to edge.

    Parameters
    ----------
    a, b : the sherds.
    transform : (3, 3), b's outline into a's frame, mm.
    stretch_a_mm : the contact along a's outline, marked where given.
    px_per_mm : of the drawing; made smaller where the drawing would pass LARGEST_PX.

    Returns
    -------
    ndarray
        (H, W, 3) uint8 sRGB.
    """
    matrix = np.asarray(transform, np.float64)
    outlines = [np.asarray(a.outline_mm, np.float64), _moved(np.asarray(b.outline_mm, np.float64), matrix)]
    everything = np.concatenate(outlines)
    corner = everything.min(axis=0) - MARGIN_MM
    extent = everything.max(axis=0) + MARGIN_MM - corner
    zoom = min(px_per_mm, LARGEST_PX / float(extent.max()))
    width, height = (int(np.ceil(side * zoom)) for side in extent)
    paper = np.full((height, width, 3), PAPER, np.uint8)
    for sherd, placed in ((a, np.eye(3)), (b, matrix)):
        _lay(paper, sherd, placed, corner, zoom)
    for outline, colour in zip(outlines, EDGES, strict=True):
        _line(paper, outline, corner, zoom, colour, is_closed=True)
    if stretch_a_mm is not None:
        _line(paper, _part(outlines[0], stretch_a_mm), corner, zoom, CONTACT, is_closed=False, thickness=3)
    _bar(paper, zoom)
    return paper


def _moved(points: NDArray[np.float64], matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(points @ matrix[:2, :2].T + matrix[:2, 2])


def _lay(
    paper: NDArray[np.uint8], sherd: SherdCutOut, placed: NDArray[np.float64], corner: NDArray[np.float64], zoom: float
) -> None:
    """Copy the sherd's pixels onto the paper."""
    rows, columns = np.nonzero(sherd.mask)
    middle = np.array([columns.mean(), rows.mean()])
    # crop px -> mm of the outline -> frame of a -> px of the paper
    to_mm = np.eye(3)
    to_mm[:2, :2] /= sherd.px_per_mm
    to_mm[:2, 2] = np.array(middle_mm(np.asarray(sherd.outline_mm, np.float64))) - middle / sherd.px_per_mm
    to_paper = np.array([[zoom, 0, -corner[0] * zoom], [0, zoom, -corner[1] * zoom], [0, 0, 1]])
    whole = (to_paper @ placed @ to_mm)[:2]
    size = (paper.shape[1], paper.shape[0])
    image = cv2.warpAffine(
        sherd.image, whole, size, flags=cv2.INTER_AREA if zoom < sherd.px_per_mm else cv2.INTER_LINEAR
    )
    mask = cv2.warpAffine(sherd.mask.astype(np.uint8), whole, size, flags=cv2.INTER_NEAREST)
    paper[mask > 0] = image[mask > 0]


def _line(
    paper: NDArray[np.uint8],
    points: NDArray[np.float64],
    corner: NDArray[np.float64],
    zoom: float,
    colour: tuple[int, int, int],
    *,
    is_closed: bool,
    thickness: int = 1,
) -> None:
    fixed = np.rint((points - corner) * zoom * 16).astype(np.int32)
    cv2.polylines(paper, [fixed], is_closed, colour, thickness, cv2.LINE_AA, 4)


def _part(outline: NDArray[np.float64], stretch_mm: tuple[float, float]) -> NDArray[np.float64]:
    """Points of an outline from one length along it to another, which may pass its end."""
    closed = np.concatenate([outline, outline[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    places = np.arange(stretch_mm[0], stretch_mm[1], 0.5) % along[-1]
    return np.stack([np.interp(places, along, closed[:, k]) for k in (0, 1)], axis=1)


def _bar(paper: NDArray[np.uint8], zoom: float) -> None:
    """Draw a bar of BAR_MM in the lower left corner."""
    length = round(BAR_MM * zoom)
    left, foot, thick = round(zoom), paper.shape[0] - round(zoom), max(round(zoom), 2)
    cv2.rectangle(paper, (left, foot - thick), (left + length - 1, foot - 1), LINE, -1)
    cv2.putText(
        paper,
        f"{BAR_MM:.0f} mm",
        (left + length + thick, foot),
        cv2.FONT_HERSHEY_SIMPLEX,
        0.045 * zoom,
        LINE,
        1,
        cv2.LINE_AA,
    )
