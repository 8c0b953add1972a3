"""Places a sherd snaps to: where a proposed join would lay it beside a sherd that lies already."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from motifs.joins.pieces import middle_mm
from motifs.workflows.joins import latest_joins, outlines_mm

if TYPE_CHECKING:
    from motifs.catalogue import Catalogue
    from motifs.workflows.layout import VesselLayout

LEAST_FIT = 0.1


@dataclass(frozen=True, slots=True)
class SnapPlace:
    """Where a sherd would lie if its join with another held."""

    sherd: str
    beside: str
    fit: float
    x_mm: float
    y_mm: float
    turn_deg: float


def snap_places(cat: Catalogue, laid: VesselLayout) -> tuple[SnapPlace, ...]:
    """Both sherds of every kept proposal of the vessel that was not refused, likeliest first."""
    there = {one.sherd: one for one in laid.sherds}
    refused = {frozenset((word.a, word.b)) for word in cat.join_words(laid.lot) if word.answer == "refused"}
    outlines = outlines_mm(cat, [cat.sherd(number) for number in there])
    middles = {number: np.array(middle_mm(np.asarray(outline, np.float64))) for number, outline in outlines.items()}
    out = []
    for join in latest_joins(cat, laid.lot):
        if join.fit < LEAST_FIT or not {join.a, join.b} <= there.keys() or frozenset((join.a, join.b)) in refused:
            continue
        matrix = np.array(join.transform)
        for fixed, moving, carries in ((join.a, join.b, matrix), (join.b, join.a, np.linalg.inv(matrix))):
            base = there[fixed]
            turn = np.degrees(np.arctan2(carries[1, 0], carries[0, 0]))
            offset = carries[:2, :2] @ middles[moving] + carries[:2, 2] - middles[fixed]
            c, s = np.cos(np.radians(base.turn_deg)), np.sin(np.radians(base.turn_deg))
            x, y = np.array([[c, -s], [s, c]]) @ offset + [base.x_mm, base.y_mm]
            place = (round(float(x), 2), round(float(y), 2), round(float(base.turn_deg + turn), 2))
            out.append(SnapPlace(moving, fixed, join.fit, *place))
    return tuple(out)
