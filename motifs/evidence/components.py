"""Raw components of the cues: readings turned into numbers whose differences mean something.

Colours become log-ratio colour (a change of light adds a constant), widths their logarithm (hands differ in per cent).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motifs.evidence.colour import lab_to_log_ratio

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from motifs.records import CueReading

CUE_ORDER = ("paste", "texture", "vessel_vector", "paint", "line", "gap")
"""Cues in the order in which what an earlier one explains is taken out of a later one."""

COLOURS = frozenset({"paste", "paint"})
WIDTHS = frozenset({"line", "gap"})


def raw_components(
    cue: str, readings: Sequence[Mapping[str, CueReading]], length: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """Values (n, length), standard uncertainties (n, length) and presence (n,) of one cue.

    A reading of another length (a vector of another encoder, say) counts as unknown.
    """
    count = len(readings)
    values, sd, present = np.zeros((count, length)), np.zeros((count, length)), np.zeros(count, bool)
    for row, sherd in enumerate(readings):
        reading = sherd.get(cue)
        if reading is None or len(reading.value) != length:
            continue
        values[row], sd[row] = _transform(cue, np.asarray(reading.value), np.asarray(reading.sd))
        present[row] = bool(np.isfinite(values[row]).all())
    values[~present] = 0.0
    return values, sd, present


def _transform(
    cue: str, value: NDArray[np.float64], sd: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    if cue in COLOURS:
        centre = lab_to_log_ratio(value)
        steps = np.stack([lab_to_log_ratio(value + row) - centre for row in np.diag(sd)])
        return centre, np.sqrt((steps**2).sum(axis=0))
    if cue in WIDTHS:
        return 100 * np.log(np.maximum(value, 0.05)), 100 * sd / np.maximum(value, 0.05)
    return value, sd
