"""Two solid sherds cannot lie in one place: how much of them overlaps once they are laid together."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from motifs.joins.paths import STEP_MM

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from motifs.joins.alignment import Contacts
    from motifs.joins.paths import EdgePath

COARSE_MM: Final = 1.0


def overlaps_mm2(paths: Sequence[EdgePath], contacts: Contacts) -> NDArray[np.float64]:
    """(m,) area in mm2 that both sherds of a contact would take up."""
    every = max(round(COARSE_MM / STEP_MM), 1)
    coarse = [path.points[::every] for path in paths]
    own = np.array([_polygon(one) for one in coarse], dtype=object)
    moved = [
        _polygon(rotation * coarse[b] + shift)
        for b, rotation, shift in zip(contacts.b, contacts.rotation, contacts.shift, strict=True)
    ]
    if not moved:
        return np.zeros(0)
    return np.asarray(shapely.area(shapely.intersection(own[contacts.a], np.array(moved, dtype=object))))


def _polygon(points: NDArray[np.complex128]) -> shapely.Geometry:
    shape = shapely.polygons(np.stack([points.real, points.imag], axis=1))
    return shape if shapely.is_valid(shape) else shapely.buffer(shape, 0.0)
