"""Outlines: polygons in px of the photograph, their measures, their union, and how they look on the photograph."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import cv2
import numpy as np
from scipy.spatial.distance import pdist
from shapely import make_valid
from shapely.geometry import Polygon
from shapely.ops import unary_union

from motifs.imaging.plane import outline_in_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray
    from shapely.geometry.base import BaseGeometry

    from motifs.records import PhotoImage, Scale

EDGE_SD_PX: Final = 0.5
"""Standard uncertainty of how far out an outline runs, px of the photograph, all around at once."""

_OUTLINE_RGB: Final = (225, 30, 160)
_LABEL_RGB: Final = (255, 255, 255)


@dataclass(frozen=True, slots=True)
class OutlineMeasures:
    """Size of one outline.

    area_px and max_dimension_px are always known; area_mm2 (mm squared) and max_dimension_mm need a scale, and so do
    their standard uncertainties, which carry on that of the scale and that of the outline itself.
    """

    area_px: float
    max_dimension_px: float
    area_mm2: float | None
    max_dimension_mm: float | None
    area_mm2_sd: float | None = None
    max_dimension_mm_sd: float | None = None


def as_outline(points: ArrayLike) -> NDArray[np.float32]:
    """Check and convert points to an outline, (N, 2) float32 with N >= 3.

    Raises
    ------
    ValueError
        The points are fewer than three, not (N, 2), or not finite.
    """
    outline = np.asarray(points, dtype=np.float32)
    if outline.ndim != 2 or outline.shape[1] != 2 or len(outline) < 3:
        raise ValueError(f"an outline is (N, 2) with N >= 3, not {outline.shape}")
    if not np.isfinite(outline).all():
        raise ValueError("an outline has only finite coordinates")
    return outline


def outline_measures(outline_px: ArrayLike, scale: Scale | None) -> OutlineMeasures:
    """Measure area and largest dimension of an outline.

    The area is that of the shoelace formula; the largest dimension is the diameter of the convex hull. Where the scale
    knows the plane that the sherd lies in, both are taken in that plane.

    Parameters
    ----------
    outline_px
        (N, 2) polygon, N >= 3.
    scale
        Pixels a millimetre, or None.

    Returns
    -------
    OutlineMeasures
    """
    outline = as_outline(outline_px)
    area_px = float(cv2.contourArea(outline))
    longest_px = hull_diameter(outline)
    if scale is None:
        return OutlineMeasures(area_px, longest_px, None, None)
    flat_mm = outline_in_mm(outline, scale)
    area_mm2, longest_mm = polygon_area(flat_mm), hull_diameter(flat_mm)
    # An outline may lie a little too far out or in all around; the scale errs for length and width at once.
    edge_mm = EDGE_SD_PX / scale.px_per_mm
    girth_mm = float(np.hypot(*np.diff(flat_mm, axis=0, append=flat_mm[:1]).T).sum())
    area_sd = float(np.hypot(2.0 * scale.relative_sd * area_mm2, girth_mm * edge_mm))
    longest_sd = float(np.hypot(scale.relative_sd * longest_mm, 2.0 * edge_mm))
    return OutlineMeasures(area_px, longest_px, area_mm2, longest_mm, area_sd, longest_sd)


def polygon_area(points: NDArray[np.floating[Any]]) -> float:
    """Area inside a closed polygon, (N, 2), by the shoelace formula; in the square of its unit."""
    x, y = np.asarray(points - points[0], dtype=np.float64).T
    return 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))


def hull_diameter(points: NDArray[np.floating[Any]]) -> float:
    """Largest distance between two points: every pair of corners of their convex hull is tried."""
    if len(points) < 2 or not np.ptp(points, axis=0).any():  # OpenCV 5 has no hull of one point
        return 0.0
    hull = cv2.convexHull(np.ascontiguousarray(points, dtype=np.float32))[:, 0].astype(np.float64)
    return float(pdist(hull).max()) if len(hull) > 1 else 0.0


def fill_outline(outline: ArrayLike, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """(H, W) bool: the pixels whose centre lies inside the outline, within half a pixel."""
    mask = np.zeros(shape, dtype=np.uint8)
    points = np.rint(np.asarray(outline, dtype=np.float64) * 256).astype(np.int32)
    cv2.fillPoly(mask, [points], 1, cv2.LINE_8, 8)
    return mask.astype(bool)


def merge_outlines(outlines: Sequence[ArrayLike]) -> NDArray[np.float32]:
    """One outline around several: their union, with narrow gaps between separate parts bridged.

    Parameters
    ----------
    outlines
        One or more (N, 2) polygons.

    Returns
    -------
    ndarray
        (N, 2) float32 exterior of the union; parts that do not touch are bridged by closing the gap,
        and if that would need more than their own size, by their convex hull.

    Raises
    ------
    ValueError
        There is nothing to merge, or the outlines enclose no area.
    """
    if not outlines:
        raise ValueError("no outlines to merge")
    union = unary_union([_polygon(outline) for outline in outlines])
    if union.is_empty or union.area <= 0:
        raise ValueError("the outlines enclose no area")
    joined = _bridged(union)
    return np.asarray(joined.exterior.coords[:-1], dtype=np.float32)


def _polygon(outline: ArrayLike) -> BaseGeometry:
    return make_valid(Polygon(as_outline(outline)))


def _bridged(union: BaseGeometry) -> Polygon:
    reach = 1.0
    limit = max(2.0, 0.5 * float(np.sqrt(union.area)))
    joined = union
    while not isinstance(joined, Polygon) and reach < limit:
        joined = union.buffer(reach, join_style="mitre").buffer(-reach, join_style="mitre")
        reach *= 1.5
    if isinstance(joined, Polygon) and not joined.is_empty:
        return joined
    hull = union.convex_hull
    if not isinstance(hull, Polygon):
        raise ValueError("the outlines enclose no area")
    return hull


def draw_outlines(
    photo: PhotoImage, outlines: Sequence[ArrayLike], labels: Sequence[str] | None = None
) -> NDArray[np.uint8]:
    """Draw outlines and their labels on a copy of the photograph.

    Parameters
    ----------
    photo
        The photograph.
    outlines
        (N, 2) polygons in its px.
    labels
        One text for each outline, or None.

    Returns
    -------
    ndarray
        (H, W, 3) uint8 sRGB.
    """
    canvas = np.array(photo.rgb, dtype=np.uint8, order="C")
    width = max(1, round(max(canvas.shape[:2]) / 700))
    polygons = [as_outline(outline) for outline in outlines]
    for polygon in polygons:
        points = np.rint(polygon * 16).astype(np.int32)
        cv2.polylines(canvas, [points], True, _OUTLINE_RGB, width, cv2.LINE_AA, 4)
    for polygon, label in zip(polygons, labels or [], strict=bool(labels)):
        _draw_label(canvas, polygon, label, width)
    return canvas


def _draw_label(canvas: NDArray[np.uint8], polygon: NDArray[np.float32], label: str, width: int) -> None:
    size = max(0.4, max(canvas.shape[:2]) / 2200)
    middle = polygon.mean(axis=0)
    (text_width, text_height), _ = cv2.getTextSize(label, cv2.FONT_HERSHEY_SIMPLEX, size, width)
    at = (round(float(middle[0]) - text_width / 2), round(float(middle[1]) + text_height / 2))
    cv2.putText(canvas, label, at, cv2.FONT_HERSHEY_SIMPLEX, size, (0, 0, 0), width + 3, cv2.LINE_AA)
    cv2.putText(canvas, label, at, cv2.FONT_HERSHEY_SIMPLEX, size, _LABEL_RGB, width, cv2.LINE_AA)
