"""Mirror images of a lot's own sherds: edges with just the statistics of the lot, which can fit nowhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motifs.joins.pieces import SherdEdge, SherdFields

if TYPE_CHECKING:
    from typing import Any

    from numpy.typing import NDArray


def mirrored(piece: SherdEdge) -> SherdEdge:
    """The sherd as a mirror shows it (x becomes -x), face and all; its path runs the other way from the same first vertex."""
    outline = np.asarray(piece.outline_mm, np.float64) * [-1.0, 1.0]
    fields = piece.fields
    if fields is None:
        return SherdEdge(outline, None, piece.is_scaled)
    last = fields.corner_mm[0] + (fields.face.shape[1] - 1) / fields.px_per_mm
    turned = SherdFields(
        _flipped(fields.ink),
        _flipped(fields.lab),
        _flipped(fields.face),
        fields.px_per_mm,
        (-last, fields.corner_mm[1]),
        fields.has_ink,
    )
    return SherdEdge(outline, turned, piece.is_scaled)


def _flipped(grid: NDArray[Any]) -> NDArray[Any]:
    return np.ascontiguousarray(grid[:, ::-1])
