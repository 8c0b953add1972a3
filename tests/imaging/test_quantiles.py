"""Quantiles without numpy's checks are numpy's quantiles."""

import statistics

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from motifs.imaging.quantiles import median, percentiles

NUMBERS = arrays(np.float64, st.integers(1, 40), elements=st.floats(-1e6, 1e6))


@given(NUMBERS, st.lists(st.integers(0, 100), min_size=1, max_size=4))
def test_percentiles_are_those_of_numpy(values, percents):
    assert percentiles(values, percents) == pytest.approx(np.percentile(values, percents), rel=1e-9, abs=1e-6)


@given(NUMBERS)
def test_the_median_is_that_of_the_standard_library(values):
    assert median(values) == pytest.approx(statistics.median(values.tolist()), abs=1e-6)


def test_columns_are_taken_each_for_itself():
    # The nine numbers 1..9 and their tenfold: the quartiles by method 7 of Hyndman & Fan are 3, 5 and 7.
    values = np.stack([np.arange(9.0, 0.0, -1.0), 10.0 * np.arange(1.0, 10.0)], axis=1)
    assert percentiles(values, (25, 50, 75)).tolist() == [[3.0, 30.0], [5.0, 50.0], [7.0, 70.0]]
    assert percentiles(values[:1], (80,)).tolist() == [[9.0, 10.0]]
