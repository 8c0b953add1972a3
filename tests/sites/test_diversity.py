import math
from fractions import Fraction

import numpy as np
import pytest

from motifs.errors import InputError
from motifs.sites import (
    count_table,
    diversity_frame,
    measure_diversity,
    normal_half_width,
    rarefaction_frame,
    rarefied_richness,
    share_interval,
)
from tests.truth import sites_mississippi as truth
from tests.truth import sites_worked as worked


@pytest.mark.parametrize(("site", "expected"), truth.DIVERSITY.items())
def test_published_table(site, expected):
    found = measure_diversity(truth.COUNTS[site])
    values = (found.shannon, found.evenness, found.simpson, found.simpson_unbiased)
    assert values == pytest.approx(expected, abs=5e-7)
    assert found.log_base == "e"


def test_worked_example_in_two_bases():
    nats, bits = (measure_diversity([10, 20, 30, 40], log_base=base) for base in ("e", "2"))
    expected = worked.DIVERSITY_10_20_30_40
    assert nats.shannon == pytest.approx(expected["shannon"], abs=5e-7)
    assert bits.shannon == pytest.approx(expected["shannon_bits"], abs=5e-7)
    assert nats.evenness == bits.evenness == pytest.approx(expected["evenness"], abs=5e-7)
    assert nats.simpson == pytest.approx(expected["simpson"], abs=5e-7)
    assert nats.simpson_unbiased == pytest.approx(expected["simpson_unbiased"], abs=5e-7)
    assert bits.log_base == "2"


@pytest.mark.parametrize("k", [2, 7, 50])
def test_uniform_is_log_k(k):
    assert measure_diversity([3] * k).shannon == pytest.approx(math.log(k))


def test_one_motif_one_piece():
    found = measure_diversity([0, 1, 0])
    assert (found.richness, found.shannon, found.evenness, found.simpson) == (1, 0.0, None, 0.0)
    assert found.simpson_unbiased is None
    assert "fewer than 30" in found.warnings[0]


def test_rarefaction_teaching_example():
    assert rarefied_richness(worked.MOTH_A, [13])[0] == pytest.approx(worked.MOTH_A_AT_13, abs=5e-7)
    assert rarefied_richness(worked.MOTH_B, [13])[0] == pytest.approx(worked.MOTH_B_AT_13, abs=1e-9)


@pytest.mark.parametrize(("site", "expected"), truth.RAREFACTION.items())
def test_rarefaction_published_table(site, expected):
    found = rarefied_richness(truth.COUNTS[site], truth.RAREFACTION_SIZES)
    assert found == pytest.approx(expected, abs=5e-5)


def test_rarefaction_is_exact_for_large_numbers():
    counts, size = [700_000, 299_000, 990, 9, 1], 5_000
    total = sum(counts)
    exact = Fraction(0)
    for n in counts:
        missed = Fraction(math.comb(total - n, size), math.comb(total, size)) if total - n >= size else Fraction(0)
        exact += 1 - missed
    assert rarefied_richness(counts, [size])[0] == pytest.approx(float(exact), abs=1e-7)


def test_rarefaction_ends():
    assert rarefied_richness([3, 2, 0, 1], [0, 1, 6]) == pytest.approx([0.0, 1.0, 3.0])


def test_rarefaction_frame_uses_the_smallest_site(mississippi):
    frame = rarefaction_frame(mississippi)
    assert set(frame["size"]) == {79}
    assert frame.loc["13-N-5", "expected"] == pytest.approx(3.0)
    assert frame.loc["13-P-10", "expected"] == pytest.approx(7.8520, abs=5e-5)
    assert rarefaction_frame(mississippi, 91)["expected"].isna().sum() == 1


def test_intervals():
    painted = truth.PAINTED_AT_13_P_10
    for method in ("wilson", "clopper-pearson"):
        found = share_interval(painted["count"], painted["total"], method=method)
        assert (100 * found.low, 100 * found.high) == pytest.approx(painted[method], abs=0.005)
        assert found.method == method


@pytest.mark.parametrize(("total", "percent"), worked.HALF_WIDTH_PERCENT)
def test_planning_half_width(total, percent):
    assert 100 * normal_half_width(0.5, total) == pytest.approx(percent, abs=0.05)


def test_interval_ends_stay_in_range():
    none, every = share_interval(0, 10), share_interval(10, 10)
    assert none.low == 0.0 < none.high < 1.0
    assert every.high == 1.0 > every.low > 0.0


def test_diversity_frame_names_unit_and_base(mississippi):
    frame = diversity_frame(mississippi, log_base="10")
    assert set(frame["unit"]) == {"sherds"}
    assert set(frame["log_base"]) == {"10"}
    assert frame.loc["11-N-9", "shannon"] == pytest.approx(truth.DIVERSITY["11-N-9"][0] / math.log(10), abs=1e-6)


def test_empty_site_is_left_out_of_the_frame():
    table = count_table([[1, 2], [0, 0]], ["a", "b"], ["m", "n"], "sherds")
    assert list(diversity_frame(table).index) == ["a"]


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: measure_diversity([]), "nothing was counted"),
        (lambda: measure_diversity([0, 0]), "nothing was counted"),
        (lambda: measure_diversity([1, 2], log_base="7"), "log base '7'"),
        (lambda: rarefied_richness([1, 2], [4]), "from 0 to the 3 pieces"),
        (lambda: rarefied_richness([1, 2], [-1]), "from 0 to the 3 pieces"),
        (lambda: rarefied_richness([1, 2], [1.5]), "whole number"),
        (lambda: rarefied_richness([1, 2], [np.nan]), "whole number"),
        (lambda: rarefied_richness([1.5, 2], [1]), "1.5 is not a whole number"),
        (lambda: share_interval(3, 2), "more than the total"),
        (lambda: share_interval(0, 0), "total"),
        (lambda: share_interval(1, 2, method="wald"), "method 'wald'"),
        (lambda: share_interval(1, 2, confidence=1.0), "confidence"),
        (lambda: share_interval(1.5, 2), "count"),
    ],
)
def test_hostile(call, words):
    with pytest.raises(InputError, match=words):
        call()
