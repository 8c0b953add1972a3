"""Agreement against worked examples of the literature and other implementations."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.metrics import cohen_kappa_score

from motifs.design.agreement import agreement_of, alpha_of, confusions_of, kappa_of


def coded(table):
    """Two codings that make a contingency table."""
    pairs = [(a, b) for a, row in enumerate(table) for b, times in enumerate(row) for _ in range(times)]
    return [str(a) for a, _ in pairs], [str(b) for _, b in pairs]


@pytest.mark.parametrize(
    ("table", "kappa"),
    [
        ([[20, 5], [10, 15]], 0.4),
        ([[45, 15], [25, 15]], 0.130435),
        ([[25, 35], [5, 35]], 0.259259),
        # Cohen 1960, the 3 x 3 example (table from memory).
        ([[88, 14, 18], [10, 40, 10], [2, 6, 12]], 0.491525),
    ],
)
def test_kappa_of_worked_tables(table, kappa):
    """(po - pe) / (1 - pe), Cohen 1960, by hand from the margins; and the printed values."""
    first, second = coded(table)
    share = np.array(table) / np.sum(table)
    observed, expected = np.trace(share), share.sum(axis=1) @ share.sum(axis=0)
    found = agreement_of(dict(enumerate(first)), dict(enumerate(second)))
    assert found.kappa == pytest.approx(kappa, abs=5e-7)
    assert found.kappa == pytest.approx((observed - expected) / (1 - expected))
    assert (found.observed, found.expected) == (pytest.approx(observed), pytest.approx(expected))


def test_kappa_is_that_of_scikit_learn():
    a, b = [2, 0, 2, 2, 0, 1], [0, 0, 2, 2, 0, 2]
    assert kappa_of([*map(str, a)], [*map(str, b)]) == pytest.approx(cohen_kappa_score(a, b))
    assert kappa_of([*map(str, a)], [*map(str, b)]) == pytest.approx(0.428571, abs=5e-7)


def row(text):
    return [None if one == "." else float(one) for one in text.split()]


FOUR = [
    row("1 2 3 3 2 1 4 1 2 . . ."),
    row("1 2 3 3 2 2 4 1 2 5 . 3"),
    row(". 3 3 3 2 3 4 2 2 5 1 ."),
    row("1 2 3 3 2 4 4 1 2 5 1 ."),
]


@pytest.mark.parametrize(
    ("level", "alpha"), [("nominal", 0.743), ("ordinal", 0.815), ("interval", 0.849), ("ratio", 0.797)]
)
def test_alpha_of_four_coders(level, alpha):
    """Krippendorff 2011, Computing Krippendorff's Alpha-Reliability, example C and on (table from memory)."""
    assert alpha_of(FOUR, level) == pytest.approx(alpha, abs=5e-4)


def test_alpha_of_two_coders():
    """Krippendorff 2011: ten binary units, and twelve nominal ones (tables from memory)."""
    assert alpha_of([[*"0100000010"], [*"1110010000"]]) == pytest.approx(0.095238, abs=5e-7)
    assert alpha_of([[*"aabbdcccedda"], [*"babbbccceddd"]]) == pytest.approx(0.692, abs=5e-4)


def test_alpha_by_hand():
    """Coincidence matrix of two coders without gaps: alpha = 1 - (N - 1) Do / De, counted here."""
    a, b = [*"aabbc"], [*"aabcc"]
    values = a + b
    n = len(values)
    disagree = sum(x != y for x, y in zip(a, b, strict=True)) * 2 / n
    chance = sum(x != y for i, x in enumerate(values) for j, y in enumerate(values) if i != j) / (n * (n - 1))
    assert alpha_of([a, b]) == pytest.approx(1 - disagree / chance)


def test_nothing_one_and_all_the_same():
    none = agreement_of({}, {})
    assert (none.units, none.kappa, none.alpha) == (0, None, None)
    assert agreement_of({"1": "a"}, {"2": "a"}).units == 0
    same = agreement_of({"1": "a", "2": "a"}, {"1": "a", "2": "a"})
    assert (same.observed, same.kappa, same.alpha) == (1.0, None, None)
    full = agreement_of({"1": "a", "2": "b"}, {"1": "a", "2": "b"})
    assert (full.kappa, full.alpha, full.confusions) == (1.0, 1.0, ())
    assert alpha_of([["a", None], [None, "b"]]) is None


def test_confusions_commonest_first():
    found = confusions_of([*"aabbc"], [*"bbbac"])
    assert [(one.first, one.second, one.times) for one in found] == [("a", "b", 2), ("b", "a", 1)]
