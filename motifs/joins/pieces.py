"""Records of joining: the edge of a sherd as the matching reads it, and a proposed join."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class SherdFields:
    """What the face of a sherd shows, on a grid in the outline's frame.

    ink: (h, w) float32 0..1, how far each pixel is ink. lab: (h, w, 3) float32 CIE L*a*b*. face: (h, w) bool, where both are
    to be trusted (clear of the worn edge). px_per_mm: of the grid. corner_mm: (x, y) of the middle of pixel (0, 0).
    has_ink: False where no decoration could be told from its ground (ink is then zero everywhere).
    """

    ink: NDArray[np.float32]
    lab: NDArray[np.float32]
    face: NDArray[np.bool_]
    px_per_mm: float
    corner_mm: tuple[float, float]
    has_ink: bool


@dataclass(frozen=True, slots=True)
class SherdEdge:
    """One sherd to be joined.

    outline_mm: (N, 2) closed polygon, N >= 3, x right and y down as in the photograph, any origin. fields: what its face
    shows, or None when only the outline is known. is_scaled: False when the outline's scale is nominal; such a sherd
    takes part in no proposal, since lengths cannot be compared.
    """

    outline_mm: NDArray[np.floating]
    fields: SherdFields | None = None
    is_scaled: bool = True


@dataclass(frozen=True, slots=True)
class Crossing:
    """What was seen on both sides of a break.

    ground_de: difference of the bare ground along the break (CIE76), None where unknown. colour_llr: natural-log likelihood
    ratio that the courses of colour along either side are one, 0 where nothing is known. strokes: painted stretches that reach
    the break on either side; strokes_met: how many of them have a partner across.
    """

    ground_de: float | None
    colour_llr: float
    strokes: int
    strokes_met: int


@dataclass(frozen=True, slots=True)
class Join:
    """Two sherds laid edge to edge.

    a, b: positions in the sequence given, a < b. fit: 0..1, calibrated probability that they touched. length_mm: of the
    contact. transform: (3, 3) float64, carries b's outline_mm into a's frame (mm). residual_mm: root mean square of the
    gap about its own smooth course. gap_mm: median gap, > 0 apart. stretch_a, stretch_b: contact as (start, end) in mm along
    the outline from its first vertex on, in the outline's own direction; end may pass the perimeter. edge_llr: natural-log
    likelihood ratio of the edges alone (form and crossing paint, no colour of the paste). crossing: what crosses the break. why:
    the reasons in words.
    """

    a: int
    b: int
    fit: float
    length_mm: float
    transform: NDArray[np.float64]
    residual_mm: float
    gap_mm: float
    stretch_a: tuple[float, float]
    stretch_b: tuple[float, float]
    edge_llr: float
    crossing: Crossing
    why: tuple[str, ...] = ()


def fields_on_outline(
    outline_mm: NDArray[np.floating],
    crop_mask: NDArray[np.bool_],
    crop_px_per_mm: float,
    *,
    ink: NDArray[np.float32] | None,
    lab: NDArray[np.float32],
    face: NDArray[np.bool_],
) -> SherdFields:
    """Lay what was read off a crop onto the outline; the middles of area of outline and mask are made to meet.

    Parameters
    ----------
    outline_mm : (N, 2) polygon, turned as the crop is.
    crop_mask : (H, W) bool, the sherd in the crop, at crop_px_per_mm.
    ink, lab, face : (h, w[, 3]) on the crop's area at any coarser resolution; ink None where no decoration could be told.
    """
    rows, columns = np.nonzero(crop_mask)
    per_pixel = crop_mask.shape[1] / face.shape[1]
    middle_x, middle_y = middle_mm(np.asarray(outline_mm, np.float64))
    first = 0.5 * per_pixel - 0.5
    corner = (
        middle_x + (first - float(columns.mean())) / crop_px_per_mm,
        middle_y + (first - float(rows.mean())) / crop_px_per_mm,
    )
    shown = np.zeros(face.shape, np.float32) if ink is None else ink
    return SherdFields(shown, lab, face, crop_px_per_mm / per_pixel, corner, ink is not None)


def middle_mm(polygon: NDArray[np.float64]) -> tuple[float, float]:
    """Centre of area."""
    ahead = np.roll(polygon, -1, axis=0)
    cross = polygon[:, 0] * ahead[:, 1] - ahead[:, 0] * polygon[:, 1]
    x, y = ((polygon + ahead) * cross[:, None]).sum(axis=0) / (3 * cross.sum())
    return float(x), float(y)
