"""What counts as counts: the one gate through which numbers enter this package."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from motifs.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SMALL_SAMPLE = 30
"""Below this many counted pieces a site is warned about (common practice, no single source)."""

LARGEST_COUNT = 1e12
"""No cell of a table of sherds is larger; a number beyond it is a slip."""

LARGEST_POOL = 10**9 - 1
"""Most pieces two sites may hold together in a permutation test (a limit of the random generator)."""


def count_matrix(values: ArrayLike, name: str = "counts") -> FloatArray:
    """Return values as a finite, non-negative matrix.

    Parameters
    ----------
    values
        (S, M) numbers of 0 or more; a row is a site, a column a motif.
    name
        What the message calls the table.

    Returns
    -------
    (S, M) float64, S >= 1 and M >= 1.

    Raises
    ------
    InputError
        Not numbers, not two-dimensional, empty, negative or not finite.
    """
    matrix = _numbers(values, name)
    if matrix.ndim != 2:
        raise InputError(f"{name}: expected a table of rows and columns, got {matrix.ndim} dimension(s).")
    if matrix.size == 0:
        raise InputError(f"{name}: the table is empty; tag some sherds with motifs first.")
    return _counts_only(matrix, name)


def count_vector(values: ArrayLike, name: str = "counts") -> FloatArray:
    """Return values as a finite, non-negative vector with at least one count above zero.

    Parameters
    ----------
    values
        (M,) numbers of 0 or more.
    name
        What the message calls the list.

    Raises
    ------
    InputError
        Not numbers, not a list, empty, negative, not finite or all zero.
    """
    vector = _numbers(values, name)
    if vector.ndim != 1:
        raise InputError(f"{name}: expected one list of counts, got {vector.ndim} dimension(s).")
    vector = _counts_only(vector, name)
    if vector.sum() <= 0:
        raise InputError(f"{name}: nothing was counted (all zero); leave this site out or tag its sherds.")
    return vector


def count_pair(a: ArrayLike, b: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return two count vectors over the same motifs.

    Raises
    ------
    InputError
        As for one vector, or of different lengths.
    """
    first, second = count_vector(a, "first site"), count_vector(b, "second site")
    if first.size != second.size:
        raise InputError(f"The two sites list {first.size} and {second.size} motifs; give the same motifs for both.")
    return first, second


def whole_counts(counts: FloatArray, name: str = "counts") -> IntArray:
    """Return counts as integers.

    Raises
    ------
    InputError
        A count is a fraction; resampling and rarefaction need whole pieces.
    """
    rounded = np.rint(counts)
    if not np.array_equal(rounded, counts):
        odd = counts[rounded != counts][0]
        raise InputError(f"{name}: {odd:g} is not a whole number; use sherd or vessel counts here, not EVE or weight.")
    return rounded.astype(np.int64)


def at_least(value: float, least: int, name: str) -> int:
    """Return value when it is a whole number of at least `least`.

    Raises
    ------
    InputError
        It is not.
    """
    is_whole = isinstance(value, (int, np.integer)) or (isinstance(value, float) and value.is_integer())
    if isinstance(value, bool) or not is_whole or value < least:
        raise InputError(f"{name}: {value} is not a whole number of {least} or more.")
    return int(value)


def open_share(value: float, name: str) -> float:
    """Return value when it lies strictly between 0 and 1.

    Raises
    ------
    InputError
        It does not.
    """
    if not (isinstance(value, (int, float, np.number)) and 0.0 < value < 1.0):
        raise InputError(f"{name}: {value} must lie between 0 and 1, both left out (0.05 for 5 %).")
    return float(value)


def named_some(names: Sequence[str], most: int = 5) -> str:
    """Return a short listing of names for a message."""
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"


def _numbers(values: ArrayLike, name: str) -> FloatArray:
    try:
        return np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise InputError(f"{name}: holds something that is not a number; give counts only.") from None


def _counts_only(array: FloatArray, name: str) -> FloatArray:
    wrong = array[~(np.isfinite(array) & (array >= 0))]
    if wrong.size:
        raise InputError(f"{name}: {wrong[0]:g} is not a count; give numbers of 0 or more.")
    if array.size and array.max() > LARGEST_COUNT:
        raise InputError(f"{name}: {array.max():g} is too large to be a count; check that cell.")
    return array
