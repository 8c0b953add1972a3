"""Settle, over a whole lot, which of a sherd's two colours is its ground and which its ink.

On one sherd alone that is a guess (wide strokes, narrow gaps). Over a lot it is not: undecorated sherds show the bare ground, and
the sherds of one pot have the same ground and the same ink. A sherd whose two colours, exchanged, agree with many
others far better than as read, is exchanged.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motifs.evidence.colour import lab_to_log_ratio

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from motifs.records import CueReading

REACH = np.array([12.0, 5.0, 6.0])
"""Log-ratio units within which two readings of one pot's colour usually agree (common light error, fire clouds, wear)."""
NEIGHBOURS = 6
MARGIN = 2.0
ROUNDS = 4


def settle_polarity(readings: Sequence[Mapping[str, CueReading]]) -> list[dict[str, CueReading]]:
    """The same readings with paste and paint (and line and gap) exchanged where the lot says so."""
    result = [dict(sherd) for sherd in readings]
    two = [row for row, sherd in enumerate(result) if "paste" in sherd and "paint" in sherd]
    if len(two) < 3:
        return result
    for _ in range(ROUNDS):
        ground = _colours(result, "paste")
        ink = _colours(result, "paint")
        swapped = [row for row in two if _agrees_better_exchanged(row, ground, ink)]
        if not swapped:
            break
        # the most of a lot is read rightly: never exchange more than half of what votes
        for row in swapped[: len(two) // 2]:
            result[row] = _exchanged(result[row])
    return result


def _colours(readings: Sequence[Mapping[str, CueReading]], cue: str) -> NDArray[np.float64]:
    rows = [
        lab_to_log_ratio(np.asarray(sherd[cue].value)) if cue in sherd else np.full(3, np.nan) for sherd in readings
    ]
    return np.asarray(rows)


def _agrees_better_exchanged(row: int, ground: NDArray[np.float64], ink: NDArray[np.float64]) -> bool:
    others = np.arange(len(ground)) != row
    as_read = _misfit(ground[row], ink[row], ground[others], ink[others])
    exchanged = _misfit(ink[row], ground[row], ground[others], ink[others])
    return bool(exchanged + MARGIN < as_read)


def _misfit(
    own_ground: NDArray[np.float64], own_ink: NDArray[np.float64], ground: NDArray[np.float64], ink: NDArray[np.float64]
) -> float:
    """Mean distance to the nearest other sherds; a bare sherd votes on the ground alone."""
    far = np.minimum(np.abs((ground - own_ground) / REACH), 4.0).mean(axis=1)
    far_ink = np.minimum(np.abs((ink - own_ink) / REACH), 4.0).mean(axis=1)
    total = np.where(np.isnan(far_ink), 2 * far, far + far_ink)
    total = np.sort(total[np.isfinite(total)])
    return float(total[:NEIGHBOURS].mean()) if total.size else 0.0


def _exchanged(sherd: Mapping[str, CueReading]) -> dict[str, CueReading]:
    names = {"paste": "paint", "paint": "paste", "line": "gap", "gap": "line"}
    return {names.get(cue, cue): reading for cue, reading in sherd.items() if cue != "texture"}
