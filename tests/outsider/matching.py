"""Found outlines to true outlines by intersection over union (IoU)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import linear_sum_assignment
from shapely.geometry import MultiPolygon, Polygon
from shapely.validation import make_valid

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

LEAST_IOU = 0.5
Outline = "Sequence[Sequence[float]]"


@dataclass(frozen=True)
class Matched:
    """pairs: (found, true, IoU) of IoU at least LEAST_IOU, one to one; the counts are of outlines offered."""

    pairs: tuple[tuple[int, int, float], ...]
    found: int
    true: int

    @property
    def missed(self) -> int:
        """True outlines that nothing found."""
        return self.true - len(self.pairs)

    @property
    def invented(self) -> int:
        """Found outlines that are no sherd (or a second part of one)."""
        return self.found - len(self.pairs)


def as_polygon(outline: Sequence[Sequence[float]]) -> Polygon | MultiPolygon:
    """Polygon of an outline; fewer than three points give an empty one, crossed ones are mended."""
    if len(outline) < 3:
        return Polygon()
    polygon = Polygon(outline)
    return polygon if polygon.is_valid else make_valid(polygon)


def iou_table(
    found: Sequence[Sequence[Sequence[float]]], true: Sequence[Sequence[Sequence[float]]]
) -> NDArray[np.float64]:
    """IoU of every found outline (rows) with every true one (columns)."""
    rows, columns = [as_polygon(o) for o in found], [as_polygon(o) for o in true]
    table = np.zeros((len(rows), len(columns)))
    for i, a in enumerate(rows):
        for j, b in enumerate(columns):
            common = a.intersection(b).area if a.intersects(b) else 0.0
            table[i, j] = common / (a.area + b.area - common) if common else 0.0
    return table


def match_outlines(found: Sequence[Sequence[Sequence[float]]], true: Sequence[Sequence[Sequence[float]]]) -> Matched:
    """Best one-to-one matching; pairs under LEAST_IOU are no match."""
    table = iou_table(found, true)
    allowed = np.where(table >= LEAST_IOU, table, 0)
    pairs = [
        (int(i), int(j), float(table[i, j]))
        for i, j in zip(*linear_sum_assignment(-allowed), strict=True)
        if allowed[i, j] > 0
    ]
    return Matched(tuple(pairs), len(found), len(true))
