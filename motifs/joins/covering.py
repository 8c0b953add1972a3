"""Sherds lying in one plane: which would lie on another, and how much of the field is there."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

ALLOWED_SHARE: Final = 0.10
"""Of the smaller sherd that may lie under another, for edges that are worn and curvature that is not accounted for."""
ALLOWED_MM2: Final = 30.0
COARSE_STEP: Final = 4
CRACK_MM: Final = 1.5
"""Cracks up to twice this wide count as filled."""
HOLLOW_RATIO: Final = 0.25


class Ground:
    """Outlines of sherds about their middles, ready to be laid anywhere."""

    def __init__(self, outlines: Sequence[NDArray[np.float64]]) -> None:
        coarse = [outline[:: max(1, len(outline) // 60)] for outline in outlines]
        self._outlines = coarse
        self._areas = np.array([shapely.area(_polygon(one)) for one in coarse])

    def covered(
        self,
        poses: NDArray[np.float64],
        mine: NDArray[np.intp],
        moved: NDArray[np.float64],
        theirs: NDArray[np.intp],
    ) -> tuple[int, int] | None:
        """Find the first pair of sherds, one of each group, of which one would lie too far on the other; None for none.

        Parameters
        ----------
        poses, moved : (n, 3) x_mm, y_mm, turn in radians, of the first group and of the second.
        mine, theirs : places of the members.
        """
        first = [_polygon(placed(self._outlines[k], poses[k])) for k in mine]
        second = [_polygon(placed(self._outlines[k], moved[k])) for k in theirs]
        tree = shapely.STRtree(first)
        ours, at = tree.query(second, predicate="intersects")
        if not len(ours):
            return None
        over = shapely.area(shapely.intersection(np.array(second, object)[ours], np.array(first, object)[at]))
        smaller = np.minimum(self._areas[theirs[ours]], self._areas[mine[at]])
        bad = np.flatnonzero(over > np.maximum(ALLOWED_SHARE * smaller, ALLOWED_MM2))
        if not len(bad):
            return None
        worst = bad[int(np.argmax(over[bad] / smaller[bad]))]
        return int(mine[at[worst]]), int(theirs[ours[worst]])


def placed(outline: NDArray[np.float64], pose: NDArray[np.float64]) -> NDArray[np.float64]:
    """Outline (N, 2) about its middle, laid at x_mm, y_mm, turn in radians."""
    c, s = np.cos(pose[2]), np.sin(pose[2])
    return np.asarray(outline @ np.array([[c, s], [-s, c]]) + pose[:2])


def field_and_cover_mm2(outlines: Sequence[NDArray[np.float64]]) -> tuple[float, float]:
    """Area of the field that sherds span, and of what of it they cover, mm2; (0, 0) for none.

    The field is the hollow-following hull of all of them (shapely's concave hull); cracks between joined sherds count as covered.
    """
    if not outlines:
        return (0.0, 0.0)
    every = shapely.union_all([_polygon(outline) for outline in outlines])
    cover = shapely.buffer(shapely.buffer(every, CRACK_MM), -CRACK_MM)
    around = shapely.union(shapely.concave_hull(cover, ratio=HOLLOW_RATIO, allow_holes=False), cover)
    return float(shapely.area(around)), float(shapely.area(cover))


def _polygon(points: NDArray[np.float64]) -> shapely.Geometry:
    shape = shapely.polygons(points)
    return shape if shapely.is_valid(shape) else shapely.buffer(shape, 0.0)
