"""How far two analysts, or one analyst twice, agree on a sample: Cohen's kappa, Krippendorff's alpha, what is confused with what.

Cohen 1960 (Educational and Psychological Measurement 20, 37-46) through scikit-learn; Krippendorff 2011 (Computing
Krippendorff's Alpha-Reliability) through the library `krippendorff`.
"""

from __future__ import annotations

import math
import warnings
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import krippendorff
import numpy as np
from sklearn.metrics import cohen_kappa_score

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

Level: TypeAlias = Literal["nominal", "ordinal", "interval", "ratio"]

FIRM, TENTATIVE = 0.8, 0.667
"""Readings of alpha: Krippendorff's own limits, from memory of his book."""


@dataclass(frozen=True, slots=True)
class Confusion:
    """How often one called `first` what the other called `second`; the two are never the same."""

    first: str
    second: str
    times: int


@dataclass(frozen=True, slots=True)
class Agreement:
    """Agreement of two coders. units: sherds both judged. kappa, alpha: None where they are not defined.

    observed: share on which they agree; expected: by chance, from how often each used each term. confusions: commonest first.
    """

    units: int
    observed: float | None
    expected: float | None
    kappa: float | None
    alpha: float | None
    confusions: tuple[Confusion, ...]
    reading: str


def agreement_of(first: Mapping[str, str], second: Mapping[str, str]) -> Agreement:
    """Compare two codings.

    Parameters
    ----------
    first, second : term by sherd; only sherds in both count.
    """
    both = sorted(first.keys() & second.keys())
    a, b = [first[unit] for unit in both], [second[unit] for unit in both]
    if not both:
        return Agreement(0, None, None, None, None, (), "no sherd was judged twice: nothing to compare")
    counts_a, counts_b = Counter(a), Counter(b)
    expected = sum(counts_a[term] * counts_b[term] for term in counts_a) / len(both) ** 2
    observed = float(np.mean([x == y for x, y in zip(a, b, strict=True)]))
    alpha = alpha_of([a, b])
    return Agreement(
        len(both), observed, expected, kappa_of(a, b), alpha, confusions_of(a, b), _reading(alpha, len(both))
    )


def kappa_of(first: Sequence[str], second: Sequence[str]) -> float | None:
    """Cohen's kappa of two codings of the same units; None where chance alone would agree fully, or without units."""
    labels = sorted({*first, *second})
    if len(labels) < 2:
        return None
    value = float(cohen_kappa_score(first, second, labels=labels))
    return None if math.isnan(value) else value


def alpha_of(coders: Sequence[Sequence[str | float | None]], level: Level = "nominal") -> float | None:
    """Krippendorff's alpha.

    Parameters
    ----------
    coders : one sequence a coder, unit by unit; None where a coder gave nothing.
    level : "nominal", "ordinal", "interval" or "ratio"; the last three want numbers.

    Returns
    -------
    float or None
        None where fewer than two different values were given, or no unit was judged twice.
    """
    values = [value for coder in coders for value in coder if value is not None]
    if len(set(values)) < 2:
        return None
    if level == "nominal":
        number = {value: float(k) for k, value in enumerate(sorted(set(values), key=str))}
    else:
        number = {value: float(value) for value in values}
    table = np.array([[math.nan if value is None else number[value] for value in coder] for coder in coders])
    paired = (~np.isnan(table)).sum(axis=0) >= 2
    if len(set(table[:, paired][~np.isnan(table[:, paired])])) < 2:
        return None
    with warnings.catch_warnings():
        # The library divides by nought inside where a value was given only once; its result is right.
        warnings.simplefilter("ignore", RuntimeWarning)
        return float(krippendorff.alpha(reliability_data=table, level_of_measurement=level))


def confusions_of(first: Sequence[str], second: Sequence[str]) -> tuple[Confusion, ...]:
    """Return the pairs of terms that were not the same, commonest first."""
    counts = Counter((a, b) for a, b in zip(first, second, strict=True) if a != b)
    return tuple(Confusion(a, b, times) for (a, b), times in sorted(counts.items(), key=lambda one: (-one[1], one[0])))


def _reading(alpha: float | None, units: int) -> str:
    if alpha is None:
        return "only one term was used: agreement beyond chance cannot be measured"
    few = " (few sherds: the value is uncertain)" if units < 30 else ""
    if alpha >= FIRM:
        return f"firm enough to build on{few}"
    return (
        f"tentative{few}"
        if alpha >= TENTATIVE
        else f"too low to build on: look at what is confused, and at the definitions{few}"
    )
