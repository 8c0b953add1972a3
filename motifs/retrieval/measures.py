"""How good a retrieval is: precision at 1, recall at k, mean average precision.

Each query is one row. Items that share the query's group (its own vessel, or its own site) are left
out, the query itself among them; a query with no relevant item left is not counted.

References
----------
Manning, Raghavan & Schütze 2008, *Introduction to Information Retrieval*, section 8.4. Ties are counted as
scikit-learn's average_precision_score counts them: tied items enter together.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    Similarities = NDArray[np.floating]
    Names = Sequence[object]


def precision_at_1(similarities: Similarities, labels: Names, groups: Names) -> float:
    """Share of queries whose nearest neighbour bears the same label; tied nearest ones count by their share.

    Parameters
    ----------
    similarities: (N, N), larger is closer; row q, column i.
    labels: N, equal for relevant pairs.
    groups: N, equal for pairs to leave out.

    Returns
    -------
    0..1, or NaN when no query can be counted.
    """
    shares = [
        float(relevant[found == found.max()].mean()) for found, relevant in _queries(similarities, labels, groups)
    ]
    return _mean(shares)


def recall_at_k(similarities: Similarities, labels: Names, groups: Names, k: int) -> float:
    """Mean share of a query's relevant items that are among its k nearest (ties in order of position).

    Parameters and result as precision_at_1; k >= 1. ValueError for a smaller k.
    """
    if k < 1:
        raise ValueError(f"k {k} is below 1")
    shares = []
    for found, relevant in _queries(similarities, labels, groups):
        nearest = np.argsort(-found, kind="stable")[:k]
        shares.append(float(relevant[nearest].sum() / relevant.sum()))
    return _mean(shares)


def mean_average_precision(similarities: Similarities, labels: Names, groups: Names) -> float:
    """Mean over queries of average precision; parameters and result as precision_at_1."""
    return _mean([average_precision(found, relevant) for found, relevant in _queries(similarities, labels, groups)])


def average_precision(similarities: Similarities, relevant: NDArray[np.bool_]) -> float:
    """Sum over thresholds of (recall gained) x (precision there).

    Parameters
    ----------
    similarities: (M,), larger is closer.
    relevant: (M,) bool.

    Returns
    -------
    0..1; NaN when nothing is relevant.
    """
    if not relevant.any():
        return float("nan")
    order = np.argsort(-similarities, kind="stable")
    hits = np.cumsum(relevant[order])
    is_last_of_tie = np.append(np.diff(similarities[order]) != 0, True)
    ends = np.flatnonzero(is_last_of_tie)
    gained = np.diff(hits[ends], prepend=0)
    return float((gained * hits[ends] / (ends + 1)).sum() / hits[-1])


def _queries(
    similarities: Similarities, labels: Names, groups: Names
) -> Iterator[tuple[Similarities, NDArray[np.bool_]]]:
    label, group = _numbered(labels), _numbered(groups)
    if similarities.shape != (len(label), len(label)) or len(group) != len(label):
        raise ValueError(f"similarities {similarities.shape}, {len(label)} labels and {len(group)} groups do not fit")
    if not np.isfinite(similarities).all():
        raise ValueError("a similarity is not finite")
    for query in range(len(label)):
        is_kept = group != group[query]
        relevant = label[is_kept] == label[query]
        if relevant.any():
            yield similarities[query, is_kept], relevant


def _numbered(names: Names) -> NDArray[np.int64]:
    """Give equal names equal numbers."""
    numbers: dict[object, int] = {}
    return np.array([numbers.setdefault(name, len(numbers)) for name in names], dtype=np.int64)


def _mean(values: Sequence[float]) -> float:
    return float(np.mean(values)) if values else float("nan")
