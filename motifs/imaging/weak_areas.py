"""Large areas that differ from a grained backdrop by little more than it scatters: settled by a graph cut.

Each pixel alone would be a guess there. The cut weighs two colour mixtures, learned on the photograph itself, against
the length of the outline and prefers outlines along edges (Rother, Kolmogorov & Blake 2004, as in OpenCV). Colours go in
along the backdrop's own axes and in units of its spread, so that its grain makes no edges.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.imaging.backdrop_colour import BackdropColour

_DOUBTFUL: Final = 2.3  # standard deviations: a tenth of a backdrop's pixels, but whole areas of it never
_RIM_PX: Final = 9  # averages are mixed beside what is known already
_OPEN_PX: Final = 7
_WORTH: Final = 0.15  # share of the known foreground from which doubtful areas are looked into
_LEAST_KNOWN_PX: Final = 50
_GAINS: Final = (8.0, 12.0, 12.0)  # grey levels for a standard deviation, along the grain and across it
_ROUNDS: Final = 3
_MOST_OF_PHOTO: Final = 0.7


def settle_weak_areas(
    averaged: NDArray[np.float32],
    colour: BackdropColour,
    off: NDArray[np.float32],
    known: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """Decide doubtful areas.

    Parameters
    ----------
    averaged
        (h, w, 3) float32 L*a*b* of flattened light, averaged over small areas.
    colour
        The backdrop's, with axes.
    off
        (h, w) float32 distance from the backdrop's colour and shadows, in standard deviations.
    known
        (h, w) bool, foreground already found.

    Returns
    -------
    ndarray
        (h, w) bool, foreground; `known` itself where nothing large is in doubt.
    """
    square = np.ones((_OPEN_PX, _OPEN_PX), dtype=np.uint8)
    rim = cv2.dilate(known.astype(np.uint8), np.ones((_RIM_PX, _RIM_PX), dtype=np.uint8)) > 0
    doubtful = cv2.morphologyEx(((off > _DOUBTFUL) & ~rim).astype(np.uint8), cv2.MORPH_OPEN, square) > 0
    if known.sum() < _LEAST_KNOWN_PX or doubtful.sum() < _WORTH * known.sum() or colour.axes is None:
        return known
    inner = cv2.erode(known.astype(np.uint8), np.ones((5, 5), dtype=np.uint8)) > 0
    marks = np.full(known.shape, cv2.GC_PR_BGD, dtype=np.uint8)
    marks[doubtful | known] = cv2.GC_PR_FGD
    marks[inner] = cv2.GC_FGD
    spread = colour.sd_image((known.shape[1], known.shape[0]))
    turned = ((averaged - colour.centre.astype(np.float32)) @ colour.axes.T.astype(np.float32)) / spread
    picture = np.clip(128.0 + turned * np.array(_GAINS, dtype=np.float32), 0.0, 255.0).astype(np.uint8)
    cv2.setRNGSeed(0)
    cv2.grabCut(picture, marks, (0, 0, 0, 0), np.zeros((1, 65)), np.zeros((1, 65)), _ROUNDS, cv2.GC_INIT_WITH_MASK)
    found = (marks == cv2.GC_FGD) | (marks == cv2.GC_PR_FGD)
    if found.mean() > _MOST_OF_PHOTO:
        return known
    opened = cv2.morphologyEx(found.astype(np.uint8), cv2.MORPH_OPEN, square) > 0
    return opened | known
