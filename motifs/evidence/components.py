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

CUE_ORDER = ("tone", "paste", "texture", "vessel_vector", "paint", "line", "gap", "wall", "rim")
"""Cues in the order in which what an earlier one explains is taken out of a later one.

The reading `paste` gives two: `tone`, how light it is, which fire clouds, soot and shading change, and `paste`, its hue,
cleared of what a change of tone does to it. `wall` (thickness) and `rim` (diameter) are not measured on photographs: they are
there where a person entered them.
"""

READING_OF = {"tone": "paste"}
TONE, HUE = slice(0, 1), slice(1, 3)
WIDTHS = frozenset({"line", "gap", "wall", "rim"})


def raw_components(
    cue: str, readings: Sequence[Mapping[str, CueReading]], length: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """Values (n, length), standard uncertainties (n, length) and presence (n,) of one cue.

    A reading of another length (a vector of another encoder, say) counts as unknown.
    """
    count = len(readings)
    values, sd, present = np.zeros((count, length)), np.zeros((count, length)), np.zeros(count, bool)
    for row, sherd in enumerate(readings):
        reading = sherd.get(READING_OF.get(cue, cue))
        if reading is None:
            continue
        value, spread = _transform(cue, np.asarray(reading.value), np.asarray(reading.sd))
        if len(value) != length:
            continue
        values[row], sd[row] = value, spread
        present[row] = bool(np.isfinite(values[row]).all())
    values[~present] = 0.0
    return values, sd, present


def component_count(cue: str, readings: Sequence[Mapping[str, CueReading]]) -> int:
    """How many components a cue has in these readings; 0 when nobody shows it."""
    lengths = [len(sherd[READING_OF.get(cue, cue)].value) for sherd in readings if READING_OF.get(cue, cue) in sherd]
    return {"tone": 1, "paste": 2}.get(cue, max(lengths)) if lengths else 0


def _transform(
    cue: str, value: NDArray[np.float64], sd: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    if cue in ("tone", "paste", "paint"):
        part = {"tone": TONE, "paste": HUE}.get(cue, slice(0, 3))
        centre = lab_to_log_ratio(value)
        steps = np.stack([lab_to_log_ratio(value + row) - centre for row in np.diag(sd)])
        return centre[part], np.sqrt((steps**2).sum(axis=0))[part]
    if cue in WIDTHS:
        return 100 * np.log(np.maximum(value, 0.05)), 100 * sd / np.maximum(value, 0.05)
    return value, sd
