"""From how badly a move fits to the probability that the design has it.

A logistic curve of the excess, of the worst part and of the coherence of the repeats, fitted on drawn designs of known group
(`python -m motifs.design.benchmark --fit`), seeds below 1000.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from motifs.design.folding import MoveFit

WEIGHTS = (-11.94, -7.81, -4.34, 7.78)
"""Constant, weight of the excess, of the worst part, of the incoherence."""

SUREST = 0.999
"""No single move is ever surer than this, so that the others keep a say."""


def features(fit: MoveFit, coherence: float) -> tuple[float, float, float]:
    """Return what the curve looks at: logarithms of excess and worst part, and what of the repeats does not repeat."""
    return (
        float(np.log10(max(fit.excess, 0.0) + 0.01)),
        float(np.log10(max(fit.worst, 0.0) + 0.05)),
        min(1.0 - coherence, 0.5),
    )


def probability(fit: MoveFit, coherence: float) -> float:
    """Return the probability that a design has a move that fits so, 1 - SUREST to SUREST."""
    total = WEIGHTS[0] + float(np.dot(WEIGHTS[1:], features(fit, coherence)))
    return float(np.clip(1 / (1 + np.exp(-total)), 1 - SUREST, SUREST))
