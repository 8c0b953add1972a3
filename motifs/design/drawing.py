"""Axes and centres drawn over the picture of a design.

Signs as in handbooks: full lines are mirrors, broken lines glides; a lens, triangle, square or hexagon is a centre of two-,
three-, four- or sixfold turns; a bar with ends is one repeat. Colours are told apart by shape as well.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.design.axes import Element, PointPx

MIRROR_RGB = (0, 90, 181)
GLIDE_RGB = (0, 90, 181)
TURN_RGB = (220, 50, 32)
REPEAT_RGB = (20, 20, 20)
HALO_RGB = (255, 255, 255)


def draw_symmetry(image: NDArray[np.uint8], elements: Sequence[Element]) -> NDArray[np.uint8]:
    """Return a copy of an image with axes and centres drawn over it.

    Parameters
    ----------
    image : (h, w, 3) uint8 sRGB.
    elements : as `read_symmetry` gives them, in px of the image.

    Returns
    -------
    (h, w, 3) uint8
    """
    drawn = image.copy()
    width = max(1, round(max(image.shape[:2]) / 260))
    order = {"mirror": 0, "glide": 0, "repeat": 1, "turn": 2}
    for one in sorted(elements, key=lambda element: order[element.what]):
        if one.what == "turn":
            _centre(drawn, one.points_px[0], one.order, 4 * width)
        elif one.what == "glide":
            _broken_line(drawn, one.points_px, width)
        else:
            colour = MIRROR_RGB if one.what == "mirror" else REPEAT_RGB
            _line(drawn, one.points_px[0], one.points_px[1], colour, width)
            if one.what == "repeat":
                _ends(drawn, one.points_px, width)
    return drawn


def _px(point: PointPx) -> tuple[int, int]:
    return round(point[0]), round(point[1])


def _line(image: NDArray[np.uint8], a: PointPx, b: PointPx, colour: tuple[int, int, int], width: int) -> None:
    cv2.line(image, _px(a), _px(b), HALO_RGB, width + 2, cv2.LINE_AA)
    cv2.line(image, _px(a), _px(b), colour, width, cv2.LINE_AA)


def _broken_line(image: NDArray[np.uint8], ends: tuple[PointPx, ...], width: int) -> None:
    a, b = np.array(ends[0]), np.array(ends[1])
    count = max(2, int(np.linalg.norm(b - a) / (9 * width)))
    for k in range(0, count, 2):
        start, stop = a + (b - a) * k / count, a + (b - a) * min(k + 1, count) / count
        _line(image, (float(start[0]), float(start[1])), (float(stop[0]), float(stop[1])), GLIDE_RGB, width)


def _ends(image: NDArray[np.uint8], ends: tuple[PointPx, ...], width: int) -> None:
    a, b = np.array(ends[0]), np.array(ends[1])
    along = (b - a) / max(float(np.linalg.norm(b - a)), 1e-9)
    across = np.array([-along[1], along[0]]) * 4 * width
    for end in (a, b):
        one, other = end - across, end + across
        _line(image, (float(one[0]), float(one[1])), (float(other[0]), float(other[1])), REPEAT_RGB, width)


def _centre(image: NDArray[np.uint8], place: PointPx, order: int, radius: int) -> None:
    if order == 2:
        cv2.ellipse(image, _px(place), (radius // 2 + 2, radius + 2), 0, 0, 360, HALO_RGB, -1, cv2.LINE_AA)
        cv2.ellipse(image, _px(place), (max(radius // 2, 1), radius), 0, 0, 360, TURN_RGB, -1, cv2.LINE_AA)
        return
    for extra, colour in ((2, HALO_RGB), (0, TURN_RGB)):
        angle = np.linspace(0, 2 * np.pi, order, endpoint=False) - np.pi / 2
        corners = np.array(place) + (radius + extra) * np.column_stack([np.cos(angle), np.sin(angle)])
        cv2.fillPoly(image, [np.round(corners).astype(np.int32)], colour, cv2.LINE_AA)
