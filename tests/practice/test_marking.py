"""Marks against hand-worked and published values of the adjusted Rand index, and against scikit-learn."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.metrics import adjusted_rand_score

from motifs.errors import UnknownName
from motifs.practice.marking import adjusted_rand, mark_sorting


def answer(*pots):
    return {"photos": [{"sherds": [{"number": k + 1, "pot": pot} for k, pot in enumerate(one)]} for one in pots]}


def from_table(table):
    pairs = [(i, j) for i, row in enumerate(table) for j, count in enumerate(row) for _ in range(count)]
    return [i for i, _ in pairs], [j for _, j in pairs]


def test_published_tables():
    # Yeung & Ruzzo 2001, Bioinformatics 17:763-774, illustration: .313 (table from memory).
    assert adjusted_rand(*from_table([[1, 1, 0], [1, 2, 1], [0, 0, 4]])) == pytest.approx(0.312573, abs=1e-6)
    # Manning, Raghavan & Schuetze 2008, Introduction to Information Retrieval, ch. 16, 17 items (table from memory).
    assert adjusted_rand(*from_table([[5, 1, 0], [1, 4, 1], [2, 0, 3]])) == pytest.approx(0.242915, abs=1e-6)


@pytest.mark.parametrize(
    ("a", "b", "value"),
    [
        ([0, 0, 1, 1], [1, 1, 0, 0], 1.0),
        ([0, 0, 1, 1], [0, 0, 1, 2], 0.571429),
        ([0, 0, 1, 1], [0, 1, 0, 1], -0.5),
        ([0, 0, 0, 0], [0, 1, 2, 3], 0.0),
        ([], [], 1.0),
        ([3], [5], 1.0),
    ],
)
def test_small_cases_worked_by_hand(a, b, value):
    assert adjusted_rand(a, b) == pytest.approx(value, abs=1e-6)


@given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 4)), min_size=2, max_size=40))
def test_agrees_with_scikit_learn(pairs):
    a, b = np.array(pairs).T
    assert adjusted_rand(a.tolist(), b.tolist()) == pytest.approx(adjusted_rand_score(a, b), abs=1e-9)


def test_a_right_sorting_under_any_names():
    mark = mark_sorting(answer([0, 1, 0], [1, 1]), {(1, 1): 7, (1, 3): 7, (1, 2): 2, (2, 1): 2, (2, 2): 2})
    assert (mark.joined_wrongly, mark.split_wrongly, mark.unassigned, mark.adjusted_rand) == (0, 0, 0, 1.0)


def test_wrong_pairs_and_left_out_sherds_are_counted():
    mark = mark_sorting(answer([0, 0, 0, 1]), {(1, 1): 0, (1, 2): 1, (1, 4): 1})
    # 1 and 2 are of one pot but apart; 2 and 4 are of two pots but together; 3 is left out.
    assert (mark.sherds, mark.unassigned, mark.joined_wrongly, mark.split_wrongly) == (4, 1, 1, 1)
    assert mark.adjusted_rand == pytest.approx(adjusted_rand_score([0, 0, 0, 1], [0, 1, 9, 1]))


def test_nothing_assigned_and_nothing_there():
    assert mark_sorting(answer([0, 1]), {}).unassigned == 2
    assert mark_sorting(answer(), {}).sherds == 0


def test_a_sherd_that_is_not_there_is_refused():
    with pytest.raises(UnknownName, match="sherd 9 on photograph 1"):
        mark_sorting(answer([0, 1]), {(1, 9): 0})
