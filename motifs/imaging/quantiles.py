"""Quantiles of many small samples: the numbers of numpy's linear interpolation, without its checks.

A tray asks for some hundred quantiles of a few hundred numbers each; numpy spends most of its time there on looking at its
arguments.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray


def percentiles(values: NDArray[np.floating[Any]], percents: Sequence[float]) -> NDArray[np.float64]:
    """Percentiles along the first axis.

    Parameters
    ----------
    values
        (n, ...) floating, n >= 1, without NaN.
    percents
        k of them, 0..100.

    Returns
    -------
    ndarray
        (k, ...) float64, by linear interpolation between the closest ranks (method 7 of Hyndman & Fan 1996).
    """
    last = len(values) - 1
    ranks = [percent / 100.0 * last for percent in percents]
    lows = [min(int(rank), last) for rank in ranks]
    highs = [min(low + 1, last) for low in lows]
    columns = np.ascontiguousarray(np.moveaxis(values, 0, -1))
    ordered = np.partition(columns, sorted({*lows, *highs}), axis=-1)
    found = [
        ordered[..., low] + (rank - low) * (ordered[..., high].astype(np.float64) - ordered[..., low])
        for rank, low, high in zip(ranks, lows, highs, strict=True)
    ]
    return np.asarray(found, dtype=np.float64)


def median(values: NDArray[np.floating[Any]]) -> float:
    """Median of (n,) numbers, n >= 1, without NaN."""
    middle = len(values) // 2
    if len(values) % 2:
        return float(np.partition(values, middle)[middle])
    ordered = np.partition(values, (middle - 1, middle))
    return 0.5 * (float(ordered[middle - 1]) + float(ordered[middle]))
