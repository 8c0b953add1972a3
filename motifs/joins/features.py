"""The numbers by which a meeting of two edges is judged, in one table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from motifs.joins.contact import ContactMeasures
    from motifs.joins.crossing import CrossingMeasures

EDGE_FEATURES: Final = (
    "shared_fine",
    "shared_middle",
    "shared_coarse",
    "length",
    "log_length",
    "log_stray",
    "log_stray_squared",
    "length_by_log_stray",
    "log_relief_fine",
    "log_relief_middle",
    "gap_off",
    "broken",
    "overlap",
    "seed",
    "colour_course",
    "strokes_unmet",
    "strokes_met",
)
"""Form of the edges and what is painted across them: evidence that owes nothing to the colour of the paste."""

COLOUR_FEATURES: Final = ("ground_de", "log_ground_de", "ground_unknown")
ALL_FEATURES: Final = EDGE_FEATURES + COLOUR_FEATURES
UNKNOWN_DE: Final = 4.0


def feature_table(
    contact: ContactMeasures,
    crossing: CrossingMeasures,
    overlap_mm2: NDArray[np.float64],
    seed_llr: NDArray[np.float64],
) -> NDArray[np.float64]:
    """(m, len(ALL_FEATURES)) float64, columns as ALL_FEATURES."""
    length, stray = contact.length_mm, np.log(contact.stray_mm + 0.03)
    unknown = np.isnan(crossing.ground_de)
    ground = np.where(unknown, UNKNOWN_DE, crossing.ground_de)
    columns = (
        np.clip(contact.shared[:, 0], -5, 40),
        np.clip(contact.shared[:, 1], -5, 40),
        np.clip(contact.shared[:, 2], -5, 20),
        length / 10,
        np.log(length + 1),
        stray,
        stray**2,
        stray * length / 10,
        np.log(contact.relief[:, 0] + 0.02),
        np.log(contact.relief[:, 1] + 0.02),
        np.abs(contact.gap_mm - 0.2),
        1 - contact.whole,
        np.log1p(overlap_mm2),
        np.minimum(seed_llr, 20),
        np.clip(crossing.colour_llr, -10, 20),
        np.minimum(crossing.strokes - crossing.strokes_met, 6),
        np.minimum(crossing.strokes_met, 8),
        np.minimum(ground, 15),
        np.log1p(ground),
        unknown,
    )
    return np.stack([np.asarray(column, np.float64) for column in columns], axis=1)
