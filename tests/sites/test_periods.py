import numpy as np
import pytest
from scipy.stats import pearsonr

from motifs.errors import InputError
from motifs.sites import change_through_periods, count_table, share_difference, trend_z
from tests.truth import sites_worked

PERIODS = ("early", "middle", "late")


def turning(counts=((80, 20, 5), (50, 50, 5), (10, 95, 5)), unit="vessels (as sorted)"):
    return count_table(counts, PERIODS, ("wave", "star", "dot"), unit)


def test_difference_of_shares_published_example():
    truth = sites_worked.NEWCOMBE
    change, low, high = share_difference(*truth["two"], *truth["one"])
    assert change == pytest.approx(truth["difference"])
    assert (low, high) == pytest.approx((truth["low"], truth["high"]), abs=5e-5)


def test_difference_turns_round():
    forth, back = share_difference(3, 40, 20, 50), share_difference(20, 50, 3, 40)
    assert forth == pytest.approx((-back[0], -back[2], -back[1]))


def test_trend_is_the_correlation_of_single_pieces():
    """Cochran-Armitage z² = N r² (Armitage 1955), r taken piece by piece with scipy."""
    counts, totals, times = np.array([3, 9, 12, 20]), np.array([30, 40, 35, 38]), np.array([0, 1, 2, 5])
    carries = np.concatenate([np.r_[np.ones(c), np.zeros(n - c)] for c, n in zip(counts, totals, strict=True)])
    r = pearsonr(carries, np.repeat(times, totals)).statistic
    assert trend_z(counts, totals, times) == pytest.approx(np.sqrt(totals.sum()) * r)
    assert trend_z(counts[::-1], totals[::-1], times[::-1]) == pytest.approx(trend_z(counts, totals, times))


def test_change_is_found_and_ordered():
    found = change_through_periods(turning(), permutations=499)
    assert [(step.earlier, step.later) for step in found.steps] == [("early", "middle"), ("middle", "late")]
    assert found.break_after == "middle"
    last = found.steps[1]
    assert last.likeness.p_value == pytest.approx(0.002)
    assert [change.motif for change in last.changes[:2]] == ["star", "wave"]
    assert last.changes[0].is_clear
    assert last.changes[0].change > 0 > last.changes[1].change
    assert not last.changes[2].is_clear
    trends = {trend.motif: trend for trend in found.trends}
    assert trends["wave"].z < -5
    assert trends["star"].z > 5
    assert trends["dot"].adjusted_p_value > 0.5
    assert (trends["wave"].first, trends["wave"].last, trends["wave"].peak) == ("early", "late", "early")


def test_years_stretch_the_trend():
    even = change_through_periods(turning(), permutations=9)
    dated = change_through_periods(turning(), years={"early": -500, "middle": -480, "late": -200}, permutations=9)
    assert even.trends[0].z != dated.trends[0].z
    assert even.steps == dated.steps


def test_empty_periods_are_left_out_and_named():
    found = change_through_periods(turning(((8, 2, 1), (0, 0, 0), (1, 9, 0))), permutations=9)
    assert found.periods == ("early", "late")
    assert any("middle" in note for note in found.warnings)


def test_one_motif_has_no_trend():
    table = count_table([[5], [9]], ["early", "late"], ["wave"], "sherds")
    found = change_through_periods(table, permutations=9)
    assert found.trends == ()
    assert found.steps[0].likeness.similarity == 200.0
    assert any("not independent" in note for note in found.warnings)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: change_through_periods(count_table([[5, 1]], ["a"], ["m", "n"], "s")), "two periods"),
        (lambda: change_through_periods(turning(), years={"early": 1}), "'middle' has no date"),
        (lambda: change_through_periods(turning(), years={"early": 1, "middle": 0, "late": 2}), "do not rise"),
        (lambda: change_through_periods(turning(), confidence=0.0), "confidence"),
        (lambda: change_through_periods(turning(((1.5, 1, 1), (1, 1, 1), (1, 1, 1)))), "whole"),
        (lambda: trend_z([1, 2], [3], [0, 1]), "one count"),
        (lambda: trend_z([5, 2], [3, 4], [0, 1]), "between 0 and its total"),
        (lambda: trend_z([0, 0], [3, 4], [0, 1]), "undefined"),
        (lambda: trend_z([1, 2], [3, 4], [1, 1]), "undefined"),
    ],
)
def test_hostile(call, words):
    with pytest.raises(InputError, match=words):
        call()
