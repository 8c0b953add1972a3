"""The whole layout as a picture: every sherd cut out and laid where it goes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.joins.picture import SherdCutOut

PAPER: Final = (244, 243, 238)
LARGEST_PX: Final = 12_000


def draw_layout(
    sherds: Sequence[SherdCutOut],
    poses: NDArray[np.float64],
    corner_mm: tuple[float, float],
    size_mm: tuple[float, float],
    *,
    px_per_mm: float,
) -> NDArray[np.uint8]:
    """Draw sherds as they lie.

    Parameters
    ----------
    sherds : crops with their outlines.
    poses : (n, 3) x_mm, y_mm of the middle of each outline, turn in degrees clockwise.
    corner_mm, size_mm : upper left corner and size of what is drawn.
    px_per_mm : of the drawing; made smaller where a side would pass LARGEST_PX.

    Returns
    -------
    ndarray
        (H, W, 3) uint8 sRGB on paper.
    """
    zoom = min(px_per_mm, LARGEST_PX / max(size_mm))
    width, height = (max(1, int(np.ceil(side * zoom))) for side in size_mm)
    paper = np.full((height, width, 3), PAPER, np.uint8)
    for sherd, pose in zip(sherds, poses, strict=True):
        _lay(paper, sherd, pose, corner_mm, zoom)
    return paper


def _lay(
    paper: NDArray[np.uint8],
    sherd: SherdCutOut,
    pose: NDArray[np.float64],
    corner_mm: tuple[float, float],
    zoom: float,
) -> None:
    rows, columns = np.nonzero(sherd.mask)
    middle = np.array([columns.mean(), rows.mean()])
    turn = np.radians(pose[2])
    scale = zoom / sherd.px_per_mm
    matrix = scale * np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    target = (np.asarray(pose[:2]) - corner_mm) * zoom
    # Only the part of the paper that the sherd can reach is warped.
    reach = int(np.ceil(np.hypot(*sherd.mask.shape) * scale)) + 2
    left, top = (int(np.floor(value)) - reach for value in target)
    box = (slice(max(top, 0), max(top + 2 * reach, 0)), slice(max(left, 0), max(left + 2 * reach, 0)))
    part = paper[box]
    if not part.size:
        return
    shift = target - matrix @ middle - [box[1].start, box[0].start]
    whole = np.concatenate([matrix, shift[:, None]], axis=1)
    size = (part.shape[1], part.shape[0])
    flags = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    image = cv2.warpAffine(sherd.image, whole, size, flags=flags)
    mask = cv2.warpAffine(sherd.mask.astype(np.uint8), whole, size, flags=cv2.INTER_NEAREST)
    part[mask > 0] = image[mask > 0]


def extent_mm(
    outlines: Sequence[NDArray[np.float64]], margin_mm: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Upper left corner and size of what outlines take up, with a margin."""
    points = np.concatenate(list(outlines))
    low, high = points.min(axis=0) - margin_mm, points.max(axis=0) + margin_mm
    return (float(low[0]), float(low[1])), (float(high[0] - low[0]), float(high[1] - low[1]))
